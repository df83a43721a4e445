"""The scatter of the readings is told apart from what an uneven wedge does to a step."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.fit import Curve, fit_curve
from curves.sensitometry.curve.posterior import Scatter
from tests.sensitometry.shapes import STEPS, slide

WEDGE = 0.01


def read(stated: float, true: float, seed: int) -> Curve:
    """Return the curve of a slide whose wedge is uneven by 0.01 and whose readings scatter by ``true`` [density]."""
    rng = np.random.default_rng(seed)
    uneven, misread = rng.standard_normal((2, STEPS.size)) * ((WEDGE,), (true,))
    return fit_curve(
        STEPS, slide(STEPS + uneven) + misread, kind="reversal", repeatability=stated, step_uncertainty=WEDGE, draws=0
    )


@pytest.mark.parametrize(("stated", "true"), [(0.01, 0.01), (0.005, 0.015), (0.004, 0.02)])
def test_the_scatter_found_is_the_true_one_whatever_is_stated(stated: float, true: float) -> None:
    times = np.array([read(stated, true, seed).scatter.times for seed in range(40)])
    # What is stated counts as three readings: a false statement draws the estimate a little towards itself.
    assert 0.6 * true / stated < np.median(times) < 1.05 * true / stated


def test_draws_of_the_scatter_hold_the_true_one_as_often_as_they_claim() -> None:
    held = 0
    for seed in range(100):
        low, high = np.quantile(drawn(read(0.01, 0.01, seed).scatter), [0.025, 0.975])
        held += low <= 1.0 <= high
    assert held >= 90


def test_a_scatter_is_surely_passed_in_nine_draws_of_ten() -> None:
    scatter = read(0.005, 0.015, 1).scatter
    rows = drawn(scatter)
    assert rows[0] == scatter.times
    assert np.mean(rows[1:] > scatter.surely) == pytest.approx(0.9, abs=0.01)
    assert scatter.scaled(2.0).surely == pytest.approx(2.0 * scatter.surely)


def test_exposures_that_are_worse_than_assumed_are_not_blamed_on_the_readings() -> None:
    # A bracket of frames, each off by a third of a stop, read without error: the level ends show how well it was read.
    off = 0.1 * np.random.default_rng(5).standard_normal(STEPS.size)
    curve = fit_curve(
        STEPS,
        slide(STEPS + off),
        kind="reversal",
        repeatability=0.01,
        step_uncertainty=0.05,
        step_assumed=True,
        draws=0,
    )
    assert curve.scatter.times < 1.5


def test_points_without_scatter_have_what_is_known_of_them_alone() -> None:
    scatter = fit_curve(STEPS, slide(STEPS), kind="reversal", repeatability=0.01, draws=0).scatter
    assert 0.0 < scatter.times < 0.7
    assert scatter.surely < scatter.times


def drawn(scatter: Scatter) -> FloatArray:
    return scatter.draw(5000, np.random.default_rng(1))
