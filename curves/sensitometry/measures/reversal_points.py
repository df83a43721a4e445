"""The points of a reversal curve: T where highlights end, S where shadows begin, and M between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import Extreme, Location, density_along, located, reach
from curves.sensitometry.uncertainty.ensemble import Ensemble

T_NET, S_NET = 0.20, 2.00
"""Net densities of the highlight point T and the shadow point S of a reversal film [density]."""


_SHORTEST_TANGENT = 0.30
"""Nearest to T that the shoulder can lie: one stop. Nearer, the line's slope is the noise of the fit [log10]."""


SAG = 0.02
"""Least density by which a curve with a shoulder lies below the line from T where that line reaches S's density: about
the scatter of a reading, our own choice [density]. It keeps a straight line, tangent everywhere, from having one."""


UNSURE = 0.20
"""Share of the draws that must take the other branch of ISO 2240's rule before the branch is in doubt: own choice."""


@dataclass(frozen=True, eq=False)
class ReversalPoints:
    """The points that ISO 2240 takes from a reversal curve, row by row.

    Attributes:
        t, s, m: log H of T, of S, and of their mean M [log10].
        s_density: density at S, (r,) [density].
        by_tangent: True if the tangent to the shoulder fixed S, not Dmin + 2.00.
    """

    t: Location
    s: Location
    m: Location
    s_density: FloatArray
    by_tangent: bool

    @property
    def branch(self) -> str:
        """The branch of the rule that fixed S, in words."""
        if self.s.quantity.value is None:
            return "S was not reached"
        return "S is where the line from T touches the shoulder" if self.by_tangent else "S is at Dmin + 2.00"


def reversal_points(
    ensemble: Ensemble, base: Extreme, *, t_net: float = T_NET, s_net: float = S_NET, tangent: bool = True
) -> ReversalPoints:
    """Find T, S and M on a reversal curve by the rule of ISO 2240 (rule from memory, corroborated).

    T lies at Dmin + 0.20. S lies at Dmin + 2.00, or where the line from T is tangent to the shoulder, whichever has
    the lower density. M is their mean in log H.

    Args:
        ensemble: the curve.
        base: its Dmin.
        t_net, s_net: net densities of T and S [density].
        tangent: whether the tangent rule applies.
    """
    t_level, level = base.rows + t_net, base.rows + s_net
    t = reach(ensemble, t_level, base, f"T (Dmin + {t_net:.2f})")
    by_tangent = np.zeros(len(level), dtype=bool)
    touch = np.full_like(level, np.nan)
    if tangent and base.reached and np.isfinite(t.rows[0]):
        touch, touch_density = _tangent_point(ensemble, t.rows, t_level, level)
        by_tangent = touch_density < level
        # Draws wiggle about an estimate that wiggles already and so change branch too readily: where few draws do,
        # all of them take the branch of the estimate.
        if (by_tangent != by_tangent[0]).mean() < UNSURE:
            by_tangent &= by_tangent[0]
        level = np.where(by_tangent, touch_density, level)
    s = reach(ensemble, level, base, f"S (Dmin + {s_net:.2f})")
    if by_tangent.any() and s.quantity.value is not None:
        rows = np.where(by_tangent, touch, s.rows)
        s = located(ensemble, rows, float(ensemble.grid[0]))
    return ReversalPoints(t, s, _mean_point(ensemble, t, s), level, bool(by_tangent[0]))


def _mean_point(ensemble: Ensemble, t: Location, s: Location) -> Location:
    """Return M, the mean of T and S in log H; a bound where T or S is one and the other does not contradict it."""
    rows = 0.5 * (t.rows + s.rows)
    if np.isfinite(rows[0]):
        return located(ensemble, rows)
    ends = [q.value if q.value is not None else (q.bound[1] if q.bound else None) for q in (t.quantity, s.quantity)]
    ways = {q.bound[0] for q in (t.quantity, s.quantity) if q.value is None and q.bound}
    why = t.quantity.why or s.quantity.why or ""
    if ends[0] is None or ends[1] is None or len(ways) != 1:
        return Location(rows, Quantity.missing(why))
    middle = 0.5 * (ends[0] + ends[1])
    return Location(rows, Quantity.missing(why, above=middle) if ways == {">"} else Quantity.missing(why, below=middle))


def _tangent_point(
    ensemble: Ensemble, t: FloatArray, t_density: FloatArray, limit: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return log H and density (r,) where the steepest line from T meets the shoulder; infinite if there is none.

    The line from T (log H ``t``, density ``t_density``) is tangent to the shoulder where its slope is greatest.
    """
    grid = ensemble.grid
    run = t[:, None] - grid
    far_enough = run > _SHORTEST_TANGENT
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(far_enough, (ensemble.density - t_density[:, None]) / run, -np.inf)
    row, best = np.arange(len(t)), slope.argmax(axis=1)
    inner = np.clip(best, 1, grid.size - 2)
    before, at, after = (slope[row, inner + k] for k in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (before - after) / (before - 2.0 * at + after)
        top = at - 0.25 * (before - after) * shift
    smooth = np.isfinite(shift) & np.isfinite(top) & (np.abs(shift) <= 1.0)
    touch = grid[inner] + np.where(smooth, shift, 0.0) * (grid[1] - grid[0])
    density = t_density + np.where(smooth, top, at) * (t - touch)
    # Where the line reaches the limit, the curve must have left the line: else there is no shoulder to touch.
    reached = t - (limit - t_density) / np.where(at > 0, at, np.nan)
    sag = limit - density_along(grid, ensemble.density, reached)
    touches = (best > 0) & far_enough[row, best] & (sag >= SAG)
    return np.where(touches, touch, np.nan), np.where(touches, density, np.inf)
