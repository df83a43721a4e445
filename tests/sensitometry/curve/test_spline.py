"""The numerical engine of the curve: its numbers do not hang on rounding."""

from __future__ import annotations

import numpy as np
import pytest

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
        assert other.log_likelihood(y[order], prior) == pytest.approx(usual.log_likelihood(y, prior), abs=1e-6)


def test_the_stiffest_spline_is_the_parabola_of_least_squares() -> None:
    u = np.linspace(0.0, 1.0, 21)
    y = np.sin(3.0 * u)
    # By least squares, from numpy: a penalty of third differences leaves parabolas free.
    expected = y - np.polyval(np.polyfit(u, y, PENALTY_ORDER - 1), u)
    smoother = Smoother.build(u, np.ones(21), 20)
    assert smoother.penalised_residuals(y)[-1] == pytest.approx(float(expected @ expected), rel=1e-3)
    assert smoother.shrinkage[:, :PENALTY_ORDER] == pytest.approx(np.ones((SMOOTHING.size, PENALTY_ORDER)))
