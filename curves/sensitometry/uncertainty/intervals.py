"""From rows, the estimate and its draws, to a quantity with its 95 % interval; and whether more draws are needed."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.core.quantity import How, Quantity
from curves.sensitometry.core.streams import BLOCK
from curves.sensitometry.core.units import FloatArray

COVERAGE = 0.95
"""Probability of every interval shown [unitless]."""


_OFFSTRIP_SHARE = 0.5


def summarise(
    rows: FloatArray, *, how: How = "fitted", beyond: float | FloatArray | None = None, note: str | None = None
) -> Quantity:
    """Return the estimate (row 0) with its 95 % interval from the other rows.

    Args:
        rows: (r,); NaN in a row means that this curve does not reach the point; row 0 must be a number.
        how: how the number was found.
        beyond: value at the end of the strip that the NaN rows ran off, one for all or (r,); they are counted there.
        note: what the number refers to.

    Returns:
        The quantity; without draws, or if half of them have no value, it has no interval and says so in its note.
    """
    value, draws = float(rows[0]), rows[1:]
    lost = ~np.isfinite(draws)
    if draws.size == 0 or lost.mean() > _OFFSTRIP_SHARE:
        why = "no interval: " + ("no draws were made" if draws.size == 0 else "too near the end of the strip")
        return Quantity(value, how=how, note=f"{note}; {why}" if note else why)
    if lost.any():
        draws = draws[~lost] if beyond is None else np.where(lost, np.broadcast_to(beyond, rows.shape)[1:], draws)
        if beyond is not None and lost.mean() > (1 - COVERAGE) / 2:
            note = "; ".join(filter(None, [note, "the interval ends with the strip"]))
    low, high = np.quantile(draws, [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2])
    return Quantity(value, min(float(low), value), max(float(high), value), how, note=note, u=float(draws.std()))


def widest_interval(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    """Return the 95 % interval of a number that every row only shows between two ends.

    At each end the wider of the draws as they are and of the draws reflected about the estimate (twice the estimate
    less the draw): where an estimate meets a limit, or is itself one of many wiggles, draws fall to one side of it
    while the truth may lie on the other.

    Args:
        low, high: the ends in each row, (r,) each; finite, and equal where the row shows the number.
    """
    tails = (1 - COVERAGE) / 2, (1 + COVERAGE) / 2
    if low.size == 1:
        return float(low[0]), float(high[0])
    below, above = (np.quantile(x[1:], tails) for x in (low, high))
    return (
        float(min(low[0], below[0], 2.0 * low[0] - below[1])),
        float(max(high[0], above[1], 2.0 * high[0] - above[0])),
    )


def needed_draws(rows: FloatArray) -> float:
    """Return how many times as many draws would settle an interval's ends in two digits; at most 1 if they have.

    The scatter of the ends from block to block is held against half a unit of the second digit of the standard
    uncertainty (JCGM 101, 7.9).

    Args:
        rows: (r,) as for `summarise`, the draws in blocks of `streams.BLOCK`.
    """
    draws = rows[1:]
    blocks = draws.size // BLOCK
    known = np.isfinite(draws)
    if blocks < 2 or not known.all() or not draws.std() > 0:
        return 1.0
    parts = draws[: blocks * BLOCK].reshape(blocks, BLOCK)
    ends = np.quantile(parts, [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2], axis=1)
    scatter = float(ends.std(axis=1, ddof=1).max()) / np.sqrt(blocks)
    tolerance = 0.5 * 10.0 ** (np.floor(np.log10(draws.std())) - 1)
    return float((2.0 * scatter / tolerance) ** 2)
