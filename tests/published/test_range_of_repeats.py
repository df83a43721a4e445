"""Repeat readings.

Source: tables of control-chart constants, from memory: the mean range of n normal readings is d2 standard deviations,
d2 = 1.128, 1.693, 2.059, 2.326 for n = 2, 3, 4, 5. General statistics: pooled variance has n - 1 degrees of freedom a
step, and a mean of n readings scatters by 1 / sqrt n.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.curve.mean_steps import MeanSteps

STEPS = 20_000


def ladder(repeats: int, sigma: float = 0.012) -> tuple[MeanSteps, float]:
    """Return many steps, each read a number of times, and the mean range of a step's readings [density]."""
    readings = 0.5 + sigma * np.random.default_rng(repeats).standard_normal((STEPS, repeats))
    log_h = np.repeat(0.001 * np.arange(STEPS), repeats)
    return MeanSteps.of(log_h, readings.ravel()), float(np.ptp(readings, axis=1).mean())


@pytest.mark.parametrize(("repeats", "d2"), [(2, 1.128), (3, 1.693), (4, 2.059), (5, 2.326)])
def test_the_spread_of_repeats_is_their_mean_range_over_d2(repeats: int, d2: float) -> None:
    found, mean_range = ladder(repeats)
    assert found.spread == pytest.approx(mean_range / d2, rel=0.01)
    assert found.spread_freedom == STEPS * (repeats - 1)


@pytest.mark.parametrize("repeats", [2, 4])
def test_the_mean_of_n_readings_scatters_by_one_over_the_root_of_n(repeats: int) -> None:
    found, _ = ladder(repeats)
    assert np.std(found.density) == pytest.approx(0.012 / np.sqrt(repeats), rel=0.02)
    assert found.noise(0.012).deviation == pytest.approx(0.012, rel=0.02)


def test_two_readings_0_02_apart_have_a_standard_deviation_of_0_014() -> None:
    # Calculated: the difference over sqrt 2.
    found = MeanSteps.of([0.0, 0.0, 0.1, 0.2, 0.3], [0.50, 0.52, 0.6, 0.7, 0.8])
    assert found.spread == pytest.approx(0.01414, abs=1e-5)
    assert found.spread_freedom == 1.0
