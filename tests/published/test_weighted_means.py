"""Weighted means of several results of one thing, with their uncertainty and the test of their consistency.

Sources: Taylor, An Introduction to Error Analysis, chapter 7 (weighted averages); Particle Data Group, Review of
Particle Physics, the neutron's mean life as averaged in 2019 and 2020, with the scale factor of the Review's
introduction. All numbers are from memory; the arithmetic reproduces them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.combining.agreement import Agreement, agreement, combine, least_variance_weights
from curves.sensitometry.combining.disagreement import Observations
from curves.sensitometry.core.streams import beside_estimate, stream
from curves.sensitometry.core.units import FloatArray

MEAN_LIVES = {877.7: (0.7, 0.3), 881.5: (0.7, 0.6), 878.3: (1.6, 1.0), 880.2: (1.2, 0.0), 882.5: (1.4, 1.5),
              880.7: (1.3, 1.2), 878.5: (0.7, 0.3)}  # fmt: skip
"""Mean life by seven experiments, with its statistical and its systematic uncertainty; the first has +0.4 and -0.2 as
its systematic one, here the mean of the two [seconds]."""


def weighted(values: list[float], errors: list[float]) -> tuple[float, float, Agreement, FloatArray]:
    """Return the weighted mean of results without shared errors, its uncertainty, their test, and the weights."""
    known = np.diag(np.square(errors))
    weights = least_variance_weights(known)
    u = math.sqrt(float(weights @ known @ weights))
    return (
        float(weights @ values),
        u,
        agreement(Observations(np.array(values), known, np.zeros((0, len(values))))),
        weights,
    )


def test_three_measurements_of_one_resistance() -> None:
    # Taylor, 7.2: 11 +- 1, 12 +- 1 and 10 +- 3 ohms make 11.42 +- 0.69, quoted as 11.4 +- 0.7 ohms; weights 1, 1, 1/9.
    mean, u, test, weights = weighted([11.0, 12.0, 10.0], [1.0, 1.0, 3.0])
    assert mean == pytest.approx(11.42, abs=0.005)
    assert u == pytest.approx(0.69, abs=0.005)
    assert weights / weights[0] == pytest.approx([1.0, 1.0, 1.0 / 9.0])
    # The sum of squares by hand: (0.42)^2 + (0.58)^2 + (1.42 / 3)^2 = 0.74 for two degrees of freedom; they agree.
    assert test.chi_square == pytest.approx(0.74, abs=0.005)
    assert test.freedom == 2
    assert not test.contradicts


def test_a_mean_of_seven_experiments_that_lie_too_far_apart() -> None:
    # The Review: 879.4 +- 0.6 s, the error with a scale factor S = sqrt(chi-square / (n - 1)) of 1.6.
    mean, u, test, _ = weighted(list(MEAN_LIVES), [math.hypot(*parts) for parts in MEAN_LIVES.values()])
    assert mean == pytest.approx(879.4, abs=0.11)
    scale = math.sqrt(test.chi_square / test.freedom)
    assert scale == pytest.approx(1.6, abs=0.05)
    assert scale * u == pytest.approx(0.6, abs=0.05)
    # Chi-square 15.1 for six degrees of freedom: 2 in 100 by the usual tables, so that the test finds them apart.
    assert test.contradicts
    assert 0.01 < test.chance < 0.025


def test_what_results_do_not_agree_in_widens_their_combination_by_about_the_scale_factor() -> None:
    # The same seven, in units in which the usual scatter of strips is that of the experiments: 10 s are one stop.
    u = np.array([math.hypot(*parts) for parts in MEAN_LIVES.values()]) / 10.0
    values = np.array(list(MEAN_LIVES)) / 10.0
    rows = values[:, None] + u[:, None] * beside_estimate(stream(1, "lives"), 20_001, u.size).T
    found = combine(rows, stream(1, "seven"))
    assert 10.0 * found.rows[0] == pytest.approx(879.4, abs=0.5)
    # The Birge ratio widens by 1.6; a scatter that is not known widens by somewhat more.
    assert 0.6 <= 10.0 * float(found.rows[1:].std()) <= 0.9
