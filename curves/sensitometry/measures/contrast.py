"""Contrast: gamma, average gradients, contrast index, toe and shoulder, and how many stops the film reproduces."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, BoolArray, FloatArray, IndexArray, sign_of
from curves.sensitometry.measures.points import Extreme, Location, cautious, crossing, density_along
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise

STRAIGHT = 0.90
"""Share of the greatest averaged gradient that still counts as the straight-line part: our own choice [unitless]."""

GAMMA_SPAN = 0.60
"""Log H over which gradients are averaged for gamma, two stops: our own choice. On a ladder of 0.15 steps the steepest
single place of a curve is ill-posed: its intervals held 88 % of simulated truths [log10]."""

CONTRAST_INDEX_RADII = (0.2, 2.2)
"""Radii at which the contrast-index line meets the curve, from an origin on the base-plus-fog line [density]."""

_SLOPES = (0.05, 10.0)
"""Slopes between which the contrast-index line is looked for [density per log10 H]."""

_LOOK_UPS = 20
"""Most pieces of a curve that are looked up for its contrast-index line [unitless]."""

_ROUNDING, _EXACT = 1e-7, 1e-9
"""Log H that is only the rounding of numbers: of log H that are given, and of those computed here [log10]."""


_OFF_STRIP = "a point that the measure needs lies off the strip"


@dataclass(frozen=True, eq=False)
class StraightLine:
    """The straight-line part, row by row; NaN where the strip is too short to have one.

    Attributes:
        gamma: slope, positive for both kinds, (r,) [density per log10 H].
        start, end: log H at which it begins and ends, (r,) [log10].
        cut: True if the straight-line part of the estimate reaches an end of the strip.
    """

    gamma: FloatArray
    start: FloatArray
    end: FloatArray
    cut: bool


def averaged_gradient(ensemble: Ensemble) -> tuple[FloatArray, FloatArray]:
    """Return the gradient averaged over `GAMMA_SPAN`, positive for both kinds, wherever both ends lie on the strip.

    Args:
        ensemble: the curve.

    Returns:
        The middles of the averages, (m,) [log10], and the averages, (r, m) [density per log10 H]; m is 0 on a strip
        shorter than the span.
    """
    grid, rows = ensemble.grid, ensemble.density
    spacing = (grid[-1] - grid[0]) / (grid.size - 1)
    # Half the span in cells: rounded, so that a span of whole cells does not lose its outer places to the last bits.
    cells = round(0.5 * GAMMA_SPAN / spacing, 6)
    reach = int(np.ceil(cells))
    part = cells - (reach - 1)
    inner = slice(reach, grid.size - reach)
    if grid.size <= 2 * reach:
        return grid[:0], rows[:, :0]
    size = grid.size - 2 * reach

    def shifted(columns: int) -> FloatArray:
        return rows[:, reach + columns : reach + columns + size]

    ahead = shifted(reach - 1) + part * (shifted(reach) - shifted(reach - 1))
    behind = shifted(1 - reach) + part * (shifted(-reach) - shifted(1 - reach))
    return grid[inner], np.abs(ahead - behind) / GAMMA_SPAN


def straight_line(ensemble: Ensemble) -> StraightLine:
    """Find the straight-line part: the longest run of places whose averaged gradient is at least 90 % of the greatest.

    The gradient is averaged over two stops about each place; gamma is its mean over the run.
    """
    middles, steep = averaged_gradient(ensemble)
    count = len(ensemble.density)
    if not middles.size:
        lost = np.full(count, np.nan)
        return StraightLine(lost, lost, lost, cut=True)
    limit = STRAIGHT * steep.max(axis=1, keepdims=True)
    column = np.arange(middles.size, dtype=np.int32)
    # The length of the run that ends in each column: how far back the last place outside lies.
    length = column - np.maximum.accumulate(np.where(steep >= limit, np.int32(-1), column), axis=1)
    last = length.argmax(axis=1)
    row = np.arange(count)
    cells = length[row, last]
    first = last - cells + 1
    total = np.cumsum(steep, axis=1)
    gamma = (total[row, last] - np.where(first > 0, total[row, first - 1], 0.0)) / cells
    cut = bool(first[0] == 0 or last[0] == middles.size - 1)
    start, end = (_edge(middles, steep, limit[:, 0], at, way) for at, way in ((first, -1), (last, 1)))
    return StraightLine(gamma, start, end, cut=cut)


def _edge(middles: FloatArray, steep: FloatArray, limit: FloatArray, at: IndexArray, way: int) -> FloatArray:
    """Return the log H where ``steep`` (r, m) passes ``limit`` (r,) beside column ``at`` (r,), as (r,) [log10]."""
    row, beyond = np.arange(len(steep)), np.minimum(np.maximum(at + way, 0), middles.size - 1)
    here, there = steep[row, at] - limit, steep[row, beyond] - limit
    share = np.where(there < 0.0, here / np.where(here > there, here - there, 1.0), 0.0)
    return np.asarray(middles[at] + share * (middles[beyond] - middles[at]))


def gamma(ensemble: Ensemble, line: StraightLine | None = None) -> Quantity:
    """Return gamma, the slope of the straight-line part [density per log10 H], positive for both kinds.

    Args:
        ensemble: the curve.
        line: its straight-line part; found here if None.
    """
    line = line or straight_line(ensemble)
    if not np.isfinite(line.gamma[0]):
        return Quantity.missing(f"the strip spans less than {GAMMA_SPAN:.2f} log H, over which gamma is averaged")
    note = f"over log H {line.start[0]:.2f} to {line.end[0]:.2f}, averaged over {GAMMA_SPAN / STOP:.0f} stops"
    return summarise(line.gamma, note=note, how=ensemble.how, reflected=True)


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
        near, far = (_on_strip(ensemble, base.rows + n) for n in net)
        run = np.abs(far.at - near.at)
        rows = (net[1] - net[0]) / np.where(run > 0.0, run, np.nan)
        return _chord(ensemble, base, rows, near.lost | far.lost, note)
    note = f"over {interval:.2f} log H from net density 0.10"
    near = _on_strip(ensemble, base.rows + 0.10)
    grid, end = ensemble.grid, near.at + sign_of(ensemble.kind) * interval
    on_strip = np.minimum(np.maximum(end, grid[0]), grid[-1])
    rows = (density_along(grid, ensemble.density, on_strip) - base.rows - 0.10) / interval
    return _chord(ensemble, base, rows, near.lost | (np.abs(end - on_strip) > _ROUNDING), note)


def contrast_index(ensemble: Ensemble, base: Extreme) -> Quantity:
    """Return the contrast index: the slope of the line that meets the curve at radii 0.2 and 2.2.

    The radii are drawn, with equal units on both axes, from an origin on the base-plus-fog line chosen so that the
    origin and both points lie on one line. A reversal curve is mirrored. A straight line of slope g that leaves the
    base-plus-fog line has contrast index g.

    Args:
        ensemble: the curve.
        base: its Dmin.
    """
    sine = _contrast_line(ensemble, base.rows)
    # A line that only just meets the curve meets its level end, where every log H would do.
    steeper = np.minimum(sine + 1e-3, 1.0)
    lost = [_on_strip(ensemble, base.rows + radius * steeper).lost for radius in CONTRAST_INDEX_RADII]
    slope = sine / np.sqrt(1.0 - sine**2)
    return _chord(ensemble, base, slope, lost[0] | lost[1], "radii 0.2 and 2.2")


def _contrast_line(ensemble: Ensemble, base: FloatArray) -> FloatArray:
    """Return the sine of the angle of the contrast-index line, (r,), above a base-plus-fog line of density ``base``.

    The line reaches two densities that grow with the sine. On the two straight pieces of the curve that reach the same
    densities, log H grows with the sine too, so that line and curve agree where a quadratic is zero; the pieces there
    are looked up in their turn, and are as a rule the last after two or three.
    """
    (near, far), way = CONTRAST_INDEX_RADII, sign_of(ensemble.kind)
    apart = far - near
    # A steeper line has a shorter run and spans more density: the curve's run exceeds the line's beyond one angle.
    low, high = (np.full(len(base), slope / np.hypot(slope, 1.0)) for slope in _SLOPES)
    sine = np.full(len(base), np.sqrt(0.5))
    for _ in range(_LOOK_UPS):
        first, last = (_piece(ensemble, base + radius * sine) for radius in (near, far))
        run, rate = way * (last.at - first.at), way * (far * last.rate - near * first.rate)
        excess = run - apart * np.sqrt(1.0 - sine**2)
        off = np.abs(excess) > _EXACT
        low, high = np.where(excess < 0.0, sine, low), np.where(excess > 0.0, sine, high)
        start = run - rate * sine
        square = apart**2 + rate**2
        root = (apart * np.sqrt(np.maximum(square - start**2, 0.0)) - start * rate) / square
        inside = (root > low) & (root < high)
        sine = np.where(off, np.where(inside, root, 0.5 * (low + high)), sine)
        # Where both densities lie on the pieces that were looked up, line and curve agree.
        there = inside & first.holds(base + near * sine) & last.holds(base + far * sine)
        if (there | ~off).all():
            break
    return sine


@dataclass(frozen=True, eq=False)
class _Piece:
    """The straight piece of each row, between two columns of the grid, on which the row reaches a density.

    Attributes:
        at: log H at which the row reaches the density, (r,) [log10]; the end of the strip for a row that does not.
        rate: change of that log H with the density, (r,) [log10 per density]; zero for a row that does not reach it.
        before, after: density of the row at the two columns, (r,) [density].
    """

    at: FloatArray
    rate: FloatArray
    before: FloatArray
    after: FloatArray

    def holds(self, level: FloatArray) -> BoolArray:
        """Return True for each row that reaches another ``level`` (r,) [density] on the same piece, as (r,)."""
        return np.asarray((self.rate != 0.0) & ((level - self.before) * (level - self.after) <= 0.0))


def _piece(ensemble: Ensemble, level: FloatArray) -> _Piece:
    """Return the piece of each row on which the row reaches its ``level``, (r,) [density]."""
    grid, rows, reached = ensemble.grid, ensemble.density, _on_strip(ensemble, level)
    row, column = np.arange(len(rows)), grid.searchsorted(reached.at)
    column = np.minimum(np.maximum(column, 1), grid.size - 1)
    before, after = rows[row, column - 1], rows[row, column]
    level_or_lost = reached.lost | (before == after)
    rate = (grid[column] - grid[column - 1]) / np.where(level_or_lost, 1.0, after - before)
    return _Piece(reached.at, np.where(level_or_lost, 0.0, rate), before, after)


def gradient_about(ensemble: Ensemble, point: Location, name: str) -> Quantity:
    """Return the slope of the chord that is a stop long and has a point at its middle, positive.

    The slope is the contrast that the eye sees in one range of tones; a stop is about the least difference that the eye
    compares (our own choice).

    Args:
        ensemble: the curve.
        point: the point at the middle.
        name: name of the point.
    """
    note = f"over 1 stop about {name}"
    if point.quantity.value is None:
        return Quantity.missing(f"{name} was not reached: {point.quantity.why}", note=note)
    grid = ensemble.grid
    # A row without the point has it beyond the end of the strip that lies next to the estimate's.
    beyond = ensemble.end_beside(point.rows[0])
    ends = [np.where(np.isfinite(point.rows), point.rows, beyond) + half * STOP for half in (-0.5, 0.5)]
    places = [np.minimum(np.maximum(end, grid[0]), grid[-1]) for end in ends]
    lost = (ends[0] < grid[0] - _ROUNDING) | (ends[1] > grid[-1] + _ROUNDING) | ~np.isfinite(point.rows)
    if lost[0]:
        return Quantity.missing(f"the strip ends within half a stop of {name}", note=note)
    # A chord that would run off the strip is counted over the part of it that does not.
    run = np.maximum(places[1] - places[0], 0.25 * STOP)
    densities = [density_along(grid, ensemble.density, place) for place in places]
    # So short a chord is smoothed as the curve is: its interval is widened as that of gamma.
    return _counted(ensemble, np.abs(densities[1] - densities[0]) / run, lost, note, reflected=True)


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
    if not np.isfinite(length[0]):
        return Quantity.missing(f"the strip spans less than {GAMMA_SPAN:.2f} log H, over which gamma is averaged")
    if line.cut:
        why = "the strip ends while the curve is still straight"
        return Quantity.missing(why, above=cautious(length, upper=False))
    return summarise(length, how=ensemble.how, reflected=True)


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
    return summarise(rows, note=note, how=ensemble.how, least=0.0)


def range_stops(ensemble: Ensemble, base: Extreme, top: Extreme, highlight: float, shadow: float) -> Quantity:
    """Return the exposure range that the curve reproduces [stops].

    Args:
        ensemble: the curve.
        base, top: its Dmin and Dmax.
        highlight: net density at the thin end of reproduction [density].
        shadow: share of Dmax - Dmin at the dense end of reproduction [unitless].
    """
    thin = _on_strip(ensemble, base.rows + highlight)
    dense = _on_strip(ensemble, base.rows + shadow * (top.rows - base.rows))
    note = f"from net density {highlight:.2f} to {100 * shadow:.0f} % of the density range"
    rows = np.abs(thin.at - dense.at) / STOP
    if base.reached and top.reached and not (thin.lost[0] or dense.lost[0]):
        return _counted(ensemble, rows, thin.lost | dense.lost, note)
    reason = next((q.quantity.why for q in (base, top) if not q.reached), _OFF_STRIP)
    why = f"the strip does not hold the whole curve: {reason}"
    return Quantity.missing(why, above=cautious(rows, upper=False), note=note)


@dataclass(frozen=True, eq=False)
class _Crossing:
    """The log H ``at`` which each row reaches a density, (r,) [log10]; the strip's end for a row ``lost`` beyond it."""

    at: FloatArray
    lost: BoolArray


def _on_strip(ensemble: Ensemble, level: FloatArray) -> _Crossing:
    """Return the crossing of each row with its ``level`` (r,) [density], or the end of the strip nearest to it."""
    x = crossing(ensemble.grid, ensemble.density, level)
    lost = ~np.isfinite(x)
    if not lost.any():
        return _Crossing(x, lost)
    dense_end, thin_end = ensemble.grid[[0, -1] if ensemble.kind == "reversal" else [-1, 0]]
    middle = 0.5 * (ensemble.density[:, 0] + ensemble.density[:, -1])
    return _Crossing(np.where(lost, np.where(level > middle, dense_end, thin_end), x), lost)


def _counted(ensemble: Ensemble, rows: FloatArray, lost: BoolArray, note: str, *, reflected: bool = False) -> Quantity:
    """Return a number whose rows are counted at the end of the strip where they are lost beyond it."""
    return summarise(np.where(lost, np.nan, rows), beyond=rows, note=note, how=ensemble.how, reflected=reflected)


def _length(ensemble: Ensemble, rows: FloatArray, note: str) -> Quantity:
    """Return the length of a log H interval, ``rows`` (r,) [log10], in stops; zero where its ends have crossed."""
    if not np.isfinite(rows[0]):
        return Quantity.missing(_OFF_STRIP, note=note)
    found = summarise(np.maximum(rows, 0.0) / STOP, note=note, how=ensemble.how, reflected=True)
    return found if found.low is None else replace(found, low=max(found.low, 0.0))


def _chord(ensemble: Ensemble, base: Extreme, rows: FloatArray, lost: BoolArray, note: str) -> Quantity:
    """Return the slope in ``rows`` (r,) as a quantity, or the reason why the chord cannot be drawn."""
    if not base.reached:
        return Quantity.missing(f"counted from Dmin, which is not known: {base.quantity.why}", note=note)
    if lost[0] or not np.isfinite(rows[0]):
        return Quantity.missing(_OFF_STRIP, note=note)
    return _counted(ensemble, rows, lost, note)
