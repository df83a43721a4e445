"""Patches of simulated grain as a scan of 4800 dpi shows them."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.core.units import FloatArray
from tests.simulate_grain import grain_field

PITCH = 25400.0 / 4800.0
SIDE = 140


def patch(
    seed: int, *, granularity: float = 12.0, grain: float = 2.0, side: int = SIDE, level: float = 1.0
) -> FloatArray:
    """Return the transmittance of a patch cut from a larger field, whose edges therefore do not join."""
    whole = grain_field(side * 5 // 4, side * 5 // 4, PITCH, granularity, grain, np.random.default_rng(seed))
    return np.asarray(10.0 ** -(level + whole[:side, :side]))


def noisy(light: FloatArray, read: float, shot: float, seed: int) -> FloatArray:
    """Return light with noise of variance read^2 + shot^2 v."""
    rng = np.random.default_rng((seed, 99))
    return np.asarray(light + np.sqrt(read**2 + shot**2 * light) * rng.standard_normal(light.shape))
