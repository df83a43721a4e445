"""Readings exchanged and rows counted wrongly: the gain is that of the definition, and greatest where they are."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.linalg import block_diag

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.film_curve import FilmCurves
from curves.sensitometry.film_shape.first_order import FirstOrder
from tests.sensitometry.film_shape.test_film_curve import PARAMETERS

STEPS, INCREMENT = 21, 0.15
LAYERS = PARAMETERS + np.array([[0.0] * 7, [0.1, 0.1, -0.2, -0.2, 0.0, 0.0, 0.0], [0.0, -0.1, 0.2, 0.2, 0.2, 0.0, 0.0]])
EVEN = np.arange(float(STEPS))


def exact(steps: FloatArray) -> FloatArray:
    return FilmCurves(np.tile(INCREMENT * (steps - 0.5 * (STEPS - 1)), (3, 1)), LAYERS).linear()[0]


def found(exact: FloatArray, scatter: float = 0.01, exposure: float = 0.008) -> FirstOrder:
    """Return three layers as they are read, entered one step after the other."""
    readings = exact + scatter * np.random.default_rng(4).standard_normal(exact.shape)
    log_h: FloatArray = np.asarray(INCREMENT * (EVEN - 0.5 * (STEPS - 1)), dtype=np.float64)
    return FirstOrder.of(log_h, readings, scatter, exposure)


def skipped(first_order: FirstOrder) -> FloatArray:
    """Return the gain of a step left out behind each row but the last."""
    return first_order.displaced(INCREMENT)[1:-1, -1]


def twice(first_order: FirstOrder) -> FloatArray:
    """Return the gain of the row behind each but the last being of the same patch."""
    return first_order.displaced(-INCREMENT)[1:-1, -1]


def beyond(row: int, rows: int = STEPS) -> FloatArray:
    """Return 1 for so many rows behind a row."""
    return np.asarray((np.arange(STEPS) > row) & (np.arange(STEPS) <= row + rows), dtype=np.float64)


def fit(of: FirstOrder, change: FloatArray) -> tuple[float, float]:
    """Return how much of a change, (c, n), there is and its inverse variance: by the definition, all errors written
    out."""
    covariance = block_diag(*np.linalg.inv(of.inverse))
    for moved in of.moved.T[:, :, None] * np.eye(STEPS)[:, None, :]:
        covariance += np.outer(moved.ravel(), moved.ravel())
    weight = np.linalg.inv(covariance)
    along, size = (float(change.ravel() @ weight @ to.ravel()) for to in (of.off, change))
    return along / size, size


def gain(of: FirstOrder, change: FloatArray, least: float) -> float:
    """Return the gain of taking a change, (c, n), off the readings."""
    share, size = fit(of, change)
    along, share = share * size, min(share, 1.5)
    return share * along - 0.5 * share**2 * size if share > least else 0.0


def test_gains_are_those_of_the_definition() -> None:
    of = found(exact(EVEN), exposure=0.03)
    (every, alone), displaced = of.neighbours_exchanged(), of.displaced(INCREMENT)
    change = FilmCurves(of.curves.log_h + INCREMENT, of.curves.parameters).linear()[0] - of.curves.linear()[0]
    for one, other in itertools.combinations(range(0, STEPS, 3), 2):
        rows = (np.arange(STEPS) >= one) & (np.arange(STEPS) < other)
        assert displaced[one, other] == pytest.approx(gain(of, np.where(rows, change, 0.0), 0.25), abs=1e-6)
    for row in range(STEPS - 1):
        exchanged = of.readings.copy()
        exchanged[:, [row, row + 1]] = exchanged[:, [row + 1, row]]
        assert every[row] == pytest.approx(gain(of, of.readings - exchanged, 0.6), abs=1e-6)
        exchanged[[0, 2]] = of.readings[[0, 2]]
        assert alone[1, row] == pytest.approx(gain(of, of.readings - exchanged, 0.6), abs=1e-6)


def test_an_end_turns_back_as_clearly_as_a_line_bent_down_there_fits() -> None:
    # By the definition: the most standard deviations that a line has which leaves the curves 0.3, 0.5 or 0.75 before
    # the end.
    log_h = INCREMENT * (EVEN - EVEN[-1])
    bent = exact(EVEN) - 0.05 * np.clip((log_h + 0.5) / 0.5, 0.0, 1.0)
    for density in (bent, exact(EVEN)):
        of = found(density)
        lines = [np.tile(np.minimum(-(log_h + length) / length, 0.0), (3, 1)) for length in (0.3, 0.5, 0.75)]
        shares = [fit(of, line) for line in lines]
        assert of.turned_back() == pytest.approx(max(share * size**0.5 for share, size in shares), abs=1e-6)
    assert found(bent).turned_back() > found(exact(EVEN)).turned_back() + 2.0


@pytest.mark.parametrize("row", [6, 9, 12])
def test_a_step_left_out_gains_most_behind_the_row_where_the_count_went_wrong(row: int) -> None:
    of = found(exact(EVEN + beyond(row)))
    assert int(skipped(of).argmax()) == row
    assert skipped(of).max() > twice(of).max() + 5.0


@pytest.mark.parametrize("row", [6, 9, 12])
def test_a_patch_read_twice_gains_most_at_its_second_row(row: int) -> None:
    of = found(exact(EVEN - beyond(row)))
    assert int(twice(of).argmax()) == row
    assert twice(of).max() > skipped(of).max() + 5.0


def test_rows_between_a_skipped_step_and_one_read_twice_gain_most_together() -> None:
    of = found(exact(EVEN + beyond(7, rows=4)))
    gains = np.triu(of.displaced(INCREMENT), 1)
    assert [int(i) for i in np.unravel_index(gains.argmax(), gains.shape)] == [8, 12]


def test_neighbours_exchanged_gain_most_where_they_are() -> None:
    rows = EVEN.copy()
    rows[[9, 10]] = rows[[10, 9]]
    assert int(found(exact(rows)).neighbours_exchanged()[0].argmax()) == 9


def test_readings_that_were_counted_rightly_gain_next_to_nothing() -> None:
    of = found(exact(EVEN))
    assert max(skipped(of).max(), twice(of).max()) < 4.0


def test_a_miscount_shows_less_in_worse_readings_and_where_the_exposure_of_a_step_is_uncertain() -> None:
    clear, scattered, uneven = (
        skipped(found(exact(EVEN + beyond(9)), scatter, exposure)).max()
        for scatter, exposure in ((0.005, 0.003), (0.03, 0.003), (0.005, 0.05))
    )
    assert clear > 2.0 * max(scattered, uneven)


def test_nothing_is_gained_where_the_film_is_level() -> None:
    # By the definition: what lies beyond moves by nothing if it is displaced there.
    assert skipped(found(exact(EVEN + beyond(19))))[19] < 1.0
