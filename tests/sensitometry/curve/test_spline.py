"""The numerical engine of the curve: its numbers do not hang on rounding."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from curves.sensitometry.curve.spline import PENALTY_ORDER, SMOOTHING, NoisePrior, Smoother


def test_a_likelihood_does_not_depend_on_the_order_in_which_points_are_summed() -> None:
    rng = np.random.default_rng(5)
    u = np.linspace(0.0, 1.0, 21)
    weight = np.exp(rng.normal(0.0, 1.0, 21))
    y = np.sqrt(weight) * (2.0 / (1.0 + np.exp(8.0 * (0.5 - u))) + rng.normal(0.0, 0.01, 21))
    prior = NoisePrior(0.01, 1.0)
    usual = Smoother.build(u, weight, 20)
    for order in (np.arange(21)[::-1], rng.permutation(21)):
        other = Smoother.build(u[order], weight[order], 20)
        found, expected = (
            smoother.log_likelihood(smoother.penalised_residuals(points), prior)
            for smoother, points in ((other, y[order]), (usual, y))
        )
        assert found == pytest.approx(expected, abs=1e-6)


def test_the_stiffest_spline_is_the_parabola_of_least_squares() -> None:
    u = np.linspace(0.0, 1.0, 21)
    y = np.sin(3.0 * u)
    # By least squares, from numpy: a penalty of third differences leaves parabolas free.
    expected = y - np.polyval(np.polyfit(u, y, PENALTY_ORDER - 1), u)
    smoother = Smoother.build(u, np.ones(21), 20)
    assert smoother.penalised_residuals(y)[-1] == pytest.approx(float(expected @ expected), rel=1e-3)
    assert smoother.shrinkage[:, :PENALTY_ORDER] == pytest.approx(np.ones((SMOOTHING.size, PENALTY_ORDER)))


@pytest.mark.parametrize("index", [0, 12, 24, 44])
@pytest.mark.parametrize("name", ["film", "level", "falling", "scatter"])
def test_a_rising_spline_is_that_of_bounded_least_squares(name: str, index: int) -> None:
    rng = np.random.default_rng(3)
    u = np.linspace(0.0, 1.0, 21)
    shapes = {"film": np.tanh(6.0 * (u - 0.5)), "level": np.zeros(21), "falling": -u, "scatter": rng.normal(size=21)}
    weight = np.exp(rng.normal(0.0, 0.5, 21))
    y = np.sqrt(weight) * (shapes[name] + rng.normal(0.0, 0.01, 21))
    smoother = Smoother.build(u, weight, 20)
    found = smoother.monotone(y, index)
    assert (np.diff(found) >= 0.0).all()
    # By least squares within bounds, from scipy: a level that is free, and increments that are not negative.
    equations = np.vstack([smoother.design, np.sqrt(SMOOTHING[index]) * smoother.difference])
    every = np.tril(np.ones((found.size, found.size)))
    target = np.concatenate([y, np.zeros(len(smoother.difference))])
    expected = lsq_linear(equations @ every, target, (np.r_[-np.inf, np.zeros(found.size - 1)], np.inf), method="bvls")
    assert smoother.design @ found == pytest.approx(smoother.design @ every @ expected.x, abs=1e-5)
    assert ((equations @ found - target) ** 2).sum() <= 2.0 * expected.cost * (1.0 + 1e-8) + 1e-12
