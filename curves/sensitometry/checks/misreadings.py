"""Readings that stand in the wrong place: two rows exchanged, a row moved, channels exchanged, a step left out.

Each way of entering a strip wrongly has a mend, and the mend makes the readings more plausible as a smooth curve. A
mend counts if it makes them more plausible by more than the number of mends of its kind: that number is what chance
has to play with. All channels speak together where a mend concerns them all.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.checks.plausibility import FEWEST, Plausibility, Steps
from curves.sensitometry.core.units import FloatArray

Mask = NDArray[np.bool_]

Mend = Literal["exchange rows", "move row", "exchange channels", "insert step", "drop step", "leave out"]

EVIDENCE = 4.5
"""Gain in log likelihood from which a mend is reported; the log of the number of mends of its kind is taken off [nats].

Own choice: by `tests.bench.misreadings` one clean strip in a thousand has rows or channels exchanged by it, five where
readings scatter by 0.03 and the record does not state that."""

_SKIPPED = 7.0
"""How much likelier a step more must make the readings, and how much likelier it must be than a gap that errors of
exposure widen, before it is held to be skipped: films bend more sharply than a smooth curve [nats].

Own choice, on strips apart from those of `tests.bench.misreadings`: three clean strips in a thousand have a step
skipped by it."""

_DOUBLED, _LEAP = 0.75, 1.3
"""Least share that the move across a skipped step has of the moves beside it together, in every channel, and how much
greater it is than the greater of them, all channels together: own choice. At a corner of the curve it is not greater
than that; on a steep curve and a coarse wedge it is, but not in every channel [unitless]."""

_PLAIN = 5.0
"""Least that moves beside a gap are together, for it to be judged by them: own choice [scatters of a reading]."""

_WHOLE_STEP = 3.0
"""How much likelier a whole step must be than half a step, where a patch was read twice: own choice. A corner of the
curve also asks for a narrower gap, of any width [nats]."""

_WHOLE_ROW = 8.0
"""How much rarer a row that is wrong in every channel is than an exchange: own choice [nats]."""

_CLEAR_OF_EXPOSURE = 4.9
"""How far apart in exposure two rows must be for their order to be judged, in standard uncertainties of one exposure:
one pair in four thousand is as far out of order as that by its exposures alone [unitless]."""

_EVENEST = 0.01
"""Least that exposures are taken to be off [steps]."""

_MOST_MENDS = 4


@dataclass(frozen=True)
class Misreading:
    """A mend that makes readings more plausible.

    Attributes:
        mend: what is to be done.
        channels: indices of the channels concerned.
        first, last: rows concerned, ascending log H: the two exchanged; where the row stands that is moved, and where
            it belongs; the ends of the part where channels are exchanged; the rows about a step left out.
        score: log of the odds for it, less the log of the number of mends of its kind [nats].
    """

    mend: Mend
    channels: tuple[int, ...]
    first: int
    last: int
    score: float


@dataclass(frozen=True, eq=False)
class Run:
    """The readings of channels that were read at the same steps, in the order of exposure.

    Attributes:
        plausibility: the readings and what is known of their scatter.
        rows: which row each was at first, (n,): a mend may leave one out.
        wedge: True if the steps are those of a wedge, of which one can be left out.
        exposure: standard uncertainty of the exposure of a step against the others [steps].
    """

    plausibility: Plausibility
    rows: Steps
    wedge: bool
    exposure: float

    @property
    def readings(self) -> FloatArray:
        """The readings, (c, n) [density]."""
        return self.plausibility.readings

    @property
    def size(self) -> int:
        """Number of steps [unitless]."""
        return self.rows.size

    def price(self, by: float) -> float:
        """Return -log of the chance that errors of exposure widen a gap by ``by`` [steps], against none [nats]."""
        return (0.5 * by / max(self.exposure, _EVENEST)) ** 2

    def mended(self, misreading: Misreading) -> Run:
        """Return the run with one misreading mended; a wild reading is put where the others want it."""
        readings, position = self.readings.copy(), self.plausibility.position.copy()
        first, last, channels = misreading.first, misreading.last, list(misreading.channels)
        kept = np.arange(self.size)
        if misreading.mend == "exchange rows":
            readings[np.ix_(channels, [first, last])] = readings[np.ix_(channels, [last, first])]
        elif misreading.mend == "move row":
            low, high = sorted((first, last))
            part = np.ix_(channels, range(low, high + 1))
            readings[part] = np.roll(readings[part], -1 if first < last else 1, axis=1)
        elif misreading.mend == "exchange channels":
            along = slice(first, last + 1)
            readings[channels, along] = readings[channels[::-1], along]
        elif misreading.mend == "insert step":
            position[last:] += 1.0
        elif misreading.mend == "drop step":
            readings[:, first] = readings[:, first : last + 1].mean(axis=1)
            position[last:] -= position[last] - position[first]
            kept = np.delete(kept, last)
        else:
            off = self.plausibility.residual / self.plausibility.looseness
            readings[channels, first] -= off[channels, first]
        mended = replace(self.plausibility, readings=readings[:, kept], position=position[kept])
        return replace(self, plausibility=mended, rows=self.rows[kept])


def misreadings(run: Run) -> tuple[list[Misreading], Run]:
    """Return the plain misreadings of a run, clearest first, and the run with all of them mended.

    Readings that belong nowhere are mended and not returned: the fit finds and names them.
    """
    found: list[Misreading] = []
    while len(found) < _MOST_MENDS and run.size >= FEWEST:
        best = max(_candidates(run), key=lambda m: m.score)
        if best.score <= EVIDENCE:
            break
        found.append(replace(best, first=int(run.rows[best.first]), last=int(run.rows[best.last])))
        run = run.mended(best)
    return [m for m in found if m.mend != "leave out"], run


def _candidates(run: Run) -> list[Misreading]:
    """Return the best mend of each kind; moved rows are tried only where something else is odd already."""
    found = [*_row_exchanges(run), *_channel_exchanges(run), *_left_out(run), *_read_twice(run)]
    if run.wedge:
        found += _skipped(run)
    if max(m.score for m in found) > 0.0:
        found += _moved(run)
    return found


def _row_exchanges(run: Run) -> Iterator[Misreading]:
    """Yield the best exchange of neighbouring rows and of any rows, of all channels or of one."""
    gain = run.plausibility.row_exchanges()
    position, count = run.plausibility.position, run.size
    apart = np.abs(position[:, None] - position)
    clear = np.triu(apart > _CLEAR_OF_EXPOSURE * run.exposure, 1)
    near = clear & ~np.triu(clear, 2)
    for allowed, of in ((near, count - 1), (clear, count * (count - 1) // 2)):
        yield from _best("exchange rows", gain, allowed, of)


def _moved(run: Run) -> Iterator[Misreading]:
    """Yield the best row to be moved past two or more others, either way."""
    position, count = run.plausibility.position, run.size
    allowed = np.triu(np.abs(position[:, None] - position) > _CLEAR_OF_EXPOSURE * run.exposure, 2)
    for up in (True, False):
        for found in _best("move row", run.plausibility.row_moves(up=up), allowed, count * (count - 1)):
            yield found if up else replace(found, first=found.last, last=found.first)


def _channel_exchanges(run: Run) -> Iterator[Misreading]:
    """Yield the best part along which two channels are exchanged: from one end of the strip, or anywhere.

    The shorter of a part and its complement is named: exchanging either gives the same curves.
    """
    pairs = list(itertools.combinations(range(len(run.readings)), 2))
    if not pairs:
        return
    gain = run.plausibility.channel_exchanges(pairs)
    for allowed in _parts_of(run.size):
        masked = np.where(allowed, gain, -np.inf)
        pair, first, end = (int(at) for at in np.unravel_index(int(masked.argmax()), masked.shape))
        score = float(gain[pair, first, end] - np.log(allowed.sum() * len(pairs)))
        yield Misreading("exchange channels", pairs[pair], first, end - 1, score)


@lru_cache(maxsize=16)
def _parts_of(count: int) -> tuple[Mask, Mask]:
    """Return the parts [start, end) of ``count`` rows that reach an end of the strip, and all that are short enough."""
    start, end = np.indices((count + 1, count + 1))
    short = (start < end) & (end - start <= count // 2)
    return short & ((start == 0) | (end == count)), short


def _skipped(run: Run) -> Iterator[Misreading]:
    """Yield the best place for a step left out, if neither a corner of the curve nor an uneven wedge explains it."""
    gain = run.plausibility.skipped_steps().sum(axis=0)
    row = int(gain.argmax())
    chance = float(np.log(gain.size))
    if gain[row] - chance <= _SKIPPED or not _doubled(run, row):
        return
    wider = {by: run.plausibility.stretched(row, by) for by in (0.25, 0.5, 0.75, 1.0, 1.25)}
    # The gap is that of one step or of two, and off by as much as the exposures of its two steps are.
    one = max(0.0, *(wider[by] - run.price(by) for by in (0.25, 0.5, 0.75)))
    two = max(wider[by] - run.price(by - 1.0) for by in (0.75, 1.0, 1.25))
    if wider[1.0] > wider[0.5] and two - one - chance > _SKIPPED:
        yield Misreading("insert step", tuple(range(len(run.readings))), row, row + 1, two - chance)


def _doubled(run: Run, row: int) -> bool:
    """Return True if density moves across the gap after a row as far as across the two gaps beside it together."""
    moves = np.diff(run.readings, axis=1)
    if not 0 < row < moves.shape[1] - 1:
        return False
    before, across, after = np.sign(moves[:, row]) * moves[:, row - 1 : row + 2].T
    plain = before + after > _PLAIN * run.plausibility.scatter
    leap = across.sum() > _LEAP * np.maximum(before, after).sum()
    return bool(leap and plain.any() and (across[plain] > _DOUBLED * (before + after)[plain]).all())


def _read_twice(run: Run) -> Iterator[Misreading]:
    """Yield the neighbouring rows that are plainest one patch read twice: alike, and steep on both sides of them.

    The scatter is first taken as given or assumed, or thrice that, and then as it is with the second of the two left
    out: as entered, the two hide in the scatter that they make.
    """
    every = tuple(range(len(run.readings)))
    for times in (1.0, 3.0):
        gain = _of_no_gap(run, times * run.plausibility.deviation)
        row = int(gain.argmax())
        found = Misreading("drop step", every, row + 1, row + 2, float(gain[row]))
        if found.score > EVIDENCE:
            scatter = run.mended(found).plausibility.cautious_scatter
            yield replace(found, score=float(_of_no_gap(run, scatter)[row]))


def _of_no_gap(run: Run, scatter: float) -> FloatArray:
    """Return the gain of no gap between each two rows that have a row on both sides, (n - 3,) [nats].

    Args:
        run: the readings.
        scatter: standard deviation of a reading [density].
    """
    gap = np.diff(run.plausibility.position)
    move = np.diff(run.readings, axis=1)
    before, between, after = move[:, :-2], move[:, 1:-1], move[:, 2:]
    # 1. The move between the two, expected from the lesser of the slopes beside it.
    lesser = np.minimum(np.abs(before) / gap[:-2], np.abs(after) / gap[2:]) * gap[1:-1]
    expected = np.where(before * after > 0.0, np.sign(before) * lesser, 0.0)
    # 2. No gap, against one that is whole, or narrower by as much as exposures may be off. What is expected of a move
    #    scatters as the move does.
    share = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    spread = scatter**2 * 2.0 * (1.0 + share**2)
    apart = ((between - share[:, None, None] * expected) ** 2).sum(axis=1) / spread[:, None]
    channels = len(run.readings)
    likelihood = -0.5 * (apart + channels * np.log(spread)[:, None])
    price = np.array([run.price(1.0 - by) for by in share[1:]])
    gain = likelihood[0] - (likelihood[1:] - price[:, None]).max(axis=0) - np.log(gap.size)
    # 3. Only where the two are alike, half a gap is plainly too much, and exposures are not the same by chance.
    clear = apart[0] < channels + 3.0 * np.sqrt(2.0 * channels)
    clear &= likelihood[0] - likelihood[2] > _WHOLE_STEP
    clear &= gap[1:-1] > _CLEAR_OF_EXPOSURE * run.exposure
    return np.where(clear, gain, -np.inf)


def _left_out(run: Run) -> Iterator[Misreading]:
    """Yield the reading, and the row of readings, that agrees least with the rest; the ends agree with anything."""
    gain = run.plausibility.wild_readings()[:, 1:-1]
    channel, row = np.unravel_index(int(gain.argmax()), gain.shape)
    yield Misreading(
        "leave out", (int(channel),), int(row) + 1, int(row) + 1, float(gain[channel, row] - np.log(gain.size))
    )
    total = gain.sum(axis=0)
    worst = int(total.argmax())
    score = float(total[worst] - np.log(total.size)) - (_WHOLE_ROW if len(gain) > 1 else 0.0)
    yield Misreading("leave out", tuple(range(len(gain))), worst + 1, worst + 1, score)


def _best(mend: Mend, gain: FloatArray, allowed: Mask, count: int) -> Iterator[Misreading]:
    """Yield the best of mends that concern all channels, and of those that concern one of several.

    Args:
        mend: their kind.
        gain: by channel and the two rows, (c, n, n) [nats].
        allowed: which rows may be, (n, n).
        count: how many there are for each choice of channels.
    """
    if not allowed.any():
        return
    channels = len(gain)
    first, last, score = _peak(gain.sum(axis=0), allowed)
    yield Misreading(mend, tuple(range(channels)), first, last, score - float(np.log(count)))
    if channels == 1:
        return
    peaks = [_peak(each, allowed) for each in gain]
    channel = int(np.argmax([score for *_, score in peaks]))
    first, last, score = peaks[channel]
    yield Misreading(mend, (channel,), first, last, score - float(np.log(count * channels)))


def _peak(gain: FloatArray, allowed: Mask) -> tuple[int, int, float]:
    """Return the place and the size of the greatest among the allowed elements."""
    masked = np.where(allowed, gain, -np.inf)
    first, last = np.unravel_index(int(masked.argmax()), masked.shape)
    return int(first), int(last), float(masked[first, last])
