"""Look-up of one curve behind a filter: D(x) becomes D(x - f), where x counts the light in front of the filter."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import has_flattened
from curves.sensitometry.uncertainty.ensemble import Ensemble

_STEPS = 6


def first_rows(ensemble: Ensemble, rows: int) -> Ensemble:
    """Return the ensemble with its first rows only, so that two strips have equal numbers of draws.

    Draws are made in the same order whatever their number, so errors that two strips share stay shared.
    """
    return replace(
        ensemble,
        density=ensemble.density[:rows],
        gradient=ensemble.gradient[:rows],
        patches={name: values[:rows] for name, values in ensemble.patches.items()},
        level_error=ensemble.level_error[:rows],
        log_h_error=ensemble.log_h_error[:rows],
        meter_error=ensemble.meter_error[:rows],
        constant_error=ensemble.constant_error[:rows],
        touch_error=ensemble.touch_error[:rows],
        left_to_move=ensemble.left_to_move[:rows],
    )


def density_behind(ensemble: Ensemble, shift: FloatArray, log_h: FloatArray) -> FloatArray:
    """Return the density of each row behind a filter, at each log H in front of it.

    Beyond the ends of the strip the density of the end is returned; `on_strip` tells where the strip does not show it.

    Args:
        ensemble: the bare curve.
        shift: density of the filter to the curve's layer, (r,) [density].
        log_h: (n,), or (r, n) where every row has its own [log10].

    Returns:
        (r, n) [density].
    """
    return along_rows(log_h - shift[:, None], ensemble.grid, ensemble.density)


def on_strip(ensemble: Ensemble, log_h: FloatArray) -> FloatArray:
    """Return True at exposures where the strip shows a layer's density: on it, or beyond a flattened end.

    Args:
        ensemble: the bare curve.
        log_h: exposures of the layer, any shape [log10].
    """
    low = -np.inf if has_flattened(ensemble, most_exposed=False) else ensemble.grid[0]
    high = np.inf if has_flattened(ensemble, most_exposed=True) else ensemble.grid[-1]
    return np.asarray((log_h >= low) & (log_h <= high))


def along_draws(ensemble: Ensemble, log_h: FloatArray) -> FloatArray:
    """Return the density of each row at its own exposure, (r,); level beyond the ends of the strip."""
    return density_behind(ensemble, np.zeros(len(log_h)), log_h[:, None])[:, 0]


def along_estimate(ensemble: Ensemble, log_h: FloatArray) -> FloatArray:
    """Return the density of the estimate at exposures of any shape; level beyond the ends of the strip."""
    return np.asarray(np.interp(log_h, ensemble.grid, ensemble.density[0]))


def falling_zero(falling: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the zeros of a falling function between ``low`` and ``high``, all at once.

    By false position with the Illinois rule: an end that stays is given half its weight.
    """
    at_low, at_high, x = falling(low), falling(high), low
    for _ in range(_STEPS):
        run = at_low - at_high
        x = np.clip(low + (high - low) * at_low / np.where(run > 0.0, run, 1.0), low, high)
        here = falling(x)
        above = here > 0.0
        at_low, at_high = np.where(above, here, 0.5 * at_low), np.where(above, 0.5 * at_high, here)
        low, high = np.where(above, x, low), np.where(above, high, x)
    return x
