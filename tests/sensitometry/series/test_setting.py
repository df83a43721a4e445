"""The setting for a wanted value on trends made here: intervals, open ends, bounds, and what two settings say."""

import numpy as np
import pytest

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.series.setting import Setting, SettingScale, setting_for
from curves.sensitometry.series.trend import Trend

MINUTES = SettingScale(5.0, 10.0, by_ratio=False)


def trend(estimate: FloatArray, half: float, *, drawn: bool = True) -> Trend:
    """Return a trend on even places with a band of even width."""
    place = np.linspace(0.0, 1.0, estimate.size)
    rows = np.array([estimate, estimate])
    return Trend(place, rows, estimate - half, estimate + half, Quantity(0.1), "assumed", 0.0, drawn, True)


RISING = trend(np.linspace(0.0, 1.0, 11), 0.1)


def test_a_setting_lies_where_the_band_holds_the_value() -> None:
    found = setting_for(RISING, 0.5, MINUTES, 1, ())
    assert found.value == pytest.approx(7.5)
    # The band reaches 0.5 from 0.4 to 0.6 of the way.
    assert found.low == pytest.approx(7.0, abs=0.005)
    assert found.high == pytest.approx(8.0, abs=0.005)
    assert found.why == ""


def test_a_trend_narrower_than_its_places_still_has_its_setting() -> None:
    found = setting_for(trend(np.linspace(0.0, 1.0, 11), 1e-9), 0.33333, MINUTES, 1, ())
    assert found.value == pytest.approx(5.0 + 5.0 * 0.33333)
    assert found.low is not None
    assert found.low <= 5.0 + 5.0 * 0.33333 <= found.low + 0.01


def test_a_falling_trend_has_its_setting_too() -> None:
    found = setting_for(trend(np.linspace(1.0, 0.0, 11), 0.1), 0.2, MINUTES, -1, ())
    assert found.value == pytest.approx(9.0)
    assert found.high == pytest.approx(9.5, abs=0.005)


def test_an_interval_that_runs_off_the_series_is_open_there() -> None:
    found = setting_for(RISING, 0.95, MINUTES, 1, ())
    assert found.value == pytest.approx(9.75)
    assert found.low == pytest.approx(9.25, abs=0.005)
    assert found.high is None
    assert found.why == "the interval runs beyond the series"


def test_an_open_end_is_closed_by_a_strip_that_shows_the_value_passed() -> None:
    assert setting_for(RISING, 0.95, MINUTES, 1, (12.0, 14.0)).high == 12.0
    assert setting_for(RISING, 0.05, MINUTES, 1, (3.0, 4.0)).low == 4.0


def test_a_value_that_no_strip_reaches_gives_a_bound_by_the_usual_direction() -> None:
    beyond = "no setting of the series gives it"
    assert setting_for(RISING, 1.5, MINUTES, 1, ()) == Setting(None, 10.0, None, beyond)
    assert setting_for(RISING, -1.5, MINUTES, 1, ()) == Setting(None, None, 5.0, beyond)
    falling = trend(np.linspace(1.0, 0.0, 11), 0.1)
    assert setting_for(falling, -1.5, MINUTES, -1, ()) == Setting(None, 10.0, None, beyond)
    assert setting_for(falling, 1.5, MINUTES, -1, ()) == Setting(None, None, 5.0, beyond)
    assert setting_for(RISING, 1.5, MINUTES, 1, (12.0,)) == Setting(None, 10.0, 12.0, beyond)
    unknown = setting_for(RISING, 1.5, MINUTES, 0, ())
    assert not unknown.known
    assert "its usual direction is not known" in unknown.why


def test_a_value_just_beyond_the_last_strip_is_a_bound_within_the_series() -> None:
    found = setting_for(RISING, 1.05, MINUTES, 1, ())
    assert (found.value, found.high) == (None, None)
    assert found.low == pytest.approx(9.75, abs=0.005)
    assert found.why == "it lies at the end of the series"


def test_a_flat_trend_tells_no_setting_from_another() -> None:
    found = setting_for(trend(np.full(11, 0.5), 0.1), 0.52, MINUTES, 0, ())
    assert not found.known
    assert found.why == "every setting of the series fits"


def test_a_trend_that_turns_back_passes_a_value_twice() -> None:
    found = setting_for(trend(1.0 - 4.0 * (np.linspace(0.0, 1.0, 41) - 0.5) ** 2, 0.02), 0.75, MINUTES, 0, ())
    assert found.low == pytest.approx(6.2, abs=0.05)
    assert found.high == pytest.approx(8.8, abs=0.05)
    assert "more than once" in found.why


def test_between_two_settings_nothing_tells_where() -> None:
    two = trend(np.array([0.0, 1.0]), 0.1, drawn=False)
    found = setting_for(two, 0.5, MINUTES, 1, ())
    assert (found.value, found.low, found.high) == (None, 5.0, 10.0)
    assert setting_for(two, 0.95, MINUTES, 1, ()) == Setting(None, 5.0, None, "it lies at the end of the series")
    assert setting_for(two, 1.5, MINUTES, 1, ()).low == 10.0
    assert not setting_for(two, 0.5, MINUTES, 0, ()).known


def test_settings_by_ratio_are_even_in_their_logarithm() -> None:
    times = SettingScale(4.0, 16.0, by_ratio=True)
    assert float(times.place(8.0)) == pytest.approx(0.5)
    assert float(times.setting(0.5)) == pytest.approx(8.0)
    assert setting_for(RISING, 0.5, times, 1, ()).value == pytest.approx(8.0)
    assert float(MINUTES.place(7.5)) == pytest.approx(0.5)
