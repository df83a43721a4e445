from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP
from curves.sensitometry.measures import contrast, points
from curves.sensitometry.measures.reversal_points import reversal_points
from curves.sensitometry.measures.table import ChannelCurves, ChannelMeasures, measures_of
from tests.sensitometry.shapes import exact, slide, straight

GRID = np.linspace(-3.0, 0.0, 3001)


def test_a_crossing_is_found_on_rising_and_falling_curves() -> None:
    rising = np.vstack([GRID + 3.0, 2.0 * (GRID + 3.0)])
    np.testing.assert_allclose(points.crossing(GRID, rising, np.array([1.0, 1.0])), [-2.0, -2.5])
    np.testing.assert_allclose(points.crossing(GRID, -rising, np.array([-1.0, -1.0])), [-2.0, -2.5])


def test_a_level_off_the_strip_is_not_crossed() -> None:
    rows = np.vstack([GRID, GRID])
    assert np.isnan(points.crossing(GRID, rows, np.array([0.5, -3.5]))).all()
    np.testing.assert_allclose(points.crossing(GRID, rows, np.array([0.0, -3.0])), [0.0, -3.0])


def test_dmin_is_the_patch_before_the_flattened_end() -> None:
    film = exact(GRID, slide(GRID), fully_exposed=0.11)
    assert points.dmin(film).quantity.value == pytest.approx(0.11)
    assert points.dmin(film).quantity.how == "measured"
    assert points.dmin(exact(GRID, slide(GRID))).quantity.value == pytest.approx(0.15, abs=0.001)


def test_an_end_that_still_moves_gives_a_bound_with_advice() -> None:
    short = GRID[:1700]
    film = exact(short, slide(short))
    found = points.dmin(film).quantity
    assert found.value is None
    assert found.bound is not None
    assert found.bound[0] == "<"
    # Half of what counts as flat is left to the scatter of the last step.
    assert found.bound[1] == pytest.approx(slide(short)[-1] + 0.015)
    assert "still falling at the most exposed step" in (found.why or "")
    assert "0.9 log H more exposure" in (found.why or "")


def test_an_end_that_has_flattened_may_still_move_by_its_last_movement() -> None:
    # From the definition: each draw moves on by its own share of what the curve moved over its last stop.
    film = exact(GRID, 0.2 + 0.05 * (GRID + 3.0) + np.clip(GRID + 2.0, 0.0, None), kind="negative")
    share = np.array([0.0, 0.5, 2.0])
    drawn = replace(
        film,
        density=np.repeat(film.density, 3, axis=0),
        level_error=np.zeros(3),
        left_to_move=np.column_stack([share, np.zeros(3)]),
    )
    np.testing.assert_allclose(points.dmin(drawn).rows, 0.2 - share * 0.05 * STOP, atol=1e-4)


def test_a_point_counted_from_an_unknown_dmin_is_a_bound_on_the_right_side() -> None:
    short = GRID[:1700]
    film = exact(short, slide(short))
    found = reversal_points(film, points.dmin(film))
    truth = float(np.interp(-(0.15 + 0.20), -slide(GRID), GRID))
    assert found.t.quantity.value is None
    assert found.t.quantity.bound is not None
    assert found.t.quantity.bound[0] == ">"
    assert found.t.quantity.bound[1] < truth


def test_a_known_dmin_off_the_strip_bounds_the_point_by_the_strip_end() -> None:
    short = GRID[:1700]
    film = exact(short, slide(short), fully_exposed=0.15)
    found = reversal_points(film, points.dmin(film))
    assert found.t.quantity.bound is not None
    assert found.t.quantity.bound[0] == ">"
    assert found.t.quantity.bound[1] == pytest.approx(short[-1])
    assert "T (Dmin + 0.20) is 0.35" in (found.t.quantity.why or "")


@pytest.mark.parametrize("slope", [0.6, 1.0, 1.7, 2.4])
def test_every_measure_of_contrast_of_a_straight_line_is_its_slope(slope: float) -> None:
    # From the definitions: a straight line that leaves the base-plus-fog line.
    film = straight(slope)
    base = points.dmin(film)
    # Gamma's averages reach around the corners of the line by a tenth at each end, and that takes up to 2 % off it.
    assert contrast.gamma(film).value == pytest.approx(slope, rel=2e-2)
    assert contrast.contrast_index(film, base).value == pytest.approx(slope, rel=5e-3)
    assert contrast.average_gradient(film, base, net=(0.2, 2.0)).value == pytest.approx(slope, rel=1e-3)
    assert contrast.average_gradient(film, base, interval=0.8).value == pytest.approx(slope, rel=2e-3)


def test_an_average_gradient_over_a_density_never_reached_has_no_value() -> None:
    film = exact(GRID, slide(GRID, height=1.5))
    found = contrast.average_gradient(film, points.dmin(film), net=(0.2, 2.0))
    assert found.value is None
    assert "a point that the measure needs lies off the strip" in (found.why or "")


def test_density_along_rows_is_read_at_each_rows_own_exposure() -> None:
    rows = np.vstack([GRID, 2.0 * GRID])
    np.testing.assert_allclose(points.density_along(GRID, rows, np.array([-1.0, -1.0])), [-1.0, -2.0])
    assert np.isnan(points.density_along(GRID, rows, np.array([0.1, -4.0]))).all()


def test_a_level_is_crossed_where_the_straight_pieces_between_the_columns_have_it() -> None:
    # An independent way: numpy's own interpolation of log H along density, which rises from column to column.
    rng = np.random.default_rng(5)
    for columns in (2, 3, 17, 18, 100):
        grid = np.linspace(-3.0, 0.0, columns)
        rows = np.cumsum(rng.uniform(0.01, 1.0, size=(40, columns)), axis=1)
        level = rng.uniform(rows[:, 0], rows[:, -1])
        expected = [np.interp(at, row, grid) for at, row in zip(level, rows, strict=True)]
        np.testing.assert_allclose(points.crossing(grid, rows, level), expected, atol=1e-12)
        np.testing.assert_allclose(points.crossing(grid, -rows, -level), expected, atol=1e-12)


def test_many_levels_of_one_curve_are_crossed_as_those_of_as_many_curves() -> None:
    curve, level = np.linspace(3.0, 0.2, GRID.size), np.linspace(0.1, 3.1, 9)
    once = points.crossing(GRID, np.broadcast_to(curve, (9, GRID.size)), level)
    np.testing.assert_array_equal(once, points.crossing(GRID, np.tile(curve, (9, 1)), level))
    assert np.isnan(once[[0, -1]]).all()


def test_a_channel_has_the_measures_of_its_kind_and_no_others() -> None:
    ensemble = straight(1.2)
    found = ChannelMeasures(ChannelCurves(ensemble, points.dmin(ensemble), points.dmax(ensemble), Choices()))
    assert list(found) == [m.key for m in measures_of("reversal")]
    assert len(found) == len(dict(found))
    assert found["gamma"] is found["gamma"]
    assert found["gamma"].value == pytest.approx(contrast.gamma(ensemble).value)
    for unknown in ("average_gradient_net", "no such measure"):
        with pytest.raises(KeyError):
            found[unknown]
