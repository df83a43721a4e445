from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray, Kind
from curves.sensitometry.measures import contrast, points
from curves.sensitometry.measures.contrast import averaged_gradient, straight_line
from curves.sensitometry.measures.table import MEASURES, ChannelCurves, measures_of
from curves.sensitometry.uncertainty.ensemble import Ensemble
from tests.sensitometry.shapes import exact, slide, straight

GRID = np.linspace(-3.2, 0.4, 3601)


def measured(film: Ensemble, kind: Kind = "reversal") -> dict[str, Quantity]:
    subject = ChannelCurves(film, points.dmin(film), points.dmax(film), Choices())
    return {m.key: m.compute(subject) for m in measures_of(kind)}


def value(quantity: Quantity) -> float:
    assert quantity.value is not None, quantity.why
    return quantity.value


def test_toe_straight_line_and_shoulder_make_the_range() -> None:
    found = measured(exact(GRID, slide(GRID)))
    parts = [value(found[key]) for key in ("toe_stops", "straight_stops", "shoulder_stops")]
    assert sum(parts) == pytest.approx(value(found["range_stops"]), abs=1e-6)
    assert min(parts) > 0.5


def test_a_negative_has_its_toe_at_the_other_end() -> None:
    there, here = measured(exact(GRID, slide(GRID))), measured(exact(GRID, slide(-2.8 - GRID), "negative"), "negative")
    assert value(here["straight_stops"]) == pytest.approx(value(there["straight_stops"]), abs=0.01)
    assert value(here["shoulder_stops"]) == pytest.approx(value(there["shoulder_stops"]), abs=0.01)
    # A negative's shadows begin at net density 0.10, a slide's highlights end at 0.04: its toe is shorter.
    assert value(here["toe_stops"]) < value(there["toe_stops"])


# Above 1.3 the stop about T would reach below Dmin.
@pytest.mark.parametrize("slope", [0.5, 1.0, 1.3])
def test_on_a_straight_line_every_gradient_is_its_slope(slope: float) -> None:
    found = measured(straight(slope, top=2.9))
    for key in ("gamma", "average_gradient", "gradient_highlights", "gradient_mid_tones", "gradient_shadows"):
        assert value(found[key]) == pytest.approx(slope, rel=5e-3)


@pytest.mark.parametrize("slope", [0.4, 0.62, 0.9])
def test_on_a_straight_negative_every_average_gradient_is_its_slope(slope: float) -> None:
    grid = np.linspace(-6.0, 0.0, 6001)
    found = measured(exact(grid, np.clip(0.2 + slope * (grid + 5.5), 0.2, 2.9), "negative"), "negative")
    for key in ("average_gradient", "average_gradient_net", "average_gradient_150", "contrast_index"):
        assert value(found[key]) == pytest.approx(slope, rel=3e-3)


@pytest.mark.parametrize("steepness", [1.2, 2.0, 3.4])
def test_the_contrast_index_line_meets_the_curve_at_both_radii(steepness: float) -> None:
    # The definition: both points lie on one line from an origin on the base-plus-fog line, at radii 0.2 and 2.2.
    grid = np.linspace(-5.4, 2.6, 241)
    density = 0.15 + 1.4 * (1.0 + np.tanh(steepness * (grid + 1.4) / 1.4))
    film = exact(grid, density, "negative")
    base = float(points.dmin(film).rows[0])
    angle = np.arctan(value(contrast.contrast_index(film, points.dmin(film))))
    near, far = (float(np.interp(base + radius * np.sin(angle), density, grid)) for radius in (0.2, 2.2))
    assert far - near == pytest.approx(2.0 * np.cos(angle), abs=1e-8)


def test_the_gradients_of_tones_follow_the_curve() -> None:
    found = measured(exact(GRID, slide(GRID)))
    highlights, middle = value(found["gradient_highlights"]), value(found["gradient_mid_tones"])
    assert highlights < middle

    def slope_about(net: float) -> float:
        at = float(np.interp(-(0.15 + net), -slide(GRID), GRID))
        ends: FloatArray = slide(np.array([at - STOP / 2, at + STOP / 2]))
        return float((ends[0] - ends[1]) / STOP)

    assert highlights == pytest.approx(slope_about(0.20), abs=2e-3)


def test_a_curve_cut_within_its_straight_line_gives_a_bound_on_its_length() -> None:
    inside = GRID > -1.6
    found = measured(exact(GRID[inside], slide(GRID[inside])))["straight_stops"]
    assert found.value is None
    assert found.bound is not None
    assert found.bound[0] == ">"
    whole = measured(exact(GRID, slide(GRID)))["straight_stops"]
    assert found.bound[1] < value(whole)


def test_a_tone_at_the_very_end_of_the_strip_has_no_gradient() -> None:
    film = exact(GRID, slide(GRID), fully_exposed=0.15)
    t = float(np.interp(-0.35, -slide(GRID), GRID))
    cut = exact(GRID[t + 0.1 > GRID], slide(GRID[t + 0.1 > GRID]), fully_exposed=0.15)
    assert value(measured(film)["gradient_highlights"]) > 0
    lost = measured(cut)["gradient_highlights"]
    assert lost.value is None
    assert "within half a stop of T" in (lost.why or "")


def test_the_densest_of_a_strip_is_known_where_dmax_is_not() -> None:
    inside = GRID > -1.9
    found = measured(exact(GRID[inside], slide(GRID[inside])))
    assert found["dmax"].value is None
    assert value(found["dmax_reached"]) == pytest.approx(slide(GRID[inside])[0], abs=1e-6)


def test_every_measure_is_of_some_kind_and_has_a_key_of_its_own() -> None:
    assert len({m.key for m in MEASURES}) == len(MEASURES)
    assert set(measures_of("reversal")) | set(measures_of("negative")) == set(MEASURES)
    assert set(measures_of("reversal")) != set(measures_of("negative"))


def test_gamma_takes_a_straight_line_that_was_found_before() -> None:
    film = exact(GRID, slide(GRID))
    assert contrast.gamma(film, straight_line(film)) == contrast.gamma(film)


@pytest.mark.parametrize("shift", [0.0, -2.0, 1.1, 0.3])
@pytest.mark.parametrize("span", [0.60, 0.90, 1.20])
def test_gradients_are_averaged_at_as_many_places_wherever_the_strip_lies(span: float, shift: float) -> None:
    # A strip of 0.90 has 240 cells, and half of 0.60 covers 80 of them exactly: 81 places are left, both ends counted.
    grid = np.linspace(-span, 0.0, 241) + shift
    film = exact(grid, 2.0 - 0.8 * (grid - shift))
    middles, gradients = averaged_gradient(film)
    assert middles.size == round(240 * (span - 0.60) / span) + 1
    assert gradients[0] == pytest.approx(0.8)


def test_slope_over_a_stop_and_toe_reach_as_far_to_the_other_side_of_the_estimate_as_the_draws_do() -> None:
    # From the definition of a reflected interval, on draws that are all steeper than the estimate.
    film = exact(GRID, slide(GRID), fully_exposed=0.15)
    steeper = slide(GRID) + np.linspace(0.0, 0.5, 41)[:, None] * (slide(GRID) - 0.15)
    drawn = replace(
        film,
        density=steeper,
        gradient=np.gradient(steeper, GRID, axis=1),
        patches={"fully_exposed": np.full(41, 0.15)},
        level_error=np.zeros(41),
        log_h_error=np.zeros(41),
        meter_error=np.zeros(41),
        constant_error=np.zeros(41),
        touch_error=np.zeros(41),
        left_to_move=np.zeros((41, 2)),
    )
    found = measured(drawn)
    for name in ("gradient_mid_tones", "toe_stops"):
        quantity = found[name]
        assert quantity.value is not None
        assert quantity.low is not None
        assert quantity.high is not None
        assert quantity.high - quantity.value == pytest.approx(quantity.value - quantity.low)
        assert quantity.high > quantity.value
