"""Speeds by the standards' rules, each with every reason why it may not bear the standard's name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import LAYERS, Channel, DensityKind, FloatArray, degrees, nominal_speed
from curves.sensitometry.measures.points import SPEED_NET, Extreme, Location, cautious, density_along, located, reach
from curves.sensitometry.measures.reversal_points import T_NET, ReversalPoints, reversal_points
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import Point, Speed

EXPOSURE_TIMES = (0.001, 0.5)
"""Shortest and longest exposure time that the standards allow for a speed: from memory [s]."""

REVERSAL_SPEED = 10.0
"""Speed of a reversal film times its Hm: ISO 2240, from memory, corroborated by worked cases [lux-seconds]."""

NEGATIVE_SPEED = 0.8
"""Speed of a black-and-white negative times the exposure of its speed point: ISO 6 [lux-seconds]."""

ISO_CONTRAST, CONTRAST_SPAN = 0.80, 1.30
"""Density that a black-and-white negative must gain, and the log H from its speed point over which: ISO 6 [density],
[log10]."""

CONTRAST_TOLERANCE = 0.05
"""Greatest difference from that gain at which a speed still bears the standard's name: from memory [density]."""

COLOUR_NET, COLOUR_SPEED = 0.15, math.sqrt(2.0)
"""Net density of the points of a colour negative [density], and speed times its Hm: ISO 5800, from memory
[lux-seconds]."""

TOE_SHARE, TOE_SPAN = 0.30, 1.50
"""Share of the average gradient that makes a toe steep enough for shadows [unitless], and the log H over which the
gradient is averaged: handbooks, the span from memory [log10]."""

_NOTHING = 1e-6
"""Greatest gain that counts as rounding of numbers [density]."""


@dataclass(frozen=True)
class LogHOrigin:
    """The exposure that log H counts from, and how it was found.

    Attributes:
        zero: the exposure that zero log H stands for: 1.0 if log H is in lux-seconds, else the metered one
            [lux-seconds].
        relative: True if log H counts from the meter.
        seconds: exposure time of the strip, None if not known [s].
        converted: True if the densities were converted from specular ones.
        matched: True if the densities are a scan's, matched to a densitometer's.
        unstated: what a standard asks to be stated and the record does not state, each a noun with its article.
    """

    zero: float = 1.0
    relative: bool = False
    seconds: float | None = None
    converted: bool = False
    matched: bool = False
    unstated: tuple[str, ...] = ()


def iso_2240(
    ensemble: Ensemble,
    base: Extreme,
    density: DensityKind,
    reference: LogHOrigin,
    *,
    points: ReversalPoints | None = None,
) -> Speed:
    """Return the speed of a reversal film by ISO 2240: 10 / Hm, Hm = sqrt(H_T * H_S) [lux-seconds].

    Rule from memory, corroborated by worked cases.

    Args:
        ensemble: curve of the channel.
        base: its Dmin.
        density: the kind of density that was read.
        reference: the exposure that log H counts from.
        points: T, S and M by the same rule, where they are known already.
    """
    points = points or reversal_points(ensemble, base)
    why_not = reasons(ensemble, density, "visual", reference)
    level = float(base.rows[0]) if base.reached else None
    used = {
        "T": Point(points.t.quantity, None if level is None else level + T_NET, f"Dmin + {T_NET:.2f}"),
        "S": Point(points.s.quantity, None if level is None else float(points.s_density[0]), points.branch),
    }
    why_not += [f"{name} lies off the strip" for name, point in used.items() if point.log_h.value is None]
    speed = _speed_at(points.m, ensemble, REVERSAL_SPEED / reference.zero)
    return as_speed(speed, why_not, points.branch, ensemble, used)


def reasons(ensemble: Ensemble, density: DensityKind, asked: DensityKind, reference: LogHOrigin) -> list[str]:
    """Return each condition of a standard that density and exposure do not meet, as a clause."""
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
    if reference.matched:
        why_not.append("densities come from a scan and were matched to a densitometer's, not read")
    if reference.relative:
        why_not.append("exposure was not measured: it rests on the meter and the index it was set to")
    why_not += [f"the record does not state {what}" for what in reference.unstated]
    shortest, longest = EXPOSURE_TIMES
    if reference.seconds is not None and not shortest <= reference.seconds <= longest:
        why_not.append(f"exposed for {reference.seconds:g} s, the standard asks for {shortest:g} to {longest:g} s")
    elif reference.seconds is None and not reference.relative:
        why_not.append("exposure time is not on record")
    return why_not


def as_speed(
    value: Quantity, why_not: list[str] | None, branch: str, ensemble: Ensemble, points: Mapping[str, Point]
) -> Speed:
    """Return a speed rounded to its nominal number and degrees; a bound has neither.

    Args:
        value: the arithmetic speed.
        why_not: each condition of its standard that the strip does not meet; None if no standard defines the speed.
        branch: the branch of the rule that fixed the speed.
        ensemble: curve of the channel that the speed was read from.
        points: the points of the curve that the speed was computed from.
    """
    number = value.value
    return Speed(
        value=value,
        nominal=None if number is None else nominal_speed(number),
        degrees=None if number is None else degrees(number),
        conforms=None if why_not is None else number is not None and not why_not,
        why_not=tuple(why_not or ()),
        branch=branch,
        channel=ensemble.channel,
        points=points,
    )


def scaled_power(
    point: Location, ensemble: Ensemble, factor: float, shift: float = 0.0, *, error: FloatArray
) -> Quantity:
    """Return factor * 10**-(log H - shift) as a quantity: a speed or an exposure index from a point.

    A bound on the point turns into the opposite bound on the result.

    Args:
        point: the point.
        ensemble: the curve that the point lies on, for the errors of log H.
        factor: the result where log H equals ``shift`` [unitless].
        shift: log H by which the tone is to lie above mid-grey [log10].
        error: error that joins that of log H: of a speed, or of an index that a meter is set to, (r,) [log10].
    """
    quantity = point.quantity
    if quantity.value is None:
        why = quantity.why or "the point lies off the strip"
        if quantity.bound is None:
            return Quantity.missing(why)
        side, end = quantity.bound
        spread = cautious(error, upper=side == "<") if error.size > 1 else 0.0
        limit = factor * 10.0 ** -(end + spread - shift)
        return Quantity.missing(why, below=limit) if side == ">" else Quantity.missing(why, above=limit)
    total = point.rows + ensemble.log_h_error + error
    beyond = ensemble.end_beside(point.rows[0])
    known = summarise(total, how=quantity.how, beyond=beyond + ensemble.log_h_error + error, note=quantity.note)
    assert known.value is not None
    value, *ends = (None if x is None else factor * 10.0 ** -(x - shift) for x in (known.value, known.high, known.low))
    assert value is not None
    u = None if known.u is None else value * math.log(10.0) * known.u
    rows = factor * 10.0 ** -(total - shift)
    return Quantity(value, ends[0], ends[1], known.how, note=quantity.note, u=u, rows=rows)


def _speed_at(point: Location, ensemble: Ensemble, factor: float, shift: float = 0.0) -> Quantity:
    """Return a standard's speed from its point."""
    return scaled_power(point, ensemble, factor, shift, error=ensemble.speed_error)


def iso_6(ensemble: Ensemble, base: Extreme, density: DensityKind, reference: LogHOrigin) -> Speed:
    """Return the speed of a black-and-white negative by ISO 6: S = 0.8 / Hm, Hm [lux-seconds] at Dmin + 0.10.

    The speed bears the standard's name only if the film was developed to the standard's contrast: 1.30 log H beyond the
    speed point the density must lie 0.80 above that point. The tolerance is from memory.

    Args:
        ensemble: the curve.
        base: its Dmin.
        density: the kind of density that was read.
        reference: the exposure that log H counts from.
    """
    at = f"Dmin + {SPEED_NET:.2f}"
    point = reach(ensemble, base.rows + SPEED_NET, base, f"the speed point ({at})")
    why_not = reasons(ensemble, density, "visual", reference)
    branch = f"at {at}"
    if point.quantity.value is None:
        why_not.append("the speed point lies off the strip")
    else:
        gained = contrast_gain(ensemble, point.rows, SPEED_NET + base.rows, CONTRAST_SPAN)
        asked = f"{ISO_CONTRAST:.2f} ± {CONTRAST_TOLERANCE:.2f} over {CONTRAST_SPAN:.2f} log H from the speed point"
        if not np.isfinite(gained):
            why_not.append(f"the strip is too short to judge its contrast: the standard asks for {asked}")
        else:
            branch += f", gaining {gained:.2f} over {CONTRAST_SPAN:.2f} log H"
            if abs(gained - ISO_CONTRAST) > CONTRAST_TOLERANCE + 1e-9:
                why_not.append(f"density gains {gained:.2f}, the standard asks for {asked}")
    level = float(base.rows[0]) + SPEED_NET if base.reached else None
    used = {"speed": Point(point.quantity, level, at)}
    return as_speed(_speed_at(point, ensemble, NEGATIVE_SPEED / reference.zero), why_not, branch, ensemble, used)


def iso_5800(
    layers: Mapping[Channel, tuple[Ensemble, Extreme]],
    density: DensityKind,
    reference: LogHOrigin,
) -> Speed:
    """Return the speed of a colour negative by ISO 5800: S = sqrt(2) / Hm, Hm = sqrt(H_green * H_slowest).

    Rule from memory. Each layer's exposure [lux-seconds] is taken at Dmin + 0.15, in status M densities.

    Args:
        layers: curve and Dmin of red, green and blue.
        density: the kind of density that was read.
        reference: the exposure that log H counts from.
    """
    at = f"Dmin + {COLOUR_NET:.2f}"
    found = {
        c: reach(ensemble, base.rows + COLOUR_NET, base, f"the {c} point ({at})")
        for c, (ensemble, base) in layers.items()
    }
    green = layers["green"][0]
    used: dict[str, Point] = {
        c: Point(found[c].quantity, float(b.rows[0]) + COLOUR_NET if b.reached else None, at)
        for c, (_, b) in layers.items()
    }
    why_not = reasons(green, density, "status M", reference)
    # A layer whose point lies before the strip, on the fast side of green's, is not the slowest: no loss.
    at_green, _ = found["green"].quantity.known_ends
    counted = [c for c in LAYERS if found[c].quantity.value is not None or found[c].quantity.known_ends[1] >= at_green]
    lost = [c for c in counted if found[c].quantity.value is None]
    if lost:
        why_not.append(f"the point of {', '.join(lost)} lies off the strip")
        speed = _speed_at(_bounded_mean(found), green, COLOUR_SPEED / reference.zero)
        return as_speed(speed, why_not, "a point was not reached", green, used)
    slowest = max(counted, key=lambda c: float(found[c].rows[0]))
    rows = 0.5 * (found["green"].rows + np.max([found[c].rows for c in counted], axis=0))
    mean = located(green, rows)
    pair = "green, which is the slowest too" if slowest == "green" else f"green and the slowest layer, {slowest}"
    branch = f"from {pair}, at {at}"
    return as_speed(_speed_at(mean, green, COLOUR_SPEED / reference.zero), why_not, branch, green, used)


def _bounded_mean(found: Mapping[Channel, Location]) -> Location:
    """Return the mean log H of green and the slowest layer where some layer's point lies off the strip: a bound.

    Args:
        found: the point of each layer, at least one of them a bound or unknown.
    """
    why = next(at.quantity.why for at in found.values() if at.quantity.value is None)
    ends = np.array([at.quantity.known_ends for at in found.values()])
    least, most = 0.5 * (np.array(found["green"].quantity.known_ends) + ends.max(axis=0))
    rows = np.full_like(found["green"].rows, np.nan)
    return Location(rows, Quantity.within(why or "", float(least), float(most)))


def fractional_gradient(ensemble: Ensemble, base: Extreme, density: DensityKind, reference: LogHOrigin) -> Speed:
    """Return the fractional-gradient speed: from the point at which the toe is steep enough for shadows.

    The point is where the gradient is 0.3 of the average gradient over the 1.50 log H that follow it (handbooks of
    sensitometry; the interval from memory). To compare with ISO 6, the speed is the ISO 6 speed of a film of the
    standard's contrast with the same fractional-gradient point: `delta_x` separates that point from the 0.10 point.

    Args:
        ensemble: the curve.
        base: its Dmin.
        density: the kind of density that was read.
        reference: the exposure that log H counts from.
    """
    why_not = reasons(ensemble, density, "visual", reference)
    point = gradient_point(ensemble)
    branch = f"where the gradient is {TOE_SHARE:.1f} of its mean over the next {TOE_SPAN:.2f} log H"
    if point.quantity.value is None:
        why_not.append("the point lies off the strip")
    elif base.reached:
        quick = _quick_form(ensemble, base)
        if np.isfinite(quick):
            branch += f"; the quick form puts it {quick - float(point.rows[0]):+.2f} log H from there"
    shifted = _speed_at(point, ensemble, NEGATIVE_SPEED / reference.zero, -float(delta_x(ISO_CONTRAST)))
    at = (
        None
        if point.quantity.value is None
        else float(density_along(ensemble.grid, ensemble.density[:1], point.rows[:1])[0])
    )
    used = {"fractional gradient": Point(point.quantity, at, f"gradient {TOE_SHARE:.1f} of the average")}
    return as_speed(shifted, why_not, branch, ensemble, used)


def delta_x(gain: ArrayLike) -> FloatArray:
    """Return the log H from the fractional-gradient point up to the 0.10 point [log10]: 0.83 - 0.86 d + 0.24 d**2.

    The quick form of the fractional-gradient speed, from memory.

    Args:
        gain: density d that the curve gains over 1.30 log H from the 0.10 point, any shape, 0.6 to 1.0 [density].
    """
    d = np.asarray(gain, dtype=np.float64)
    return np.asarray(0.83 - 0.86 * d + 0.24 * d**2)


def contrast_gain(ensemble: Ensemble, log_h: FloatArray, density: FloatArray, interval: float) -> float:
    """Return the density that the fitted curve gains over ``interval`` [log10] from a point; NaN off the strip.

    Args:
        ensemble: the curve.
        log_h, density: the point, (r,) each [log10], [density].
        interval: log H from it [log10].
    """
    return float((density_along(ensemble.grid, ensemble.density, log_h + interval) - density)[0])


def gradient_point(ensemble: Ensemble) -> Location:
    """Return the point of a rising curve whose gradient is 0.3 of the average gradient over the next 1.50 log H."""
    grid, rows = ensemble.grid, ensemble.density
    within = grid <= grid[-1] - TOE_SPAN
    lost = np.full(len(rows), np.nan)
    why = f"the strip holds less than {TOE_SPAN:.2f} log H beyond the toe: give {ensemble.amount(0.6)} more exposure"
    if within.sum() < 2:
        return Location(lost, Quantity.missing(why))
    x = grid[within]
    gained = along_rows(x + TOE_SPAN, grid, rows) - rows[:, within]
    excess = ensemble.gradient[:, within] - TOE_SHARE * gained / TOE_SPAN
    # Where nothing is gained yet, both sides are zero: the toe has not begun.
    short = np.asarray((excess < 0.0) | (gained <= _NOTHING))
    # Down from the steepest place, not up from the toe: there, the noise of a level toe satisfies the rule at once.
    row, column = np.arange(len(rows)), np.arange(x.size)
    steepest = np.where(short, -np.inf, ensemble.gradient[:, within]).argmax(axis=1)
    last_short = np.where(short & (column < steepest[:, None]), column, -1).max(axis=1)
    found_one = np.asarray(~short.all(axis=1))
    before, here = excess[row, np.maximum(last_short, 0)], excess[row, last_short + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(here > before, here / (here - before), 0.0)
    point = x[last_short + 1] - (x[1] - x[0]) * np.clip(share, 0.0, 1.0)
    found = np.where(found_one & (last_short >= 0), point, np.nan)
    if np.isfinite(found[0]):
        return located(ensemble, found, float(grid[0]))
    counted = np.where(np.isfinite(found), found, np.where(found_one, grid[0], x[-1])) + ensemble.log_h_error
    if found_one[0]:
        steep = ensemble.end_step(most_exposed=False)
        why = f"the curve is steep already at {steep}: give {ensemble.amount(0.6)} less exposure"
        return Location(found, Quantity.missing(why, below=cautious(counted, upper=True)))
    return Location(found, Quantity.missing(why, above=cautious(counted, upper=False)))


def _quick_form(ensemble: Ensemble, base: Extreme) -> float:
    """Return the log H of the fractional-gradient point by the quick form; NaN if it lies off the strip [log10]."""
    start = reach(ensemble, base.rows + SPEED_NET, base, "the 0.10 point")
    gain = contrast_gain(ensemble, start.rows, base.rows + SPEED_NET, CONTRAST_SPAN)
    return float(start.rows[0]) - float(delta_x(gain))
