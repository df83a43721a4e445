"""The readings of a strip in the order of exposure, what may be wrong with the order, and what mends it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.first_order import FirstOrder
from curves.sensitometry.order.plausibility import Plausibility, Steps

_LEAST = 0.3
"""Where the least reading stands in a table, as base and fog do [density]."""

_SCATTER = (0.004, 0.04)
"""Between these a scatter is expected: a worse one is what a misreading makes of it: own choice [density]."""

Mend = Literal[
    "exchange rows", "move row", "exchange channels", "insert step", "drop step", "displace rows", "leave out"
]


@dataclass(frozen=True)
class Misreading:
    """A mend that makes readings more plausible.

    Attributes:
        mend: what is to be done.
        channels: indices of the channels concerned.
        first, last: rows concerned, ascending log H: the two exchanged; where the row stands that is moved, and where
            it belongs; the ends of the part where channels are exchanged, or where rows belong a step further on
            (``first`` the lesser) or back; the rows about a step left out.
        chance: log of the number of mends of its kind, which chance has to play with [nats].
        score: log of the odds for it, less the chance [nats].
    """

    mend: Mend
    channels: tuple[int, ...]
    first: int
    last: int
    chance: float
    score: float

    @property
    def alike(self) -> tuple[int, int]:
        """The two rows of one patch, ascending, where rows are displaced."""
        return (self.last, self.last + 1) if self.first <= self.last else (self.last - 1, self.last)

    def displaced(self, position: FloatArray) -> FloatArray:
        """Return positions with those of displaced rows a row further on, or back, (n,)."""
        found, by = position.copy(), 1 if self.first <= self.last else -1
        rows = np.arange(min(self.first, self.last), max(self.first, self.last) + 1)
        found[rows] = position[rows + by]
        return found


@dataclass(frozen=True, eq=False)
class Run:
    """The readings of channels that were read at the same steps, in the order of exposure.

    Attributes:
        plausibility: the readings and what is known of their scatter.
        rows: which row each was at first, (n,): a mend may leave one out.
        wedge: True if the steps are those of a wedge, of which one can be left out.
        exposure: standard uncertainty of the exposure of a step against the others [steps].
        increment: log H of the usual step [log10].
        sign: 1 where density rises with exposure, -1 where it falls.
    """

    plausibility: Plausibility
    rows: Steps
    wedge: bool
    exposure: float
    increment: float
    sign: float

    @property
    def readings(self) -> FloatArray:
        """The readings, (c, n) [density]."""
        return self.plausibility.readings

    @property
    def size(self) -> int:
        """Number of steps [unitless]."""
        return self.rows.size

    @property
    def log_h(self) -> FloatArray:
        """Log H of the rows from the middle of the strip, (n,) [log10]."""
        position = self.plausibility.position
        return np.asarray(self.increment * (position - position.mean()))

    @property
    def rising(self) -> FloatArray:
        """The readings as those of a negative, the least as base and fog, (c, n) [density]."""
        rising = self.sign * self.readings
        return np.asarray(rising - (rising.min() - _LEAST))

    @cached_property
    def first_order(self) -> FirstOrder:
        """The films' curves of the readings as they stand, and what changes of the readings gain about them."""
        return FirstOrder.of(self.log_h, self.rising, self.expected_scatter, self.exposure * self.increment)

    @property
    def expected_scatter(self) -> float:
        """The scatter of a reading that is expected [density]."""
        return float(np.clip(self.plausibility.scatter, *_SCATTER))

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
        elif misreading.mend == "displace rows":
            one, other = misreading.alike
            position = misreading.displaced(position)
            readings[:, one] = readings[:, [one, other]].mean(axis=1)
            kept = np.delete(kept, other)
        else:
            off = self.plausibility.residual / self.plausibility.looseness
            readings[channels, first] -= off[channels, first]
        mended = replace(self.plausibility, readings=readings[:, kept], position=position[kept])
        return replace(self, plausibility=mended, rows=self.rows[kept])
