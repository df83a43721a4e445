"""Speeds by the standards' rules, each with every reason why it may not be called by the standard's name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import DensityKind, FloatArray, degrees, nominal_speed
from curves.sensitometry.measures.points import Extreme, Location, cautious, density_along, located, reach
from curves.sensitometry.uncertainty.ensemble import Ensemble, summarise
from curves.sensitometry.uncertainty.results import Point, Speed

T_NET, S_NET = 0.20, 2.00
"""Net densities of the highlight point T and the shadow point S of a reversal film [density]."""

_SHORTEST_TANGENT = 0.30
"""Nearest to T that the shoulder can lie: one stop. Nearer, the line's slope is the noise of the fit [log10]."""

SAG = 0.02
"""How far the curve must fall below the line from T, where the line reaches S's density, to have a shoulder there:
about the scatter of a reading, our own choice [density]. Every point of a straight line is tangent to it."""


EXPOSURE_TIMES = (0.001, 0.5)
"""Shortest and longest exposure by which the standards let a speed be measured: from memory [s]."""


UNSURE = 0.20
"""Share of the draws that must take the other branch of ISO 2240's rule before the branch is in doubt: own choice."""


@dataclass(frozen=True)
class LogHOrigin:
    """What log H counts from, and how that is known.

    Attributes:
        zero: the exposure that zero log H stands for: 1.0 if log H is in lux-seconds, else the metered one
            [lux-seconds].
        relative: True if log H counts from the meter.
        seconds: exposure time of the strip, None if it is not known [s].
        converted: True if the densities were converted from those of a specular instrument.
    """

    zero: float = 1.0
    relative: bool = False
    seconds: float | None = None
    converted: bool = False


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
        """Which branch of the rule fixed S, in words."""
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
        tangent: whether the tangent rule is in force.
    """
    t_level, level = base.rows + t_net, base.rows + s_net
    t = reach(ensemble, t_level, base, f"T (Dmin + {t_net:.2f})")
    by_tangent = np.zeros(len(level), dtype=bool)
    touch = np.full_like(level, np.nan)
    if tangent and base.reached and np.isfinite(t.rows[0]):
        touch, touch_density = _tangent_point(ensemble, t.rows, t_level, level)
        by_tangent = touch_density < level
        # Draws wiggle about an estimate that wiggles already, so they change branch too readily: where few do, the
        # branch of the estimate holds for all.
        if (by_tangent != by_tangent[0]).mean() < UNSURE:
            by_tangent &= by_tangent[0]
        level = np.where(by_tangent, touch_density, level)
    s = reach(ensemble, level, base, f"S (Dmin + {s_net:.2f})")
    if by_tangent.any() and s.quantity.value is not None:
        rows = np.where(by_tangent, touch, s.rows)
        s = located(ensemble, rows, float(ensemble.grid[0]))
    return ReversalPoints(t, s, _mean_point(ensemble, t, s), level, bool(by_tangent[0]))


def _mean_point(ensemble: Ensemble, t: Location, s: Location) -> Location:
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
    # Where the line reaches the limit, the curve must have left it: else there is no shoulder to touch.
    reached = t - (limit - t_density) / np.where(at > 0, at, np.nan)
    sag = limit - density_along(grid, ensemble.density, reached)
    touches = (best > 0) & far_enough[row, best] & (sag >= SAG)
    return np.where(touches, touch, np.nan), np.where(touches, density, np.inf)


def iso_2240(
    ensemble: Ensemble,
    base: Extreme,
    density: DensityKind,
    reference: LogHOrigin,
    *,
    t_net: float = T_NET,
    s_net: float = S_NET,
    tangent: bool = True,
    constant: float = 10.0,
) -> Speed:
    """Return the speed of a reversal film by ISO 2240: 10 / Hm, Hm = sqrt(H_T * H_S) [lux-seconds].

    Rule from memory, corroborated by worked cases.

    Args:
        ensemble: curve of the channel.
        base: its Dmin.
        density: the kind of density that was read.
        reference: what log H counts from.
        t_net, s_net: net densities of T and S [density].
        tangent: whether the tangent to the shoulder may fix S.
        constant: speed times Hm [lux-seconds].
    """
    points = reversal_points(ensemble, base, t_net=t_net, s_net=s_net, tangent=tangent)
    why_not = reasons(ensemble, density, "visual", reference)
    level = float(base.rows[0]) if base.reached else None
    used = {
        "T": Point(points.t.quantity, None if level is None else level + t_net, f"Dmin + {t_net:.2f}"),
        "S": Point(points.s.quantity, None if level is None else float(points.s_density[0]), points.branch),
    }
    why_not += [f"{name} lies off the strip" for name, point in used.items() if point.log_h.value is None]
    return as_speed(scaled_power(points.m, ensemble, constant / reference.zero), why_not, points.branch, ensemble, used)


def reasons(ensemble: Ensemble, density: DensityKind, asked: DensityKind, reference: LogHOrigin) -> list[str]:
    """Return why density and exposure are not what a standard asks for, each a clause."""
    why_not = []
    if asked == "visual" and ensemble.channel != "visual":
        why_not.append(
            f"{density} {ensemble.channel} density stands in for visual density, which the standard asks for"
        )
    elif density == "scan" or (asked != "visual" and density != asked):
        why_not.append(f"density is {density}, the standard asks for {asked}")
    if ensemble.estimated:
        why_not.append("visual density was estimated from the layers, not read")
    if reference.converted:
        why_not.append("densities were read on a specular instrument and converted by one factor")
    if reference.relative:
        why_not.append("exposure was not measured: it rests on the meter and the index it was set to")
    shortest, longest = EXPOSURE_TIMES
    if reference.seconds is not None and not shortest <= reference.seconds <= longest:
        why_not.append(f"exposed for {reference.seconds:g} s, the standard asks for {shortest:g} to {longest:g} s")
    elif reference.seconds is None and not reference.relative:
        why_not.append("exposure time is not on record")
    return why_not


def as_speed(
    value: Quantity, why_not: list[str], branch: str, ensemble: Ensemble, points: Mapping[str, Point]
) -> Speed:
    """Return a speed rounded to its nominal number and degrees; a bound has neither."""
    number = value.value
    return Speed(
        value=value,
        nominal=None if number is None else nominal_speed(number),
        degrees=None if number is None else degrees(number),
        conforms=number is not None and not why_not,
        why_not=tuple(why_not),
        branch=branch,
        channel=ensemble.channel,
        points=points,
    )


def scaled_power(
    point: Location, ensemble: Ensemble, factor: float, shift: float = 0.0, *, meter: bool = False
) -> Quantity:
    """Return factor * 10**-(log H - shift) as a quantity: a speed or an exposure index from a point.

    A bound on the point turns into the opposite bound on the result.

    Args:
        point: the point.
        ensemble: the curve that it lies on, for the errors of its log H.
        factor: what log H = shift would give [unitless].
        shift: log H that the tone is meant to lie above mid-grey [log10].
        meter: True for an index that a meter is set to: the meter's own error joins.
    """
    quantity = point.quantity
    error = ensemble.meter_error if meter else np.zeros_like(ensemble.meter_error)
    if quantity.value is None:
        why = quantity.why or "the point lies off the strip"
        if quantity.bound is None:
            return Quantity.missing(why)
        side, end = quantity.bound
        spread = cautious(error, upper=side == "<") if error.size > 1 else 0.0
        limit = factor * 10.0 ** -(end + spread - shift)
        return Quantity.missing(why, below=limit) if side == ">" else Quantity.missing(why, above=limit)
    total = point.rows + ensemble.log_h_error + error
    beyond = float(ensemble.grid[-1 if point.rows[0] > ensemble.grid.mean() else 0])
    known = summarise(total, how=quantity.how, beyond=beyond + ensemble.log_h_error + error, note=quantity.note)
    assert known.value is not None
    value, *ends = (None if x is None else factor * 10.0 ** -(x - shift) for x in (known.value, known.high, known.low))
    assert value is not None
    u = None if known.u is None else value * math.log(10.0) * known.u
    return Quantity(value, ends[0], ends[1], known.how, note=quantity.note, u=u)
