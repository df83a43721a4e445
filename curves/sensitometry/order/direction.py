"""Density that runs against the direction of the strip, beyond the scatter of the readings.

The mean of some neighbouring steps is held against the mean of the steps that follow: on a negative it may not fall
with exposure, on a reversal film not rise. All such pairs of groups are tried, in all channels together and in each;
where the film is steep, scatter cannot turn it back, so that level steps alone give chance something to play with. At
the most exposed end, where a film may solarise, it counts besides how far the readings lie from curves of films there.
Scatter exceeds the thresholds in some two clean strips of a thousand, and in five with long flat ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.order.plausibility import Plausibility, Steps
from curves.sensitometry.order.run import Run

_AT_THE_END = 5.0
"""Standard deviations of the difference of two means, all channels together, and of a bend away from films' curves,
from whose sum the most exposed end of a strip runs backwards: own choice, by clean strips apart from those of
`tests.bench.misreadings` [unitless]."""

_AT_LEAST = 1.0
"""Standard deviations of the difference alone, below which no bend makes it one [unitless]."""

_ANYWHERE = 3.6
"""Standard deviations of the difference, for steps anywhere on a strip without level steps [unitless]."""

_LEVEL = 3.0
"""Level steps from which the search of a strip has as many chances more as it had without them: own choice [steps]."""

_ALONE = 5.0
"""The same for one channel alone [unitless]."""

_LONGEST = 8
"""Longest group: the mean of more is hardly better known [steps]."""


@dataclass(frozen=True)
class Reversal:
    """Steps along which density runs against the direction of the strip.

    Attributes:
        first, last: the steps, ascending log H, both included.
        amount: how far the mean of the later ones lies on the wrong side of the earlier ones', by channel [density].
        excess: the difference in standard deviations, over its threshold [unitless].
    """

    first: int
    last: int
    amount: tuple[float, ...]
    excess: float


def reversal(run: Run) -> Reversal | None:
    """Return the clearest part of a run against the direction of the strip, or None."""
    plausibility, exposure, rising = run.plausibility, run.exposure, run.rising
    channels, count = rising.shape
    start, middle, end = _groups(count)
    before, after = middle - start, end - middle
    # 1. By how much the mean of a group exceeds that of the next, and how far misreading takes it.
    total = _sums(rising)
    backwards = (total[:, middle] - total[:, start]) / before - (total[:, end] - total[:, middle]) / after
    misread = plausibility.cautious_scatter**2 * (1.0 / before + 1.0 / after)
    # 2. How far errors of exposure take it: they grow with the slope, and all channels share them.
    slope = np.vstack([plausibility.steepness, plausibility.steepness.sum(axis=0)])
    off = _sums((exposure * slope) ** 2)
    exposed = (off[:, middle] - off[:, start]) / before**2 + (off[:, end] - off[:, middle]) / after**2
    # 3. Each channel alone, and all together.
    alone = (backwards / np.sqrt(misread + exposed[:-1])).max(axis=0)
    together = backwards.sum(axis=0) / np.sqrt(channels * misread + exposed[-1])
    anywhere = np.sqrt(_ANYWHERE**2 + 2.0 * np.log1p(_level_steps(plausibility) / _LEVEL))
    excess = np.maximum(together / anywhere, alone / _ALONE)
    bend = max(run.first_order.turned_back(), 0.0) * plausibility.scatter / plausibility.cautious_scatter
    bent = np.where(together > _AT_LEAST, together + bend, 0.0)
    excess = np.where(end == count, np.maximum(bent / _AT_THE_END, alone / _ALONE), excess)
    best = int(excess.argmax())
    if excess[best] <= 1.0:
        return None
    amount = tuple(float(b) for b in backwards[:, best])
    last = int(end[best]) - 1
    level = rising[:, start[best] : middle[best]].mean(axis=1, keepdims=True)
    if np.all((level - rising[:, last:]).sum(axis=0) > 0.5 * sum(amount)):
        # What stays turned back up to the most exposed end is a matter of that end.
        last = count - 1
    return Reversal(int(start[best]), last, amount, float(excess[best]))


def _level_steps(plausibility: Plausibility) -> int:
    """Return the number of steps at which density moves by less than its scatter, all channels together."""
    rise = np.sqrt((plausibility.steepness**2).sum(axis=0))
    return int((rise < plausibility.cautious_scatter).sum())


def _sums(values: FloatArray) -> FloatArray:
    """Return running sums along the steps, with 0 before the first."""
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(values, axis=1)], axis=1)


@lru_cache(maxsize=16)
def _groups(count: int) -> tuple[Steps, Steps, Steps]:
    """Return start, middle and end of all pairs of neighbouring groups, none too long, among ``count`` steps."""
    start, middle, end = np.indices((count, count, count + 1))
    real = (start < middle) & (middle < end) & (middle - start <= _LONGEST) & (end - middle <= _LONGEST)
    return start[real], middle[real], end[real]
