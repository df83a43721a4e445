"""Where a curve reaches a density, and where it ends: Dmin, Dmax, and points named by a density."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import COVERAGE, summarise

FLAT = 0.03
"""A curve that moves less than this over the last stop of the strip has flattened: our own choice [density]."""


@dataclass(frozen=True, eq=False)
class Extreme:
    """Dmin or Dmax: its rows and the quantity shown.

    Attributes:
        rows: (r,) [density]; the fitted end of the strip where the extreme was not reached.
        quantity: the number shown, a bound if it was not reached.
        reached: False if only a bound is known.
    """

    rows: FloatArray
    quantity: Quantity
    reached: bool


@dataclass(frozen=True, eq=False)
class Location:
    """The log H of a point, row by row.

    Attributes:
        rows: where each row's curve reaches it, on the strip's own log H, (r,) [log10]; NaN where it does not.
        quantity: the number shown, the error common to all log H included; or a bound with its reason.
    """

    rows: FloatArray
    quantity: Quantity


def crossing(grid: FloatArray, density: FloatArray, level: FloatArray) -> FloatArray:
    """Return where each monotone row of ``density`` reaches its ``level``.

    Args:
        grid: ascending log H, (g,) [log10].
        density: (r, g), every row rising or every row falling [density].
        level: (r,) [density].

    Returns:
        log H, (r,) [log10]; NaN where the level lies off the strip.
    """
    sign = -1.0 if density[0, 0] > density[0, -1] else 1.0
    row, target = np.arange(len(density)), sign * level
    # Each row is searched by halves, all rows at once.
    before, after = np.zeros(len(row), dtype=np.intp), np.full(len(row), grid.size - 1)
    for _ in range(int(np.ceil(np.log2(grid.size)))):
        middle = (before + after) // 2
        short = sign * density[row, middle] < target
        before, after = np.where(short, middle, before), np.where(short, after, middle)
    after = np.maximum(after, 1)
    below, above = sign * density[row, after - 1], sign * density[row, after]
    rise = np.where(above > below, above - below, 1.0)
    share = (target - below) / rise
    x = grid[after - 1] + share * (grid[after] - grid[after - 1])
    inside = (target >= sign * density[:, 0]) & (target <= sign * density[:, -1])
    return np.where(inside, x, np.nan)


def density_along(grid: FloatArray, density: FloatArray, log_h: FloatArray) -> FloatArray:
    """Return the density of each row at its own ``log_h`` (r,) [log10]; NaN off the strip."""
    after = np.clip(np.searchsorted(grid, log_h), 1, grid.size - 1)
    row = np.arange(len(density))
    share = (log_h - grid[after - 1]) / (grid[after] - grid[after - 1])
    value = density[row, after - 1] + share * (density[row, after] - density[row, after - 1])
    inside = (log_h >= grid[0]) & (log_h <= grid[-1])
    return np.where(inside, value, np.nan)


def dmin(ensemble: Ensemble) -> Extreme:
    """Return the lowest density the process gives: a measured patch, else the flattened end, else a bound."""
    clear_end_is_last = ensemble.kind == "reversal"
    return _extreme(ensemble, "fully_exposed" if clear_end_is_last else "unexposed", last=clear_end_is_last)


def dmax(ensemble: Ensemble) -> Extreme:
    """Return the highest density the process gives: a measured patch, else the flattened end, else a bound."""
    dense_end_is_last = ensemble.kind == "negative"
    return _extreme(ensemble, "fully_exposed" if dense_end_is_last else "unexposed", last=dense_end_is_last)


def base(ensemble: Ensemble) -> Quantity:
    """Return the density of the support, from the base patch [density]."""
    if "base" not in ensemble.patches:
        return Quantity.missing("the base was not read: read film with no image and no fog")
    return summarise(ensemble.patches["base"] + ensemble.level_error, how=ensemble.how_read, note="the base patch")


def veil(ensemble: Ensemble, dmin: Extreme) -> Quantity:
    """Return Dmin less the base [density]: what keeps a reversal highlight from clearing to the base."""
    if "base" not in ensemble.patches:
        return Quantity.missing("it is Dmin less the base, and the base was not read")
    rows = dmin.rows - ensemble.patches["base"]
    if not dmin.reached:
        why = f"it is Dmin less the base, and {dmin.quantity.why}"
        return Quantity.missing(why, below=cautious(rows, upper=True))
    return summarise(rows, how=ensemble.how)


def _extreme(ensemble: Ensemble, patch: str, *, last: bool) -> Extreme:
    end = ensemble.density[:, -1 if last else 0]
    if patch in ensemble.patches:
        rows = ensemble.patches[patch]
        note = f"the {patch.replace('_', ' ')} patch"
        return Extreme(rows, summarise(rows + ensemble.level_error, how=ensemble.how_read, note=note), reached=True)
    if has_flattened(ensemble, last=last):
        return Extreme(end, summarise(end + ensemble.level_error, how=ensemble.how), reached=True)
    lowest = last == (ensemble.kind == "reversal")
    way = "falling" if lowest else "rising"
    place = "last" if last else "first"
    more = "more exposure" if last else "less exposure"
    quantity = Quantity.missing(
        f"the curve is still {way} at the {place} step: read the {patch.replace('_', ' ')} film,"
        f" or give {missing_exposure(ensemble, last=last):.1f} log H {more}",
        below=cautious(end, upper=True) if lowest else None,
        above=None if lowest else cautious(end, upper=False),
    )
    return Extreme(end, quantity, reached=False)


def cautious(rows: FloatArray, *, upper: bool) -> float:
    """Return a bound that holds for the draws too: the upper or lower end of the 95 % interval of ``rows`` (r,)."""
    known = rows[np.isfinite(rows)]
    return float(np.quantile(known, 0.5 * (1.0 + COVERAGE) if upper else 0.5 * (1.0 - COVERAGE)))


def has_flattened(ensemble: Ensemble, *, last: bool) -> bool:
    """Return True if the fitted curve moves less than `FLAT` over the last (or first) stop of the strip.

    A strip of less than two stops cannot show that.
    """
    grid, curve = ensemble.grid, ensemble.density[0]
    if grid[-1] - grid[0] < 2.0 * STOP:
        return False
    end, inside = (grid[-1], grid[-1] - STOP) if last else (grid[0], grid[0] + STOP)
    return bool(abs(np.interp(end, grid, curve) - np.interp(inside, grid, curve)) < FLAT)


def missing_exposure(ensemble: Ensemble, *, last: bool) -> float:
    """Return how much more log H to ask for so that an end that still moves will flatten [log10].

    Advice, not a result: one stop for each 0.3 of gradient that the end still has, at least one, at most three.
    """
    slope = abs(float(ensemble.gradient[0, -1 if last else 0]))
    return float(np.clip(0.3 * np.ceil(slope / 0.3), 0.3, 0.9))


def reach(ensemble: Ensemble, level: FloatArray, anchor: Extreme, name: str) -> Location:
    """Return the log H at which the curve reaches ``level``, a density counted from ``anchor``.

    Args:
        ensemble: the curve.
        level: (r,) [density].
        anchor: the Dmin (or Dmax) that the level is counted from; if it was not reached, only a bound is known.
        name: what to call the level in the reason, such as "Dmin + 0.20".
    """
    rows = crossing(ensemble.grid, ensemble.density, level)
    grid, curve = ensemble.grid, ensemble.density[0]
    falling = ensemble.kind == "reversal"
    if not anchor.reached:
        # Dmin lies below the last step, so the level does too: the true point lies further towards that end.
        known = cautious(rows + ensemble.log_h_error, upper=not falling) if np.isfinite(rows[0]) else np.nan
        why = f"{name} cannot be placed without Dmin, and {anchor.quantity.why}"
        if not np.isfinite(known):
            return Location(np.full_like(rows, np.nan), Quantity.missing(why))
        off = np.full_like(rows, np.nan)
        return Location(off, Quantity.missing(why, above=known) if falling else Quantity.missing(why, below=known))
    if np.isfinite(rows[0]):
        middle = 0.5 * (grid[0] + grid[-1])
        beyond = float(grid[-1] if rows[0] > middle else grid[0])
        return located(ensemble, rows, beyond)
    past_last = (level[0] < curve[-1]) if falling else (level[0] > curve[-1])
    end, word = (float(grid[-1]), "last") if past_last else (float(grid[0]), "first")
    more = "more" if past_last else "less"
    density = curve[-1] if past_last else curve[0]
    why = (
        f"the strip ends at density {density:.2f} ({word} step) and {name} is {level[0]:.2f}:"
        f" give {missing_exposure(ensemble, last=past_last):.1f} log H {more} exposure"
    )
    known = cautious(np.where(np.isfinite(rows), rows, end) + ensemble.log_h_error, upper=not past_last)
    return Location(rows, Quantity.missing(why, above=known) if past_last else Quantity.missing(why, below=known))


def located(ensemble: Ensemble, rows: FloatArray, beyond: float | None = None, note: str | None = None) -> Location:
    """Return a point of the curve as it is shown: with the error that is common to all log H.

    Args:
        ensemble: the curve.
        rows: where each row's curve has the point, (r,) [log10].
        beyond: the end of the strip that rows without the point ran off [log10].
        note: what the number refers to.
    """
    error = ensemble.log_h_error
    end = None if beyond is None else beyond + error
    return Location(rows, summarise(rows + error, how=ensemble.how, beyond=end, note=note))


SPEED_NET = 0.10
"""Net density of the speed point [density]."""


def speed_point(ensemble: Ensemble, base: Extreme, *, net: float = SPEED_NET) -> Location:
    """Return where the curve has risen ``net`` [density] above base plus fog.

    Args:
        ensemble: the curve.
        base: its Dmin.
        net: density above Dmin [density].
    """
    return reach(ensemble, base.rows + net, base, f"the speed point (Dmin + {net:.2f})")
