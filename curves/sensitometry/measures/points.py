"""Points of a curve that a density names, and the ends of the curve: Dmin and Dmax."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise

FLAT = 0.03
"""A curve that moves less than this over the last stop of the strip has flattened: our own choice [density]."""

LEFT_TO_MOVE, LEFT_BESIDE = 1.0, 2.0
"""Standard uncertainty of what an end of the strip has still to move before it is flat, in movements over its last
stop. Alone, as much as an end has left that halves its movement from stop to stop: of the intervals of Dmin at a
flattened end 86 % held on simulated strips of ten families without it, and 95 % with it. Beside a patch, as much as an
end has left that keeps 70 %, so that an end which still moves does not draw the patch away from the truth."""

COMPATIBLE, AT_ODDS = 2.0, 3.0
"""Standard uncertainties apart up to which two results of one thing are compatible, and from which they contradict
each other: the factors in use for metrological compatibility (VIM 2.47) [unitless]."""

_NOTEWORTHY = 0.05
"""Share of the weighted mean from which the end of the strip is named beside the patch [unitless]."""


@dataclass(frozen=True, eq=False)
class Extreme:
    """Dmin or Dmax, row by row, and the quantity shown.

    Attributes:
        rows: (r,) [density]; the fitted end of the strip where the extreme was not reached.
        quantity: the number shown; a bound if the extreme was not reached.
        reached: False if only a bound is known.
        conflict: the patch and the strip's own end, where they contradict each other.
    """

    rows: FloatArray
    quantity: Quantity
    reached: bool
    conflict: Conflict | None = None


@dataclass(frozen=True)
class Conflict:
    """A patch and the flattened end of the strip beside it that do not agree.

    Attributes:
        patch: what the patch is called.
        read, fitted: density of the patch, and of the end of the curve [density].
        times: how many times their combined standard uncertainty they lie apart [unitless].
    """

    patch: str
    read: float
    fitted: float
    times: float


@dataclass(frozen=True, eq=False)
class Location:
    """The log H of a point, row by row.

    Attributes:
        rows: log H at which each row's curve reaches the point, (r,) [log10]; NaN where it does not.
        quantity: the number shown, with the error common to all log H; or a bound with its reason.
    """

    rows: FloatArray
    quantity: Quantity


def crossing(grid: FloatArray, density: FloatArray, level: FloatArray) -> FloatArray:
    """Return the log H at which each monotone row of ``density`` reaches its own ``level``.

    Args:
        grid: ascending log H, (g,) [log10].
        density: (r, g), every row rising or every row falling [density].
        level: (r,) [density].

    Returns:
        log H, (r,) [log10]; NaN where the level lies off the strip.
    """
    if len(density) == 1:
        return np.array([_crossing_of_one(grid, density[0], float(level[0]))])
    falling = density[0, 0] > density[0, -1]
    # Every row's interval is halved until its ends are neighbours; the first column that has arrived is then its end.
    one_curve = density.strides[0] == 0
    packed, start = (
        density[0] if one_curve else density.ravel(),
        0 if one_curve else np.arange(0, density.size, grid.size),
    )
    before, after = np.zeros(len(density), dtype=np.intp), np.full(len(density), grid.size - 1)
    for _ in range((grid.size - 2).bit_length()):
        middle = (before + after) >> 1
        there = packed.take(start + middle)
        arrived = there <= level if falling else there >= level
        before, after = np.where(arrived, before, middle), np.where(arrived, middle, after)
    below, above = packed.take(start + before), packed.take(start + after)
    share = (level - below) / np.where(above != below, above - below, 1.0)
    x = grid[before] + share * (grid[after] - grid[before])
    lowest, highest = density[:, -1 if falling else 0], density[:, 0 if falling else -1]
    return np.where((level >= lowest) & (level <= highest), x, np.nan)


def _crossing_of_one(grid: FloatArray, density: FloatArray, level: float) -> float:
    """Return the log H at which one monotone curve, (g,), reaches a level, as `crossing` does for many [log10]."""
    first, last = float(density[0]), float(density[-1])
    falling = first > last
    low, high = (last, first) if falling else (first, last)
    if not low <= level <= high:
        return math.nan
    after = max(int((density <= level if falling else density >= level).argmax()), 1)
    below, above = float(density[after - 1]), float(density[after])
    share = (level - below) / (above - below if above != below else 1.0)
    before = float(grid[after - 1])
    return before + share * (float(grid[after]) - before)


def density_along(grid: FloatArray, density: FloatArray, log_h: FloatArray) -> FloatArray:
    """Return the density of each row at its own ``log_h`` (r,) [log10]; NaN off the strip."""
    if len(density) == 1:
        x = float(log_h[0])
        return np.array([np.interp(x, grid, density[0]) if grid[0] <= x <= grid[-1] else np.nan])
    inside = (log_h >= grid[0]) & (log_h <= grid[-1])
    return np.where(inside, along_rows(log_h[:, None], grid, density)[:, 0], np.nan)


def dmin(ensemble: Ensemble) -> Extreme:
    """Return the lowest density the process gives: a measured patch, else the flattened end, else a bound."""
    return _extreme(ensemble, most_exposed=ensemble.kind == "reversal")


def dmax(ensemble: Ensemble) -> Extreme:
    """Return the highest density the process gives: a measured patch, else the flattened end, else a bound."""
    return _extreme(ensemble, most_exposed=ensemble.kind == "negative")


def base(ensemble: Ensemble) -> Quantity:
    """Return the density of the support, from the base patch [density]."""
    if "base" not in ensemble.patches:
        return Quantity.missing("the base was not read: read film with no image and no fog")
    rows = ensemble.patches["base"] + ensemble.level_error
    return summarise(rows, how=ensemble.how_read, note="the base patch", least=0.0)


def veil(ensemble: Ensemble, dmin: Extreme) -> Quantity:
    """Return Dmin less the base [density]: what keeps a reversal highlight from clearing to the base."""
    if "base" not in ensemble.patches:
        return Quantity.missing("the base was not read: veil is Dmin less base")
    rows = dmin.rows - ensemble.patches["base"]
    if not dmin.reached:
        why = f"veil is Dmin less base, and {dmin.quantity.why}"
        return Quantity.missing(why, below=cautious(rows, upper=True))
    return summarise(rows, how=ensemble.how, least=0.0)


def _extreme(ensemble: Ensemble, *, most_exposed: bool) -> Extreme:
    """Return the density at one end of the curve: of the patch beside it, of the flattened end, or a bound."""
    patch = "fully_exposed" if most_exposed else "unexposed"
    end = ensemble.density[:, -1 if most_exposed else 0]
    if patch in ensemble.patches:
        return _pooled(ensemble, patch, most_exposed=most_exposed)
    lowest = most_exposed == (ensemble.kind == "reversal")
    if has_flattened(ensemble, most_exposed=most_exposed):
        left = LEFT_TO_MOVE * _last_movement(ensemble, most_exposed=most_exposed)
        left = left * ensemble.left_to_move[:, 1 if most_exposed else 0]
        rows = end - left if lowest else end + left
        return Extreme(rows, summarise(rows + ensemble.level_error, how=ensemble.how, least=0.0), reached=True)
    way = "falling" if lowest else "rising"
    more = "more exposure" if most_exposed else "less exposure"
    # An end that only just moves may owe it to the scatter of its last step.
    limit = end + ensemble.level_error + (0.5 * FLAT if lowest else -0.5 * FLAT)
    quantity = Quantity.missing(
        f"the curve is still {way} at {ensemble.end_step(most_exposed=most_exposed)}:"
        f" read the {patch.replace('_', ' ')} film,"
        f" or give {ensemble.amount(missing_exposure(ensemble, most_exposed=most_exposed))} {more}",
        below=cautious(limit, upper=True) if lowest else None,
        above=None if lowest else cautious(limit, upper=False),
    )
    return Extreme(end, quantity, reached=False)


def _pooled(ensemble: Ensemble, patch: str, *, most_exposed: bool) -> Extreme:
    """Return a patch and the end of the strip beside it as one density, weighted by their variances.

    The end counts by how well it is fitted, and the less the more it still moves: what is left to move is taken to be
    uncertain by `LEFT_BESIDE` times its last movement. Where the two lie further apart than is compatible, the rows
    are stretched about the weighted mean until the interval holds both.
    """
    name = patch.replace("_", " ")
    read, end = ensemble.patches[patch], ensemble.density[:, -1 if most_exposed else 0]
    left = LEFT_BESIDE * _last_movement(ensemble, most_exposed=most_exposed)
    of_read, of_end = (
        ensemble.patch_error.get(patch, 0.0) ** 2,
        ensemble.end_error[1 if most_exposed else 0] ** 2 + left**2,
    )
    together = np.sqrt(of_read + of_end)
    share = of_read / np.where(together > 0.0, together**2, 1.0)
    rows = read + share * (end - read)
    times = float(abs(end[0] - read[0]) / together[0]) if of_read > 0.0 else 0.0
    rows = rows[0] + max(1.0, times / COMPATIBLE) * (rows - rows[0])
    note = f"the {name} patch" + (" and the end of the strip" if share[0] > _NOTEWORTHY else "")
    conflict = Conflict(name, float(read[0]), float(end[0]), times) if times > AT_ODDS else None
    quantity = summarise(rows + ensemble.level_error, how=ensemble.how_read, note=note, least=0.0)
    return Extreme(rows, quantity, reached=True, conflict=conflict)


def _last_movement(ensemble: Ensemble, *, most_exposed: bool) -> FloatArray:
    """Return the change of each row over the stop at one end of the strip, or over a shorter strip, (r,) [density]."""
    grid, rows = ensemble.grid, ensemble.density
    within = np.searchsorted(grid, grid[-1] - STOP) if most_exposed else np.searchsorted(grid, grid[0] + STOP)
    return np.abs(rows[:, -1 if most_exposed else 0] - rows[:, min(int(within), grid.size - 1)])


def cautious(rows: FloatArray, *, upper: bool) -> float:
    """Return a bound that holds for the draws too: the upper or lower end of the 95 % interval of ``rows`` (r,)."""
    known = rows[np.isfinite(rows)]
    return float(np.quantile(known, ENDS[1] if upper else ENDS[0]))


def has_flattened(ensemble: Ensemble, *, most_exposed: bool) -> bool:
    """Return True if the fitted curve moves less than `FLAT` over the stop at its most (or least) exposed end.

    A strip of less than two stops cannot show a flattened end.
    """
    grid, curve = ensemble.grid, ensemble.density[0]
    if grid[-1] - grid[0] < 2.0 * STOP:
        return False
    end, inside = (grid[-1], grid[-1] - STOP) if most_exposed else (grid[0], grid[0] + STOP)
    return bool(abs(np.interp(end, grid, curve) - np.interp(inside, grid, curve)) < FLAT)


def missing_exposure(ensemble: Ensemble, *, most_exposed: bool) -> float:
    """Return the log H to add to the strip so that an end of the curve that still moves will flatten [log10].

    Advice, not a result: one stop for each 0.3 of gradient at the end, at least one, at most three.
    """
    slope = abs(float(ensemble.gradient[0, -1 if most_exposed else 0]))
    return float(np.clip(0.3 * np.ceil(slope / 0.3), 0.3, 0.9))


def reach(ensemble: Ensemble, level: FloatArray, anchor: Extreme, name: str) -> Location:
    """Return the log H at which the curve reaches ``level``, a density counted from ``anchor``.

    Args:
        ensemble: the curve.
        level: (r,) [density].
        anchor: the Dmin that the level is counted from; if not reached, the result is a bound.
        name: name of the level in the reason, such as "Dmin + 0.20".
    """
    rows = crossing(ensemble.grid, ensemble.density, level)
    grid, curve = ensemble.grid, ensemble.density[0]
    falling = ensemble.kind == "reversal"
    if not anchor.reached:
        # Dmin lies beyond the strip's end, so the level lies lower than assumed, and its point nearer to that end.
        known = cautious(rows + ensemble.log_h_error, upper=not falling) if np.isfinite(rows[0]) else np.nan
        why = f"{name} cannot be placed without Dmin, and {anchor.quantity.why}"
        if not np.isfinite(known):
            return Location(np.full_like(rows, np.nan), Quantity.missing(why))
        off = np.full_like(rows, np.nan)
        return Location(off, Quantity.missing(why, above=known) if falling else Quantity.missing(why, below=known))
    if np.isfinite(rows[0]):
        return located(ensemble, rows, ensemble.end_beside(rows[0]))
    past_most = (level[0] < curve[-1]) if falling else (level[0] > curve[-1])
    end = float(grid[-1 if past_most else 0])
    more = "more" if past_most else "less"
    density = curve[-1] if past_most else curve[0]
    why = (
        f"the strip ends at density {density:.2f}, {ensemble.end_step(most_exposed=past_most)}, and {name} is"
        f" {level[0]:.2f}: give {ensemble.amount(missing_exposure(ensemble, most_exposed=past_most))} {more} exposure"
    )
    known = cautious(np.where(np.isfinite(rows), rows, end) + ensemble.log_h_error, upper=not past_most)
    return Location(rows, Quantity.missing(why, above=known) if past_most else Quantity.missing(why, below=known))


def located(ensemble: Ensemble, rows: FloatArray, beyond: float | None = None) -> Location:
    """Return a point of the curve with the quantity shown, which carries the error common to all log H.

    Args:
        ensemble: the curve.
        rows: log H of the point on each row's curve, (r,) [log10].
        beyond: the end of the strip that rows without the point ran off [log10].
    """
    error = ensemble.log_h_error
    end = None if beyond is None else beyond + error
    return Location(rows, summarise(rows + error, how=ensemble.how, beyond=end))


SPEED_NET = 0.10
"""Net density of the speed point [density]."""


def speed_point(ensemble: Ensemble, base: Extreme) -> Location:
    """Return the point at which the curve has risen `SPEED_NET` above base plus fog.

    Args:
        ensemble: the curve.
        base: its Dmin.
    """
    return reach(ensemble, base.rows + SPEED_NET, base, f"the speed point (Dmin + {SPEED_NET:.2f})")
