"""The points of a reversal curve: T where highlights end, S where shadows begin, and M between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import (
    Extreme,
    Location,
    cautious,
    crossing,
    density_along,
    dmax,
    located,
    missing_exposure,
    reach,
)
from curves.sensitometry.uncertainty.ensemble import Ensemble

T_NET, S_NET = 0.20, 2.00
"""Net densities of the highlight point T and the shadow point S of a reversal film [density]."""


_SHORTEST_RUN, _LEAST_GAIN = 0.30, 0.60
"""Nearest to T that the shoulder can lie: a stop [log10], or on a steep film so much density above T [density]. Nearer,
the slope of the line is the noise of the fit."""


SAG = 0.02
"""Density by which a curve with a shoulder lies below the line from T, where that line reaches S's density: about the
scatter of a reading, our own choice [density]. A straight line is tangent everywhere; between no sag and this one, S
moves from Dmin + 2.00 to the touch, so that no small change of a film makes S jump."""


_ALIKE, _APART, _DIP = 0.95, 0.30, 0.03
"""Two shoulders: both lines from T at least this steep against the steeper [unitless], touching so far apart [log10],
with the curve so far below the flatter of them in between [density]. The last is our own choice, beyond the scatter."""


@dataclass(frozen=True, eq=False)
class ReversalPoints:
    """The points that ISO 2240 takes from a reversal curve, row by row.

    Attributes:
        t, s, m: log H of T, of S, and of their mean M [log10].
        s_density: density at S, (r,) [density].
        s_least, s_most: log H between which S lies: S itself where a row shows it, (r,) [log10].
        touch_share: how far the touch of the line from T fixed S and not Dmin + 2.00, 0 to 1, (r,) [unitless].
        other_s: S at the other shoulder, where the line from T touches two alike; None where it does not, (r,) [log10].
    """

    t: Location
    s: Location
    m: Location
    s_density: FloatArray
    s_least: FloatArray
    s_most: FloatArray
    touch_share: FloatArray
    other_s: FloatArray | None = None

    @property
    def by_tangent(self) -> bool:
        """True if the line from T, touching the shoulder, fixed S, and not Dmin + 2.00."""
        return bool(self.touch_share[0] > 0.5)

    @property
    def branch(self) -> str:
        """The branch of the rule that fixed S, in words."""
        if self.s.quantity.value is None:
            return "S was not reached"
        return "S is where the line from T touches the shoulder" if self.by_tangent else "S is at Dmin + 2.00"


def reversal_points(ensemble: Ensemble, base: Extreme, top: Extreme | None = None) -> ReversalPoints:
    """Find T, S and M on a reversal curve by the rule of ISO 2240 (rule from memory, corroborated).

    T lies at Dmin + 0.20. S lies at Dmin + 2.00, or where the line from T is tangent to the shoulder, whichever has
    the lower density: a film whose Dmax lies lower has the touch alone. M is their mean in log H.

    Args:
        ensemble: the curve.
        base: its Dmin.
        top: its Dmax; found here if None.
    """
    grid, t_level, level = ensemble.grid, base.rows + T_NET, base.rows + S_NET
    name = f"S (Dmin + {S_NET:.2f})"
    t = reach(ensemble, t_level, base, f"T (Dmin + {T_NET:.2f})")
    plain = crossing(grid, ensemble.density, level)
    if not base.reached or t_level[0] > ensemble.density[0, 0]:
        s = reach(ensemble, level, base, name)
        least = np.full_like(plain, -np.inf) if base.reached else np.where(np.isfinite(plain), plain, -np.inf)
        most = np.full_like(plain, grid[0] if base.reached else np.inf)
        return ReversalPoints(t, s, _mean_point(ensemble, t, s), level, least, most, np.zeros(len(level)))
    # A row whose T lies beyond the most exposed step has it there at the earliest, and then touches no later.
    start = np.where(np.isfinite(t.rows), t.rows, grid[-1])
    shoulder = _shoulder(ensemble, start, t_level, level, top or dmax(ensemble))
    rows, least, most = _between(grid, plain, shoulder)
    if not np.isfinite(t.rows[0]) and shoulder.share[0] > 0.0:
        rows, least, most = np.full_like(rows, np.nan), plain, shoulder.touch
    s = _shadow_point(ensemble, rows, (least, most), level, name, None if shoulder.share[0] <= 0.0 else t.quantity.why)
    at = density_along(grid, ensemble.density, rows)
    return ReversalPoints(
        t,
        s,
        _mean_point(ensemble, t, s),
        np.where(np.isfinite(at), at, level),
        least,
        most,
        shoulder.share,
        _other_s(ensemble, shoulder, plain, rows) if np.isfinite(t.rows[0] + rows[0]) else None,
    )


@dataclass(frozen=True, eq=False)
class _Shoulder:
    """The touch of the line from T with the shoulder, row by row.

    Attributes:
        touch: log H, (r,) [log10]; NaN where it touches nowhere on the strip below the limit.
        share: how far the touch counts: 0 on a straight line, 1 where the curve sags by `SAG`, (r,) [unitless].
        t: log H of T, (r,) [log10].
        slopes: of the line from T to every point of the grid, (r, g) [density per log10 H].
    """

    touch: FloatArray
    share: FloatArray
    t: FloatArray
    slopes: FloatArray


def _shoulder(
    ensemble: Ensemble, t: FloatArray, t_density: FloatArray, limit: FloatArray, highest: Extreme
) -> _Shoulder:
    """Return the touch of the steepest line from T with the shoulder, below a limit.

    Args:
        ensemble: the curve.
        t, t_density: T, (r,) [log10], [density].
        limit: the density above which the touch does not count, (r,) [density].
        highest: Dmax of the curve.
    """
    grid, density = ensemble.grid, ensemble.density
    slope = _slopes(grid, density, t, t_density)
    row, best = np.arange(len(t)), slope.argmax(axis=1)
    inner = np.minimum(np.maximum(best, 1), grid.size - 2)
    before, at, after = (slope[row, inner + k] for k in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (before - after) / (before - 2.0 * at + after)
        top = at - 0.25 * (before - after) * shift
    smooth = np.isfinite(shift) & np.isfinite(top) & (np.abs(shift) <= 1.0)
    touch = grid[inner] + np.where(smooth, shift, 0.0) * (grid[1] - grid[0])
    steepest = np.where(smooth, top, at)
    touches = (best > 0) & np.isfinite(steepest) & (steepest > 0)
    # A level strip has no slope at all.
    steepest = np.where(np.isfinite(steepest), steepest, 0.0)
    touches &= t_density + steepest * (t - touch) < limit
    # How far the curve has left the line where the line reaches the limit, or at the dense end of the strip; beyond
    # it, a film whose Dmax is known cannot rise further.
    with np.errstate(divide="ignore", invalid="ignore"):
        reached = t - (limit - t_density) / steepest
    seen = np.where(touches, np.maximum(reached, grid[0]), grid[0])
    sag = t_density + steepest * (t - seen) - density_along(grid, density, seen)
    if highest.reached:
        sag = np.where(reached < grid[0], np.maximum(sag, limit - highest.rows), sag)
    share = np.where(touches, np.minimum(np.maximum(sag / SAG, 0.0), 1.0), 0.0)
    return _Shoulder(np.where(touches, touch + ensemble.touch_error, np.nan), share, t, slope)


def _slopes(grid: FloatArray, density: FloatArray, t: FloatArray, t_density: FloatArray) -> FloatArray:
    """Return the slope of the line from T to every point of the grid, (r, g) [density per log10 H].

    Points too near T, or beyond it, get minus infinity: a slope that is never the steepest.
    """
    run, gain = t[:, None] - grid, density - t_density[:, None]
    far_enough = (run > _SHORTEST_RUN) | ((run > 0.0) & (gain > _LEAST_GAIN))
    with np.errstate(divide="ignore", invalid="ignore"):
        gain /= run
    gain[~far_enough] = -np.inf
    return gain


def _between(grid: FloatArray, plain: FloatArray, shoulder: _Shoulder) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return S between the crossing of its density and the touch, and the log H between which it lies."""
    share, touch = shoulder.share, shoulder.touch
    rows = np.where(share >= 1.0, touch, np.where(share <= 0.0, plain, plain + share * (touch - plain)))
    shown = np.isfinite(rows)
    return rows, np.where(shown, rows, -np.inf), np.where(shown, rows, np.where(share > 0.0, touch, grid[0]))


def _other_s(ensemble: Ensemble, shoulder: _Shoulder, plain: FloatArray, s: FloatArray) -> FloatArray | None:
    """Return S at a second shoulder that the line from T touches almost as steeply, (r,) [log10]; None without one.

    Args:
        ensemble: the curve.
        shoulder: the first.
        plain: log H of Dmin + 2.00, (r,) [log10]; NaN off the strip.
        s: S at the first, (r,) [log10].
    """
    # Few films have two: the estimate is looked at first.
    if not _second_touch(ensemble.grid, shoulder, slice(0, 1))[1][0]:
        return None
    second, two = _second_touch(ensemble.grid, shoulder, slice(None))
    if two.mean() < 0.5:
        return None
    # The lower density of the two touches and of Dmin + 2.00 counts; less log H is more density.
    other = np.where(two, np.fmax(ensemble.grid[second], plain), s)
    return None if abs(other[0] - s[0]) < _APART / 2.0 else np.asarray(other)


def _second_touch(
    grid: FloatArray, shoulder: _Shoulder, rows: slice
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return the grid points of a second touch of the line from T, and whether there is one, for some of the rows."""
    slope, run = shoulder.slopes[rows], shoulder.t[rows, None] - grid
    first = slope.argmax(axis=1)
    row, column = np.arange(len(slope)), np.arange(grid.size)
    peak = np.zeros(slope.shape, dtype=bool)
    peak[:, 1:-1] = (slope[:, 1:-1] >= slope[:, :-2]) & (slope[:, 1:-1] > slope[:, 2:])
    peak &= (slope >= _ALIKE * slope[row, first][:, None]) & (np.abs(grid - grid[first][:, None]) > _APART)
    if not peak.any():
        return first, np.zeros(len(slope), dtype=bool)
    second = np.where(peak, slope, -np.inf).argmax(axis=1)
    inside = (column > np.minimum(first, second)[:, None]) & (column < np.maximum(first, second)[:, None])
    with np.errstate(invalid="ignore"):
        dip = np.where(inside, (slope[row, second][:, None] - slope) * run, 0.0).max(axis=1)
    return second, peak.any(axis=1) & (dip >= _DIP)


def _shadow_point(
    ensemble: Ensemble,
    rows: FloatArray,
    ends: tuple[FloatArray, FloatArray],
    level: FloatArray,
    name: str,
    t_why: str | None,
) -> Location:
    """Return S as it is shown.

    Args:
        ensemble: the curve.
        rows: S, (r,) [log10]; NaN where a row does not show it.
        ends: between which log H it lies then, (r,) each [log10].
        level: Dmin + 2.00, (r,) [density].
        name: what to call it.
        t_why: the reason why T is not known, where the line from T would fix S; None where it is.
    """
    error, start = ensemble.log_h_error, float(ensemble.grid[0])
    if np.isfinite(rows[0]):
        return located(ensemble, rows, start)
    above, below = (cautious(end + error, upper=upper) if np.isfinite(end[0]) else None
                    for end, upper in zip(ends, (False, True), strict=True))  # fmt: skip
    if t_why is not None:
        why = f"the line from T fixes {name}, and {t_why}"
        return Location(rows, Quantity.missing(why, above=above, below=None if above is not None else below))
    missing = ensemble.amount(missing_exposure(ensemble, most_exposed=False))
    why = (
        f"the least exposed step has density {ensemble.density[0, 0]:.2f}, {name} is {level[0]:.2f}, and the curve"
        f" bends to no shoulder before: give {missing} less exposure"
    )
    return Location(rows, Quantity.missing(why, below=below))


def _mean_point(ensemble: Ensemble, t: Location, s: Location) -> Location:
    """Return M, the mean of T and S in log H; a bound where T or S is one and the other does not contradict it."""
    rows, grid = 0.5 * (t.rows + s.rows), ensemble.grid
    if np.isfinite(rows[0]):
        # A row whose T or S ran off the strip is counted at its end.
        counted = [np.where(np.isfinite(p), p, end) for p, end in ((t.rows, grid[-1]), (s.rows, grid[0]))]
        return located(ensemble, 0.5 * (counted[0] + counted[1]))
    pair = t.quantity, s.quantity
    ways = {q.bound[0] for q in pair if q.value is None and q.bound}
    why = t.quantity.why or s.quantity.why or ""
    if len(ways) != 1 or any(q.value is None and q.bound is None for q in pair):
        return Location(rows, Quantity.missing(why))
    above = ways == {">"}
    ends = [q.bound[1] if q.bound else q.low if above else q.high for q in pair]
    values = [q.value if end is None else end for q, end in zip(pair, ends, strict=True)]
    middle = 0.5 * sum(x for x in values if x is not None)
    return Location(rows, Quantity.missing(why, above=middle) if above else Quantity.missing(why, below=middle))
