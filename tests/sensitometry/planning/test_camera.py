"""Settings of a camera: what is engraved, what it stands for, and which lies nearest."""

from __future__ import annotations

import math

import pytest

from curves.errors import StripError
from curves.sensitometry.planning.camera import SPACINGS, Spacing, dial, effective_seconds, value_of
from curves.sensitometry.strip.reciprocity import Schwarzschild, TableOfTimes

EVERY = ((1.0, 64.0), (1 / 8000.0, 32.0))


def number(engraved: str) -> float:
    top, _, below = engraved.partition("/")
    return float(top) / float(below or 1)


@pytest.mark.parametrize("spacing", SPACINGS)
def test_what_is_engraved_lies_near_what_it_stands_for(spacing: Spacing) -> None:
    # Common practice: engraved numbers are the series of halves, rounded; none is off by a fifth of a stop.
    found = dial(spacing, *EVERY)
    for mark in found.apertures:
        assert abs(2.0 * math.log2(number(mark.engraved) / mark.exact)) < 0.2, mark
    for mark in found.times:
        assert abs(math.log2(number(mark.engraved) / mark.exact)) < 0.2, mark


@pytest.mark.parametrize(("spacing", "clicks"), [("whole", 1), ("half", 2), ("third", 3)])
def test_a_series_goes_from_its_first_to_its_last_mark_in_equal_clicks(spacing: Spacing, clicks: int) -> None:
    found = dial(spacing, *EVERY)
    # Calculated: f/1 to f/64 are 12 stops, 32 s to 1/8192 s are 18.
    assert len(found.apertures) == 12 * clicks + 1
    assert len(found.times) == 18 * clicks + 1
    assert (found.apertures[-1].exact, found.times[-1].exact) == pytest.approx((64.0, 2.0**-13))


def test_a_dial_ends_where_the_camera_ends() -> None:
    found = dial("whole", (2.8, 16.0), (1 / 500.0, 1.0))
    assert [m.engraved for m in found.apertures] == ["2.8", "4", "5.6", "8", "11", "16"]
    assert (found.times[0].engraved, found.times[-1].engraved) == ("1", "1/500")
    assert len(found.times) == 10


def test_the_ends_of_a_range_may_be_given_either_way_round() -> None:
    assert dial("whole", (16.0, 2.8), (1.0, 1 / 500.0)) == dial("whole", (2.8, 16.0), (1 / 500.0, 1.0))


def test_exposure_value_12_is_f_8_at_a_sixtieth() -> None:
    # From memory: the table of exposure values has f/8 at 1/60 s under 12.
    aperture, time = dial("whole", *EVERY).nearest_pair(12.0, 1 / 64.0)
    assert (aperture.engraved, time.engraved) == ("8", "1/60")
    assert value_of(aperture, time) == pytest.approx(12.0)


def test_a_lens_that_cannot_open_further_gives_a_longer_time() -> None:
    aperture, time = dial("whole", (5.6, 16.0), (1 / 500.0, 1.0)).nearest_pair(5.0, 1 / 32.0)
    assert (aperture.engraved, time.engraved) == ("5.6", "1")


def test_thirds_come_nearer_than_whole_stops() -> None:
    miss = {s: abs(value_of(*dial(s, *EVERY).nearest_pair(9.4, 1 / 32.0)) - 9.4) for s in ("whole", "third")}
    assert miss["whole"] == pytest.approx(0.4)
    assert miss["third"] < 0.1


@pytest.mark.parametrize(
    ("apertures", "times", "name"),
    [((90.0, 128.0), (0.01, 1.0), "apertures"), ((2.8, 16.0), (100.0, 200.0), "times")],
)
def test_a_range_that_no_dial_has_is_refused(
    apertures: tuple[float, float], times: tuple[float, float], name: str
) -> None:
    with pytest.raises(StripError) as refused:
        dial("whole", apertures, times)
    assert refused.value.settings == (name,)


def test_a_long_time_is_worth_less_by_the_law() -> None:
    # The modified law with p = 0.85 asks for 125.0 s where 60 s are metered (calculated from 61^(1/0.85) - 1).
    assert effective_seconds(125.0, Schwarzschild(0.85)) == pytest.approx(60.0, abs=0.05)
    sixteen = next(m for m in dial("whole", *EVERY, Schwarzschild(0.8)).times if m.engraved == "16")
    assert sixteen.worth == pytest.approx(17**0.8 - 1)
    assert sixteen.lost_stops == pytest.approx(math.log2(16.0 / (17**0.8 - 1)))


def test_short_times_and_times_off_a_table_are_worth_themselves() -> None:
    assert effective_seconds(0.5, Schwarzschild(0.8)) == 0.5
    assert effective_seconds(32.0, TableOfTimes(((1.0, 1.2), (10.0, 20.0)))) == 32.0
    assert effective_seconds(32.0, None) == 32.0
    assert all(m.lost_stops == 0.0 for m in dial("third", *EVERY).times)
