"""Intervals: a quantity with its 95 % interval from the estimate and its draws, and differences of quantities."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.quantity import ENDS, How, Quantity
from curves.sensitometry.core.streams import BLOCK
from curves.sensitometry.core.units import FloatArray

_OFFSTRIP_SHARE = 0.5
"""Share of draws off the strip beyond which there is no interval: not even the median lies on it: our own choice."""

SETTLED = 0.25
"""Scatter of the ends of an interval, in standard uncertainties of the number, that more draws need not lower: a
sixteenth of the interval's width: our own choice [unitless]."""


def summarise(
    rows: FloatArray,
    *,
    how: How = "fitted",
    beyond: float | FloatArray | None = None,
    note: str | None = None,
    reflected: bool = False,
    least: float = -math.inf,
) -> Quantity:
    """Return the estimate (row 0) with its 95 % interval from the other rows.

    Args:
        rows: (r,); NaN where a row's curve does not reach the point; row 0 must be a number.
        how: the way in which the number was found.
        beyond: value at the end of the strip that the NaN rows ran off, one for all or (r,): it stands in for them.
        note: what the number refers to.
        reflected: True for a number that a wiggle of the curve moves one way (the greatest gradient, the middle one of
            three): at each end the interval is the wider of that of the draws and that of the draws reflected about
            the estimate, since the estimate may have gained over the film what the draws gain over the estimate.
        least: the least that the number can be, 0 for a density: the interval goes no lower, unless the estimate does.

    Returns:
        The quantity; without draws, or if more than half of them have no value, it has no interval, and a note says so.
    """
    value, draws = float(rows[0]), rows[1:]
    if not draws.size:
        return _without_interval(rows, how, note, "no draws were made")
    lost = ~np.isfinite(draws)
    if np.count_nonzero(lost) > _OFFSTRIP_SHARE * lost.size:
        return _without_interval(rows, how, note, "too near the end of the strip")
    if lost.any():
        draws = draws[~lost] if beyond is None else np.where(lost, np.broadcast_to(beyond, rows.shape)[1:], draws)
        draws = draws[np.isfinite(draws)]
        if beyond is not None and lost.mean() > ENDS[0]:
            note = "; ".join(filter(None, [note, "the interval ends with the strip"]))
    low, high = ends_of(draws)
    if reflected:
        low, high = min(low, 2.0 * value - high), max(high, 2.0 * value - low)
    return Quantity(
        value, min(max(low, least), value), max(high, value), how, note=note, u=float(draws.std()), rows=rows
    )


def _without_interval(rows: FloatArray, how: How, note: str | None, why: str) -> Quantity:
    """Return a quantity that has a value alone, with a note why."""
    why = f"no interval: {why}"
    return Quantity(float(rows[0]), how=how, note=f"{note}; {why}" if note else why, rows=rows)


def ends_of(draws: FloatArray) -> tuple[float, float]:
    """Return the ends of the middle 95 % of draws, (d,), straight between neighbours as `numpy.quantile` has them."""
    ordered = np.sort(draws)
    places = np.array(ENDS) * (draws.size - 1)
    before = np.minimum(places.astype(np.intp), max(draws.size - 2, 0))
    low, high = ordered[before] + (places - before) * (
        ordered[np.minimum(before + 1, draws.size - 1)] - ordered[before]
    )
    return float(low), float(high)


def difference(one: Quantity, other: Quantity) -> Quantity:
    """Return ``one`` less ``other``, with the interval of the difference.

    The numbers are subtracted row by row. Errors that two strips share (a wedge, a light, a reader, a meter) are the
    same in the same row of both and cancel; the others add as independent errors do.

    Args:
        one, other: numbers of `analyse`, of one strip or of two, found with the same seed.

    Returns:
        The difference, in the unit of the numbers; a reason where one of them has no value.

    Raises:
        StripError: a number carries no draws, or the draws of the two do not belong together.
    """
    return _between(one, other, lambda a, b: a - b)


def difference_in_stops(one: Quantity, other: Quantity) -> Quantity:
    """Return log2 of ``one`` over ``other`` [stops]: how far apart two exposure indexes or speeds lie.

    Args:
        one, other: indexes or speeds above 0, as for `difference`.

    Returns:
        The difference; positive where ``one`` is the faster.

    Raises:
        StripError: as for `difference`.
    """
    return _between(one, other, lambda a, b: np.log2(a / b))


def _between(one: Quantity, other: Quantity, compare: Callable[[FloatArray, FloatArray], FloatArray]) -> Quantity:
    """Return the comparison of two numbers, made row by row."""
    for which, q in (("first", one), ("second", other)):
        if q.value is None:
            return Quantity.missing(f"the {which} number is not known: {q.why}")
    if one.rows is None or other.rows is None:
        raise StripError(
            "a number carries no draws, so that it is not known what the two share",
            where="difference",
            needed="two numbers that `analyse` found",
        )
    rows = [one.rows, other.rows]
    if one.rows.size != other.rows.size:
        # Draws come in blocks; those of the longer run begin with those of the shorter one, block by block.
        blocks = (min(r.size for r in rows) - 1) // BLOCK
        if not blocks:
            raise StripError(
                f"one number has {one.rows.size - 1} draws, the other {other.rows.size - 1}",
                where="difference",
                needed=f"as many draws in both, or at least {BLOCK} in each",
            )
        rows = [r[: 1 + blocks * BLOCK] for r in rows]
    how: How = "estimated" if "estimated" in (one.how, other.how) else one.how
    return summarise(compare(*rows), how=how)


def widest_interval(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """Return the 95 % interval of a number that every row only shows between two ends.

    At each end the wider of the draws as they are and of the draws reflected about the estimate (twice the estimate
    less the draw): where an estimate meets a limit, or is itself one of many wiggles, draws fall to one side of it
    while the truth may lie on the other.

    Args:
        low, high: the ends in each row, (r,) each; finite, and equal where the row shows the number.
    """
    if low.size == 1:
        return float(low[0]), float(high[0])
    below, above = ends_of(low[1:]), ends_of(high[1:])
    return (
        float(min(low[0], below[0], 2.0 * low[0] - below[1])),
        float(max(high[0], above[1], 2.0 * high[0] - above[0])),
    )


def needed_draws(rows: FloatArray) -> float:
    """Return the factor of draws needed to settle the ends of an interval; at most 1 if they are settled.

    The scatter of the ends from block to block, doubled, is held against a quarter of the standard uncertainty. JCGM
    101, 7.9, takes half a unit of its last meaningful digit, which with one digit is 5 to 50 % of it: a share does not
    jump.

    Args:
        rows: (r,) as for `summarise`, the draws in blocks of `streams.BLOCK`.
    """
    draws = rows[1:]
    blocks = draws.size // BLOCK
    known = np.isfinite(draws)
    if blocks < 2 or not known.all() or not draws.std() > 0:
        return 1.0
    parts = draws[: blocks * BLOCK].reshape(blocks, BLOCK)
    ends = np.quantile(parts, ENDS, axis=1)
    scatter = float(ends.std(axis=1, ddof=1).max()) / np.sqrt(blocks)
    return float((2.0 * scatter / (SETTLED * draws.std())) ** 2)
