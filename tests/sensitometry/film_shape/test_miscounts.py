"""Steps skipped and patches read twice: the gain is greatest where the count went wrong."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.film_curve import FilmCurves
from curves.sensitometry.film_shape.miscounts import Miscounts
from tests.sensitometry.film_shape.test_film_curve import PARAMETERS

STEPS, INCREMENT = 21, 0.15
LAYERS = PARAMETERS + np.array([[0.0] * 7, [0.1, 0.1, -0.2, -0.2, 0.0, 0.0, 0.0], [0.0, -0.1, 0.2, 0.2, 0.2, 0.0, 0.0]])


def miscounts(steps: FloatArray, scatter: float = 0.01, exposure: float = 0.008) -> Miscounts:
    """Return what is found in three layers read at the given steps of a wedge, entered one after the other."""
    middle = 0.5 * (STEPS - 1)
    exact = FilmCurves(np.tile(INCREMENT * (steps - middle), (3, 1)), LAYERS).linear()[0]
    readings = exact + scatter * np.random.default_rng(4).standard_normal(exact.shape)
    return Miscounts.of(
        np.asarray(INCREMENT * (np.arange(STEPS) - middle), dtype=np.float64), readings, scatter, exposure, INCREMENT
    )


def skipped(row: int) -> FloatArray:
    return np.arange(float(STEPS)) + (np.arange(STEPS) > row)


def twice(row: int) -> FloatArray:
    return np.arange(float(STEPS)) - (np.arange(STEPS) > row)


@pytest.mark.parametrize("row", [6, 9, 12])
def test_a_step_left_out_gains_most_behind_the_row_where_the_count_went_wrong(row: int) -> None:
    counts = miscounts(skipped(row))
    assert int(counts.skipped.argmax()) == row
    assert counts.skipped.max() > counts.twice.max() + 5.0


@pytest.mark.parametrize("row", [6, 9, 12])
def test_a_patch_read_twice_gains_most_at_its_second_row(row: int) -> None:
    counts = miscounts(twice(row))
    assert int(counts.twice.argmax()) == row
    assert counts.twice.max() > counts.skipped.max() + 5.0


def test_readings_that_were_counted_rightly_gain_next_to_nothing() -> None:
    counts = miscounts(np.arange(float(STEPS)))
    assert max(counts.skipped.max(), counts.twice.max()) < 4.0


def test_a_miscount_shows_less_in_worse_readings_and_where_the_exposure_of_a_step_is_uncertain() -> None:
    clear, scattered, uneven = (
        miscounts(skipped(9), scatter, exposure).skipped.max()
        for scatter, exposure in ((0.005, 0.003), (0.03, 0.003), (0.005, 0.05))
    )
    assert clear > 2.0 * max(scattered, uneven)


def test_nothing_is_gained_where_the_film_is_level() -> None:
    # By the definition: what lies beyond moves by nothing if it is displaced there.
    assert miscounts(skipped(19)).skipped[19] < 1.0
