"""T, S and M of a reversal curve: films of low Dmax, strips that end early, shoulders that are two.

Expected values are calculated from the rule on the closed form of each curve (`tests.bench.index_truth`).
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import dmin
from curves.sensitometry.measures.reversal_points import SAG, ReversalPoints, reversal_points
from curves.sensitometry.measures.speeds import LogHOrigin, iso_2240
from tests.bench.index_truth import truth_of
from tests.sensitometry.analysis.ten_films import Curve, logistic, mixture
from tests.sensitometry.shapes import exact

GRID = np.linspace(-4.0, 2.0, 2401)


def points_of(curve: Curve, grid: FloatArray = GRID, fully_exposed: float | None = None) -> ReversalPoints:
    """Return the points of a curve that is known exactly on a strip, with the patch beside it if it was read."""
    density = curve(grid)
    film = exact(grid, density) if fully_exposed is None else exact(grid, density, fully_exposed=fully_exposed)
    return reversal_points(film, dmin(film))


@pytest.mark.parametrize("high", [1.0, 1.3, 1.62, 1.9, 2.1, 2.3])
def test_on_a_film_of_low_dmax_s_is_the_touch_and_needs_no_step_at_dmin_plus_2(high: float) -> None:
    curve = logistic(0.15, high, -0.6, 2.6)
    found, truth = points_of(curve), truth_of(curve)
    assert found.by_tangent
    assert found.s.quantity.value == pytest.approx(truth.s, abs=0.01)
    assert found.s_density[0] == pytest.approx(float(curve(np.array(truth.s))), abs=0.01)
    assert found.m.quantity.value == pytest.approx(0.5 * (truth.t + truth.s), abs=0.01)


def test_the_shoulder_is_enough_where_the_strip_ends_before_dmin_plus_2() -> None:
    # Dmax 2.3, but the strip begins at 1.95, where the curve has bent by more than its scatter.
    curve = logistic(0.15, 2.3, -0.6, 2.6)
    grid = GRID[curve(GRID) < 1.95]
    found, truth = points_of(curve, grid, fully_exposed=0.15), truth_of(curve)
    assert truth.by_touch
    assert found.s.quantity.value == pytest.approx(truth.s, abs=0.01)


def test_a_strip_that_ends_on_the_straight_part_bounds_s_and_m_and_says_what_to_give() -> None:
    curve = logistic(0.15, 3.2, -0.6, 2.6)
    grid = GRID[curve(GRID) < 1.4]
    found, truth = points_of(curve, grid, fully_exposed=0.15), truth_of(curve)
    for point, true in ((found.s, truth.s), (found.m, 0.5 * (truth.t + truth.s))):
        assert point.quantity.value is None
        assert point.quantity.bound is not None
        assert point.quantity.bound[0] == "<"
        assert true < point.quantity.bound[1]
    assert found.s_most[0] == pytest.approx(grid[0])
    assert "bends to no shoulder before: give 0.9 log H less exposure" in (found.s.quantity.why or "")
    assert found.branch == "S was not reached"


def test_where_t_lies_off_the_strip_s_is_told_only_if_the_touch_cannot_fix_it() -> None:
    # Dmin is known by its patch, T lies beyond the most exposed step.
    steep, low = logistic(0.15, 3.2, -0.6, 2.6), logistic(0.15, 1.9, -0.6, 2.6)
    for curve, told in ((steep, True), (low, False)):
        grid = GRID[curve(GRID) > 0.40]
        found = points_of(curve, grid, fully_exposed=0.15)
        assert found.t.quantity.value is None
        assert (found.s.quantity.value is not None) == told
        if told:
            assert found.s.quantity.value == pytest.approx(truth_of(curve).s, abs=0.01)
        else:
            # From a T that lies further out the line is flatter, and touches later.
            assert found.s.quantity.bound is not None
            assert found.s.quantity.bound[0] == "<"
            assert found.s.quantity.bound[1] > truth_of(curve).s
            assert "the line from T fixes S" in (found.s.quantity.why or "")


def test_s_moves_from_one_branch_to_the_other_without_a_jump() -> None:
    # Dmax from where the touch lies above Dmin + 2.00 to where it lies below, by hundredths.
    places = []
    for high in np.arange(2.0, 3.2, 0.01):
        value = points_of(logistic(0.15, float(high), -0.6, 2.6)).s.quantity.value
        assert value is not None
        places.append(value)
    assert np.abs(np.diff(places)).max() < 0.02
    shares = [float(points_of(logistic(0.15, h, -0.6, 2.6)).touch_share[0]) for h in (2.0, 2.75, 3.2)]
    assert shares[0] == 1.0
    assert 0.0 <= shares[2] <= shares[1] <= 1.0
    assert shares[2] == 0.0


def test_a_straight_line_has_no_shoulder_and_its_s_lies_at_dmin_plus_2() -> None:
    film = exact(GRID, np.clip(0.15 - 1.6 * (GRID - 0.2), 0.15, 3.0))
    found = reversal_points(film, dmin(film))
    assert not found.by_tangent
    assert found.s.quantity.value == pytest.approx(0.2 - 2.0 / 1.6, abs=0.005)
    assert found.touch_share[0] * SAG < SAG


def test_two_shoulders_that_the_line_touches_alike_are_both_told() -> None:
    # Closed form: 0.54 of the range falls fast about log H -1.4, the rest about -0.6; the line from T touches at
    # density 0.91 and, 0.82 log H further, above Dmin + 2.00, with slopes that are the same to a thousandth.
    curve = mixture((0.54, logistic(0.10, 2.50, -1.40, 6.0)), (0.46, logistic(0.10, 2.50, -0.60, 6.0)))
    found = points_of(curve)
    assert found.other_s is not None
    pair = sorted([float(found.other_s[0]), found.s.quantity.value or 0.0])
    plain = float(np.interp(-2.10, -curve(GRID), GRID))
    touch = float(np.interp(-0.91, -curve(GRID), GRID))
    assert pair == pytest.approx([plain, touch], abs=0.03)


@pytest.mark.parametrize("gap", [0.3, 0.5])
def test_a_swell_in_the_straight_part_is_no_second_shoulder(gap: float) -> None:
    curve = mixture((0.5, logistic(0.10, 2.90, -0.9, 3.4)), (0.5, logistic(0.10, 2.90, -0.9 + gap, 3.4)))
    assert points_of(curve).other_s is None


def test_the_speed_is_that_of_the_points_it_is_given() -> None:
    film = exact(GRID, logistic(0.15, 1.62, -0.6, 2.6)(GRID))
    base = dmin(film)
    own = iso_2240(film, base, "visual", LogHOrigin(seconds=0.02))
    given = iso_2240(film, base, "visual", LogHOrigin(seconds=0.02), points=reversal_points(film, base))
    assert own == given
    assert own.value.value == pytest.approx(truth_of(logistic(0.15, 1.62, -0.6, 2.6)).middle, rel=0.01)
