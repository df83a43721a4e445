"""Contrast: gamma, average gradients, contrast index, toe and shoulder, and how many stops the film reproduces."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray, sign_of
from curves.sensitometry.measures.points import Extreme, Location, crossing, density_along
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise

STRAIGHT = 0.90
"""Share of the greatest gradient that still counts as the straight-line part: our own choice [unitless]."""

CONTRAST_INDEX_RADII = (0.2, 2.2)
"""Radii at which the contrast-index line meets the curve, from an origin on the base-plus-fog line [density]."""

_BISECTIONS = 24

_OFF_STRIP = "a point that the measure needs lies off the strip"


@dataclass(frozen=True, eq=False)
class StraightLine:
    """The straight-line part, row by row.

    Attributes:
        gamma: slope, positive for both kinds, (r,) [density per log10 H].
        start, end: log H at which it begins and ends, (r,) [log10].
    """

    gamma: FloatArray
    start: FloatArray
    end: FloatArray


def straight_line(ensemble: Ensemble) -> StraightLine:
    """Find the straight-line part: the longest log H interval with a gradient of at least 90 % of the greatest.

    Gamma is the least-squares slope of the curve over that interval.
    """
    grid, rows = ensemble.grid, ensemble.density
    steep = np.abs(ensemble.gradient)
    inside = steep >= STRAIGHT * steep.max(axis=1, keepdims=True)
    length = np.zeros(inside.shape, dtype=np.intp)
    length[:, 0] = inside[:, 0]
    for column in range(1, grid.size):
        length[:, column] = (length[:, column - 1] + 1) * inside[:, column]
    last = length.argmax(axis=1)
    row = np.arange(len(rows))
    first = last - length[row, last] + 1
    # A part of one grid point (a spike) is widened by a neighbour, so that it has a slope.
    first, last = (
        np.where(first == last, np.maximum(first - 1, 0), first),
        np.where(first == last, np.minimum(last + 1, grid.size - 1), last),
    )

    def between(values: FloatArray) -> FloatArray:
        total = np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)
        return np.asarray(total[row, last + 1] - total[row, first])

    x = np.broadcast_to(grid - grid.mean(), rows.shape)
    count = last - first + 1.0
    sx, sy, sxy, sxx = between(x), between(rows), between(x * rows), between(x * x)
    slope = (count * sxy - sx * sy) / (count * sxx - sx * sx)
    return StraightLine(np.abs(slope), grid[first], grid[last])


def gamma(ensemble: Ensemble, line: StraightLine | None = None) -> Quantity:
    """Return gamma, the slope of the straight-line part [density per log10 H], positive for both kinds.

    The steepest part of a curve that wiggles is steeper than the film's. The draws wiggle about an estimate that
    wiggles already, so the draws' gain over the estimate shows how far the estimate may exceed the film; on a curve
    with one steepest place the estimate does not exceed it. The interval spans both cases: the draws as they are,
    and the draws with twice the gain taken out.

    Args:
        ensemble: the curve.
        line: its straight-line part; found here if None.
    """
    line = line or straight_line(ensemble)
    rows, note = line.gamma, f"over log H {line.start[0]:.2f} to {line.end[0]:.2f}"
    gained = float(np.median(rows[1:]) - rows[0]) if rows.size > 1 else 0.0
    whole = summarise(rows, note=note, how=ensemble.how)
    lower = summarise(np.r_[rows[0], rows[1:] - 2.0 * gained], note=note, how=ensemble.how)
    if whole.low is None or whole.high is None or lower.low is None or lower.high is None:
        return whole
    return replace(whole, low=min(whole.low, lower.low), high=max(whole.high, lower.high))


def average_gradient(
    ensemble: Ensemble, base: Extreme, *, net: tuple[float, float] | None = None, interval: float = 1.30
) -> Quantity:
    """Return the slope of the chord between two points of the curve [density per log10 H], positive.

    Args:
        ensemble: the curve.
        base: its Dmin.
        net: the two net densities to join [density]; if None, the chord starts at net density 0.10 and spans
            ``interval``.
        interval: log H from the speed point at net 0.10; 1.30 and 1.50 are in use [log10].
    """
    if net is not None:
        note = f"between net densities {net[0]:.2f} and {net[1]:.2f}"
        levels = [base.rows + n for n in net]
        x = [crossing(ensemble.grid, ensemble.density, level) for level in levels]
        rows = np.abs((levels[1] - levels[0]) / (x[1] - x[0]))
    else:
        note = f"over {interval:.2f} log H from net density 0.10"
        start = crossing(ensemble.grid, ensemble.density, base.rows + 0.10)
        far = start + sign_of(ensemble.kind) * interval
        rows = (density_along(ensemble.grid, ensemble.density, far) - base.rows - 0.10) / interval
    return _chord(ensemble, base, rows, note)


def contrast_index(ensemble: Ensemble, base: Extreme) -> Quantity:
    """Return the contrast index: the slope of the line that meets the curve at radii 0.2 and 2.2.

    The radii are drawn, with equal units on both axes, from an origin on the base-plus-fog line chosen so that the
    origin and both points lie on one line. A reversal curve is mirrored. A straight line of slope g that leaves the
    base-plus-fog line has contrast index g.

    Args:
        ensemble: the curve.
        base: its Dmin.
    """
    near, far = CONTRAST_INDEX_RADII
    shallow, steep = (np.full(len(base.rows), np.arctan(slope)) for slope in (0.05, 10.0))
    for _ in range(_BISECTIONS):
        angle = 0.5 * (shallow + steep)
        low = crossing(ensemble.grid, ensemble.density, base.rows + near * np.sin(angle))
        high = crossing(ensemble.grid, ensemble.density, base.rows + far * np.sin(angle))
        # Between the two densities a shallow line has too long a run for the curve, a steep one too short. A line whose
        # near end lies off the strip is too shallow, one whose far end does is too steep to be judged.
        fits = np.isnan(low) | (np.abs(high - low) < (far - near) * np.cos(angle))
        fits &= np.isfinite(high)
        shallow, steep = np.where(fits, angle, shallow), np.where(fits, steep, angle)
    # Where the search ended at the end of the strip, the line that fits was not found: it is steeper still.
    beyond = crossing(ensemble.grid, ensemble.density, base.rows + far * np.sin(steep))
    within = crossing(ensemble.grid, ensemble.density, base.rows + near * np.sin(shallow))
    reached = np.isfinite(beyond) & np.isfinite(within)
    return _chord(ensemble, base, np.where(reached, np.tan(angle), np.nan), "radii 0.2 and 2.2")


def gradient_about(ensemble: Ensemble, point: Location, name: str, *, width: float = STOP) -> Quantity:
    """Return the slope of the chord that is ``width`` long and has a point at its middle, positive.

    The slope is the contrast that the eye sees in one range of tones; a stop is about the least difference that the eye
    compares (our own choice).

    Args:
        ensemble: the curve.
        point: the point at the middle.
        name: name of the point.
        width: log H from end to end of the chord [log10].
    """
    note = f"over {width / STOP:.0f} stop about {name}"
    if point.quantity.value is None:
        return Quantity.missing(f"{name} was not reached: {point.quantity.why}", note=note)
    ends = [density_along(ensemble.grid, ensemble.density, point.rows + half * width) for half in (-0.5, 0.5)]
    rows = np.abs(ends[1] - ends[0]) / width
    if not np.isfinite(rows[0]):
        return Quantity.missing(f"the strip ends within half of {width:.2f} log H from {name}", note=note)
    return summarise(rows, note=note, how=ensemble.how)


def toe_stops(ensemble: Ensemble, base: Extreme, line: StraightLine, highlight: float) -> Quantity:
    """Return the length of the toe: from net density ``highlight`` to where the straight-line part begins [stops].

    Args:
        ensemble: the curve.
        base: its Dmin.
        line: its straight-line part.
        highlight: net density at the thin end of reproduction [density].
    """
    note = f"from net density {highlight:.2f} to the straight-line part"
    if not base.reached:
        return Quantity.missing(f"counted from Dmin, which is not known: {base.quantity.why}", note=note)
    thin = crossing(ensemble.grid, ensemble.density, base.rows + highlight)
    return _length(ensemble, thin - line.end if ensemble.kind == "reversal" else line.start - thin, note)


def straight_stops(ensemble: Ensemble, line: StraightLine) -> Quantity:
    """Return the length of the straight-line part [stops]; a bound where the strip begins or ends within it."""
    length = (line.end - line.start) / STOP
    grid = ensemble.grid
    if line.start[0] <= grid[0] or line.end[0] >= grid[-1]:
        return Quantity.missing("the strip ends while the curve is still straight", above=float(length[0]))
    return summarise(length, how=ensemble.how)


def shoulder_stops(ensemble: Ensemble, base: Extreme, top: Extreme, line: StraightLine, shadow: float) -> Quantity:
    """Return the length of the shoulder: from the straight-line part to a share of the density range [stops].

    Args:
        ensemble: the curve.
        base, top: its Dmin and Dmax.
        line: its straight-line part.
        shadow: share of Dmax - Dmin at the dense end of reproduction [unitless].
    """
    note = f"from the straight-line part to {100 * shadow:.0f} % of the density range"
    for name, extreme in (("Dmin", base), ("Dmax", top)):
        if not extreme.reached:
            return Quantity.missing(f"counted from {name}, which is not known: {extreme.quantity.why}", note=note)
    dense = crossing(ensemble.grid, ensemble.density, base.rows + shadow * (top.rows - base.rows))
    return _length(ensemble, line.start - dense if ensemble.kind == "reversal" else dense - line.end, note)


def densest(ensemble: Ensemble) -> Quantity:
    """Return the highest density on the strip itself [density], whether or not it is the Dmax."""
    most_exposed = ensemble.kind == "negative"
    rows = ensemble.density[:, -1 if most_exposed else 0] + ensemble.level_error
    end = ensemble.grid[-1 if most_exposed else 0]
    note = f"at log H {end:.2f}, {ensemble.end_step(most_exposed=most_exposed)}"
    return summarise(rows, note=note, how=ensemble.how)


def range_stops(ensemble: Ensemble, base: Extreme, top: Extreme, highlight: float, shadow: float) -> Quantity:
    """Return the exposure range that the curve reproduces [stops].

    Args:
        ensemble: the curve.
        base, top: its Dmin and Dmax.
        highlight: net density at the thin end of reproduction [density].
        shadow: share of Dmax - Dmin at the dense end of reproduction [unitless].
    """
    thin = crossing(ensemble.grid, ensemble.density, base.rows + highlight)
    dense = crossing(ensemble.grid, ensemble.density, base.rows + shadow * (top.rows - base.rows))
    note = f"from net density {highlight:.2f} to {100 * shadow:.0f} % of the density range"
    rows = np.abs(thin - dense) / STOP
    if base.reached and top.reached and np.isfinite(rows[0]):
        return summarise(rows, note=note, how=ensemble.how)
    reason = next((q.quantity.why for q in (base, top) if not q.reached), _OFF_STRIP)
    known = float(rows[0]) if np.isfinite(rows[0]) else None
    return Quantity.missing(f"the strip does not hold the whole curve: {reason}", above=known, note=note)


def _length(ensemble: Ensemble, rows: FloatArray, note: str) -> Quantity:
    """Return the length of a log H interval, ``rows`` (r,) [log10], in stops; zero where its ends have crossed."""
    if not np.isfinite(rows[0]):
        return Quantity.missing(_OFF_STRIP, note=note)
    return summarise(np.maximum(rows, 0.0) / STOP, note=note, how=ensemble.how)


def _chord(ensemble: Ensemble, base: Extreme, rows: FloatArray, note: str) -> Quantity:
    """Return the slope in ``rows`` (r,) as a quantity, or the reason why the chord cannot be drawn."""
    if not base.reached:
        return Quantity.missing(f"counted from Dmin, which is not known: {base.quantity.why}", note=note)
    if not np.isfinite(rows[0]):
        return Quantity.missing(_OFF_STRIP, note=note)
    return summarise(rows, note=note, how=ensemble.how)
