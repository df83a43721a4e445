"""Speeds of negative films by the standards' rules, each with every reason why it may not carry the standard's name."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, Channel, DensityKind, FloatArray
from curves.sensitometry.measures.points import Extreme, Location, density_along, located, reach
from curves.sensitometry.measures.speeds import LogHOrigin, as_speed, reasons, scaled_power
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Point, Speed

ISO_CONTRAST = 0.80
"""Density that a black-and-white negative must gain over 1.30 log H from its speed point: ISO 6 [density]."""

_NOTHING = 1e-6
"""A gain that is only the rounding of numbers [density]."""


def iso_6(
    ensemble: Ensemble,
    base: Extreme,
    density: DensityKind,
    reference: LogHOrigin,
    *,
    criterion: float = 0.10,
    interval: float = 1.30,
    gain: float = ISO_CONTRAST,
    tolerance: float = 0.05,
    constant: float = 0.8,
) -> Speed:
    """Return the speed of a black-and-white negative by ISO 6: S = 0.8 / Hm, Hm [lux-seconds] at Dmin + 0.10.

    It carries the standard's name only if the film was developed to the standard's contrast: 1.30 log H beyond the
    speed point the density must lie 0.80 above it. The tolerance of that is from memory.

    Args:
        ensemble: the curve.
        base: its Dmin.
        density: the kind of density that was read.
        reference: what log H counts from.
        criterion: net density of the speed point [density].
        interval: log H from the speed point at which contrast is judged [log10].
        gain, tolerance: the density to be gained there, and how exactly [density].
        constant: speed times Hm [lux-seconds].
    """
    point = reach(ensemble, base.rows + criterion, base, f"the speed point (Dmin + {criterion:.2f})")
    why_not = reasons(ensemble, density, "visual", reference)
    branch = f"at Dmin + {criterion:.2f}"
    if point.quantity.value is None:
        why_not.append("the speed point lies off the strip")
    else:
        gained = contrast_gain(ensemble, point.rows, criterion + base.rows, interval)
        wanted = f"the standard asks for {gain:.2f} ± {tolerance:.2f} over {interval:.2f} log H from the speed point"
        if not np.isfinite(gained):
            why_not.append(f"the strip ends before its contrast can be judged: {wanted}")
        else:
            branch += f", gaining {gained:.2f} over {interval:.2f} log H"
            if abs(gained - gain) > tolerance + 1e-9:
                why_not.append(f"density gains {gained:.2f}, {wanted}")
    level = float(base.rows[0]) + criterion if base.reached else None
    used = {"speed": Point(point.quantity, level, f"Dmin + {criterion:.2f}")}
    return as_speed(scaled_power(point, ensemble, constant / reference.zero), why_not, branch, ensemble, used)


def iso_5800(
    layers: Mapping[Channel, tuple[Ensemble, Extreme]],
    density: DensityKind,
    reference: LogHOrigin,
    *,
    criterion: float = 0.15,
    constant: float = math.sqrt(2.0),
) -> Speed:
    """Return the speed of a colour negative by ISO 5800: S = sqrt(2) / Hm, Hm = sqrt(H_green * H_slowest).

    Rule from memory. Each layer's exposure [lux-seconds] is taken at Dmin + 0.15, in status M densities.

    Args:
        layers: curve and Dmin of red, green and blue.
        density: the kind of density that was read.
        reference: what log H counts from.
        criterion: net density of the points [density].
        constant: speed times Hm [lux-seconds].
    """
    found = {
        c: reach(ensemble, base.rows + criterion, base, f"the {c} point (Dmin + {criterion:.2f})")
        for c, (ensemble, base) in layers.items()
    }
    green = layers["green"][0]
    used: dict[str, Point] = {
        c: Point(found[c].quantity, float(b.rows[0]) + criterion if b.reached else None, f"Dmin + {criterion:.2f}")
        for c, (_, b) in layers.items()
    }
    why_not = reasons(green, density, "status M", reference)
    lost = [c for c in LAYERS if found[c].quantity.value is None]
    if lost:
        why_not.append(f"the point of {', '.join(lost)} lies off the strip")
        why = found[lost[0]].quantity.why or ""
        missing = Location(found[lost[0]].rows, Quantity.missing(why))
        speed = scaled_power(missing, green, constant / reference.zero)
        return as_speed(speed, why_not, "a point was not reached", green, used)
    slowest = max(LAYERS, key=lambda c: float(found[c].rows[0]))
    rows = 0.5 * (found["green"].rows + np.max([found[c].rows for c in LAYERS], axis=0))
    mean = located(green, rows)
    pair = "green, which is the slowest too" if slowest == "green" else f"green and the slowest layer, {slowest}"
    branch = f"from {pair}, at Dmin + {criterion:.2f}"
    return as_speed(scaled_power(mean, green, constant / reference.zero), why_not, branch, green, used)


def fractional_gradient(
    ensemble: Ensemble,
    base: Extreme,
    density: DensityKind,
    reference: LogHOrigin,
    *,
    fraction: float = 0.30,
    interval: float = 1.50,
    constant: float = 0.8,
) -> Speed:
    """Return the fractional-gradient speed: where the toe becomes steep enough for shadows, whatever the contrast.

    The point is where the gradient is 0.3 of the average gradient over the 1.50 log H that follow it (handbooks of
    sensitometry; the interval from memory). To compare with ISO 6, the speed is what that rule would give a film of
    the standard's contrast with its fractional-gradient point there: `delta_x` lies between the two points.

    Args:
        ensemble: the curve.
        base: its Dmin.
        density: the kind of density that was read.
        reference: what log H counts from.
        fraction: share of the average gradient [unitless].
        interval: log H over which it is averaged [log10].
        constant: speed times Hm of ISO 6 [lux-seconds].
    """
    why_not = reasons(ensemble, density, "visual", reference)
    point = gradient_point(ensemble, fraction=fraction, interval=interval)
    branch = f"where the gradient is {fraction:.1f} of its mean over the next {interval:.2f} log H"
    if point.quantity.value is None:
        why_not.append("the point lies off the strip")
    elif base.reached:
        quick = _quick_form(ensemble, base)
        if np.isfinite(quick):
            branch += f"; the quick form puts it {quick - float(point.rows[0]):+.2f} log H from there"
    shifted = scaled_power(point, ensemble, constant / reference.zero, -float(delta_x(ISO_CONTRAST)))
    at = (
        None
        if point.quantity.value is None
        else float(density_along(ensemble.grid, ensemble.density[:1], point.rows[:1])[0])
    )
    used = {"fractional gradient": Point(point.quantity, at, f"gradient {fraction:.1f} of the average")}
    return as_speed(shifted, why_not, branch, ensemble, used)


def delta_x(gain: ArrayLike) -> FloatArray:
    """Return how far the fractional-gradient point lies below the 0.10 point [log10]: 0.83 - 0.86 d + 0.24 d**2.

    The quick form of the fractional-gradient speed, from memory.

    Args:
        gain: density d gained over 1.30 log H from the 0.10 point, any shape [density]; made for 0.6 to 1.0.
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


def gradient_point(ensemble: Ensemble, *, fraction: float = 0.30, interval: float = 1.50) -> Location:
    """Return the point whose gradient is ``fraction`` of the average gradient over the ``interval`` that follows.

    Args:
        ensemble: a rising curve.
        fraction: share of the average gradient [unitless].
        interval: log H over which it is averaged [log10].
    """
    grid, rows = ensemble.grid, ensemble.density
    within = grid <= grid[-1] - interval
    lost = np.full(len(rows), np.nan)
    why = f"the strip holds less than {interval:.2f} log H beyond the toe: give 0.6 log H more exposure"
    if within.sum() < 2:
        return Location(lost, Quantity.missing(why))
    x = grid[within]
    after = np.clip(np.searchsorted(grid, x + interval), 1, grid.size - 1)
    share = (x + interval - grid[after - 1]) / (grid[1] - grid[0])
    ahead = rows[:, after - 1] + share * (rows[:, after] - rows[:, after - 1])
    gained = ahead - rows[:, within]
    excess = ensemble.gradient[:, within] - fraction * gained / interval
    # Where nothing is gained yet, both sides are zero: the toe has not begun.
    enough = (excess >= 0.0) & (gained > _NOTHING)
    first = enough.argmax(axis=1)
    row = np.arange(len(rows))
    before, here = excess[row, np.maximum(first - 1, 0)], excess[row, first]
    with np.errstate(divide="ignore", invalid="ignore"):
        point = x[first] - (x[1] - x[0]) * here / (here - before)
    found = np.where(enough.any(axis=1) & (first > 0), point, np.nan)
    if np.isfinite(found[0]):
        return located(ensemble, found, float(grid[0]))
    if enough[0, 0]:
        why = "the curve is already steep at the first step: give 0.6 log H less exposure"
        return Location(found, Quantity.missing(why, below=float(grid[0])))
    return Location(found, Quantity.missing(why, above=float(x[-1])))


def _quick_form(ensemble: Ensemble, base: Extreme) -> float:
    """Return where the quick form puts the fractional-gradient point [log10]; NaN if that lies off the strip."""
    start = reach(ensemble, base.rows + 0.10, base, "the 0.10 point")
    gain = contrast_gain(ensemble, start.rows, base.rows + 0.10, 1.30)
    return float(start.rows[0]) - float(delta_x(gain))
