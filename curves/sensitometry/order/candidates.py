"""Misreadings that are worth a closer look, found among all there could be.

Every mend is judged as a change of a curve that may bend anywhere: that is quick, and finds the few mends of a strip
that could be real. Slight ones, which such a curve follows, are found as changes of the film's own curve. Which of them
is real, the film's curves fitted anew decide.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.order.run import Mend, Misreading, Run

Mask = NDArray[np.bool_]

_WORTH: Mapping[Mend, float] = {
    "exchange rows": 1.3,
    "move row": 2.0,
    "exchange channels": 0.9,
    "leave out": 2.0,
}
"""Gain from which a mend of any curve is worth a closer look, by its kind, in logs of the number of steps: own choice.
A misreading that the closer look confirms gains more in 95 cases of a hundred [unitless]."""

_SLIGHT = 0.5
"""Gain, less what chance has to play with, from which a mend of the film's own curve is worth it: own choice [nats]."""

_OF_EACH = 2
"""How many of the best mends of a kind are looked at: the closer look may prefer the second."""

_CLEAR_OF_EXPOSURE = {True: 2.0, False: 4.9}
"""How far apart in exposure two rows must be for their order to be judged, in standard uncertainties of one exposure,
on a wedge and among frames: the closer look knows how often exposures alone are out of order, but of frames the size
of their errors is a guess. Own choice [unitless]."""

_MOST_HIDDEN = 2.0
"""Greatest scatter that misread rows are looked for in, over that given or assumed: own choice [unitless]."""

_WHOLE_ROW = 8.0
"""How much rarer a row that is wrong in every channel is than an exchange: own choice [nats]."""


def candidates(run: Run) -> list[Misreading]:
    """Return the mends of a run that are worth a closer look, of every kind the best few.

    Moved rows are tried only where something else is odd already.
    """
    slight = [*_neighbours(run), *_miscounted(run)]
    odd = [m for m in slight if m.score > _SLIGHT]
    odd += _worth([*_row_exchanges(run), *_channel_exchanges(run), *_left_out(run)], run.size)
    return odd + _worth(_moved(run), run.size) if odd else []


def _worth(found: Iterable[Misreading], count: int) -> list[Misreading]:
    return [m for m in found if m.score + m.chance > _WORTH[m.mend] * np.log(count)]


def _row_exchanges(run: Run) -> Iterator[Misreading]:
    """Yield the best exchanges of neighbouring rows and of any rows, of all channels or of one."""
    gain = run.plausibility.row_exchanges()
    clear, count = _clear(run, 1), run.size
    near = clear & ~np.triu(clear, 2)
    for allowed, of in ((near, count - 1), (clear & ~near, count * (count - 1) // 2)):
        yield from _best("exchange rows", _every(run), gain.sum(axis=0), allowed, of)
        for channel, each in enumerate(gain if len(gain) > 1 else ()):
            yield from _best("exchange rows", (channel,), each, allowed, of * len(gain))


def _moved(run: Run) -> Iterator[Misreading]:
    """Yield the best rows to be moved past two or more others, either way."""
    for up in (True, False):
        gain = run.plausibility.row_moves(up=up).sum(axis=0)
        for found in _best("move row", _every(run), gain, _clear(run, 2), run.size * (run.size - 1)):
            yield found if up else replace(found, first=found.last, last=found.first)


def _clear(run: Run, least: int) -> Mask:
    """Return a mask of the rows at least so many apart, and further than errors of exposure take them, (n, n)."""
    position = run.plausibility.position
    return np.triu(np.abs(position[:, None] - position) > _CLEAR_OF_EXPOSURE[run.wedge] * run.exposure, least)


def _channel_exchanges(run: Run) -> Iterator[Misreading]:
    """Yield the best parts along which two channels are exchanged: from one end of the strip, or anywhere.

    The shorter of a part and its complement is named: exchanging either gives the same curves.
    """
    pairs = list(itertools.combinations(range(len(run.readings)), 2))
    if not pairs:
        return
    gain = run.plausibility.channel_exchanges(pairs)
    # Near an end a curve that may bend anywhere explains everything, but not the direction.
    backwards = _backwards(run, pairs)
    gain[:, 0, 1:-1] = np.maximum(gain[:, 0, 1:-1], backwards)
    gain[:, 1:-1, -1] = np.maximum(gain[:, 1:-1, -1], backwards)
    for allowed in _parts_of(run.size):
        chance = float(np.log(allowed.sum() * len(pairs)))
        for (pair, first, end), score in _peaks(gain, allowed):
            yield Misreading("exchange channels", pairs[pair], first, end - 1, chance, score - chance)


def _backwards(run: Run, pairs: list[tuple[int, int]]) -> FloatArray:
    """Return the gain of exchanging two channels from each row on by what runs against the direction of the strip
    there, (p, n - 1) [nats]."""
    one, other = run.sign * run.readings[np.array(pairs).T]
    read = one[:, 1:] - one[:, :-1], other[:, 1:] - other[:, :-1]
    exchanged = other[:, 1:] - one[:, :-1], one[:, 1:] - other[:, :-1]
    less = [sum(np.minimum(move, 0.0) ** 2 for move in moves) for moves in (read, exchanged)]
    return np.asarray((less[0] - less[1]) / (4.0 * _hidden_scatter(run) ** 2))


def _hidden_scatter(run: Run) -> float:
    """Return the scatter of a reading, of which little more is believed than is known: misread rows add to it."""
    return min(run.plausibility.cautious_scatter, _MOST_HIDDEN * run.plausibility.deviation)


@lru_cache(maxsize=16)
def _parts_of(count: int) -> tuple[Mask, Mask]:
    """Return the parts [start, end) of ``count`` rows that reach an end of the strip, and the other short ones."""
    start, end = np.indices((count + 1, count + 1))
    short = (start < end) & (end - start <= count // 2)
    at_end = (start == 0) | (end == count)
    return short & at_end, short & ~at_end


def _neighbours(run: Run) -> Iterator[Misreading]:
    """Yield the best exchanges of neighbouring rows, of all channels and of one, about the film's own curve."""
    row = np.arange(run.size - 1)
    allowed = _clear(run, 1)[row, row + 1]
    every, alone = run.first_order.neighbours_exchanged()
    tried = [(_every(run), every, 1)] + [((c,), gain, len(alone)) for c, gain in enumerate(alone) if len(alone) > 1]
    for channels, gain, times in tried:
        chance = float(np.log(times * row.size))
        for (one,), score in _peaks(gain, allowed):
            yield Misreading("exchange rows", channels, one, one + 1, chance, score - chance)


def _miscounted(run: Run) -> Iterator[Misreading]:
    """Yield the best places for a step left out of a wedge, for one patch read as two steps, and for both: rows between
    that stand a step off."""
    count = run.size
    last = np.arange(count + 1)
    apart = np.diff(run.plausibility.position) > _CLEAR_OF_EXPOSURE[run.wedge] * run.exposure
    # Whether each row may be of the patch before: not at the ends, which may be level.
    alike = np.concatenate([[False, False], apart[1:-1], [False, False]])
    inside = (last[:, None] > 0) & (last[:, None] + 1 < last) & (last < count)
    for by, first in ((1.0, False), (-1.0, True)):
        gain = run.first_order.displaced(by * run.increment)
        for (row,), score in _peaks(gain[1:-1, -1], alike[1:-1] if first else np.full(count - 1, run.wedge)):
            mend: Mend = "drop step" if first else "insert step"
            chance = float(np.log(count - 1))
            yield Misreading(mend, _every(run), row, row + 1, chance, score - chance)
        if run.wedge:
            allowed = inside & (alike[:, None] if first else alike[None, :])
            for (one, end), score in _peaks(gain, allowed):
                ends = (end - 1, one) if first else (one, end - 1)
                chance = float(np.log(count * (count - 1)))
                yield Misreading("displace rows", _every(run), *ends, chance, score - chance)


def _left_out(run: Run) -> Iterator[Misreading]:
    """Yield the readings, and the row of readings, that agree least with the rest; the ends agree with anything."""
    gain = run.plausibility.wild_readings()[:, 1:-1]
    chance = float(np.log(gain.size))
    for (channel, row), score in _peaks(gain, np.ones(gain.shape, dtype=np.bool_)):
        yield Misreading("leave out", (channel,), row + 1, row + 1, chance, score - chance)
    if len(gain) > 1:
        total = gain.sum(axis=0)
        worst, chance = int(total.argmax()), float(np.log(total.size)) + _WHOLE_ROW
        yield Misreading("leave out", _every(run), worst + 1, worst + 1, chance, float(total[worst]) - chance)


def _best(mend: Mend, channels: tuple[int, ...], gain: FloatArray, allowed: Mask, count: int) -> Iterator[Misreading]:
    """Yield the best mends of their kind, of which there are ``count``, by their gain at two rows, (n, n) [nats]."""
    chance = float(np.log(count))
    for (first, last), score in _peaks(gain, allowed):
        yield Misreading(mend, channels, first, last, chance, score - chance)


def _every(run: Run) -> tuple[int, ...]:
    return tuple(range(len(run.readings)))


def _peaks(gain: FloatArray, allowed: Mask) -> Iterator[tuple[tuple[int, ...], float]]:
    """Yield the places and the sizes of the greatest among the allowed elements."""
    masked = np.where(allowed, gain, -np.inf)
    flat = masked.reshape(-1)
    for at in np.argpartition(-flat, min(_OF_EACH, flat.size - 1))[:_OF_EACH]:
        if np.isfinite(flat[at]):
            yield tuple(int(i) for i in np.unravel_index(at, masked.shape)), float(flat[at])
