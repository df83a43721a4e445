"""Curves of known shape, for tests that need to know the truth."""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.uncertainty.ensemble import Ensemble

STEPS = -0.15 * np.arange(21.0)[::-1]
"""Log H of 21 steps of 0.15, ascending, ending at zero."""


def slide(log_h: FloatArray, *, dmin: float = 0.15, height: float = 2.9, centre: float = -1.5) -> FloatArray:
    """Return the density of an invented reversal film: two emulsions, each a normal distribution function."""
    fast = norm.cdf((log_h - centre + 0.2) / 0.35)
    slow = norm.cdf((log_h - centre - 0.2) / 0.30)
    return np.asarray(dmin + height * (1.0 - 0.55 * fast - 0.45 * slow))


def exact(grid: FloatArray, density: FloatArray, kind: Kind = "reversal", **patches: float) -> Ensemble:
    """Return an ensemble of one curve known exactly, with no draws."""
    return Ensemble(
        channel="visual",
        kind=kind,
        grid=grid,
        density=density[None, :],
        gradient=np.gradient(density, grid)[None, :],
        patches={name: np.array([value]) for name, value in patches.items()},
        level_error=np.zeros(1),
        log_h_error=np.zeros(1),
        meter_error=np.zeros(1),
        constant_error=np.zeros(1),
        touch_error=np.zeros(1),
        left_to_move=np.zeros((1, 2)),
    )


def straight(slope: float, *, dmin: float = 0.2, start: float = -0.3, top: float = 2.5) -> Ensemble:
    """Return a reversal curve that is a straight line of slope -``slope`` between two levels."""
    grid = np.linspace(-5.0, 0.0, 10001)
    return exact(grid, np.clip(dmin - slope * (grid - start), dmin, top))


def fitted(curve: Curve, **patches: float) -> Ensemble:
    """Return an ensemble of a fitted curve and its own draws, with no other error."""
    rows = 1 + len(curve.draws)
    return Ensemble(
        channel="visual",
        kind=curve.kind,
        grid=curve.grid,
        density=np.vstack([curve.grid_density, curve.draws]),
        gradient=np.vstack([curve.grid_gradient, curve.gradient_draws]),
        patches={name: np.full(rows, value) for name, value in patches.items()},
        level_error=np.zeros(rows),
        log_h_error=np.zeros(rows),
        meter_error=np.zeros(rows),
        constant_error=np.zeros(rows),
        touch_error=np.zeros(rows),
        left_to_move=np.zeros((rows, 2)),
    )
