"""Where there is no noise, independent monotone methods and the truth itself must agree with the fit.

Source: scipy's PchipInterpolator (Fritsch and Butland 1984) and isotonic_regression (pool adjacent violators), other
people's code for monotone curves. Steps of 0.075 are fine enough that interpolating between them costs PCHIP itself
less than 0.001.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from curves.sensitometry.curve.fit import fit_curve
from tests.bench.families import simulate

AGREE = 0.003
"""How close the methods must come: a third of what a good densitometer repeats to [density]."""


@pytest.mark.parametrize("seed", range(12))
def test_a_noiseless_curve_agrees_with_pchip_and_with_the_truth(seed: int) -> None:
    strip = simulate(np.random.default_rng(seed), steps=41, increment=0.075, noise=0.0, decimals=None)
    curve = fit_curve(strip.log_h, strip.density, kind="reversal", draws=0)
    assert np.abs(curve.grid_density - PchipInterpolator(strip.log_h, strip.density)(curve.grid)).max() < AGREE
    assert np.abs(curve.grid_density - strip.truth.density(curve.grid)).max() < AGREE


@pytest.mark.parametrize("seed", range(12))
def test_a_noiseless_curve_agrees_with_isotonic_regression_at_the_steps(seed: int) -> None:
    strip = simulate(np.random.default_rng(seed), noise=0.0, decimals=None)
    curve = fit_curve(strip.log_h, strip.density, kind="reversal", draws=0)
    isotonic = isotonic_regression(strip.density, increasing=False).x
    assert np.abs(curve.fitted - isotonic).max() < AGREE
