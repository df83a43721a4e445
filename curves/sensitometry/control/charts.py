"""The individuals chart with its moving range: centre, limits, and the signals of a process out of control.

Rules by the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import BoolArray, FloatArray

D2 = 1.128
"""Mean range of two draws of a normal distribution, in its standard deviations [unitless]."""

D4 = 3.267
"""Upper limit of a moving range of two, in mean ranges [unitless]."""

RUN = 8
"""Points in a row on one side of the centre that make a signal: one of the Western Electric rules [unitless]."""

FEWEST = 4
"""Fewest reference values that limits are found from: our own choice; twenty or more make firm limits [unitless]."""

CHANCE: Mapping[int, int] = {4: 13, 5: 17, 6: 22, 8: 32, 10: 42, 15: 69, 20: 91, 30: 132, 50: 187, 100: 255}
"""Points of a steady normal process of which one passes a limit, by number of reference values: simulated, since
limits from few values err themselves; with limits known exactly it would be 370 [unitless]."""

Rule = Literal["beyond a limit", "a run on one side", "a jump"]


def points_to_a_chance_signal(reference: int) -> int:
    """Return the number of points of a steady process of which about one passes a limit by chance alone.

    Args:
        reference: number of values that the limits come from, `FEWEST` or more; between two simulated numbers the
            smaller speaks.
    """
    return CHANCE[max(known for known in CHANCE if known <= reference)]


@dataclass(frozen=True)
class Signal:
    """A point that speaks for a process out of control.

    Attributes:
        index: place of the point in its series, from 0.
        rule: the rule by which it is one.
        above: True if the point lies above the centre; of a jump, if it went up.
    """

    index: int
    rule: Rule
    above: bool


@dataclass(frozen=True, eq=False)
class IndividualsChart:
    """A series of single values with its centre and its limits, which come from reference values.

    Attributes:
        values: the series in order, (n,); NaN where a value is missing.
        centre: mean of the reference values.
        moving_range: mean absolute difference of neighbouring reference values.
    """

    values: FloatArray
    centre: float
    moving_range: float

    @classmethod
    def of(cls, values: FloatArray, reference: BoolArray) -> IndividualsChart:
        """Return the chart of a series.

        Args:
            values: the series in order, (n,); NaN where a value is missing.
            reference: True for values that the limits come from, (n,).

        Raises:
            StripError: fewer than `FEWEST` reference values are known.
        """
        known = values[reference & np.isfinite(values)]
        if known.size < FEWEST:
            counted = "1 reference value is" if known.size == 1 else f"{known.size} reference values are"
            raise StripError(f"{counted} known", needed=f"at least {FEWEST}, better twenty, for limits")
        return cls(values, float(known.mean()), float(np.abs(np.diff(known)).mean()))

    @property
    def limits(self) -> tuple[float, float]:
        """The lower and the upper limit: three standard deviations about the centre."""
        reach = 3.0 * self.moving_range / D2
        return self.centre - reach, self.centre + reach

    @property
    def ranges(self) -> FloatArray:
        """Absolute difference of each value and the last known value before it, (n,); NaN where there is none."""
        found = np.full(self.values.size, np.nan)
        known = np.flatnonzero(np.isfinite(self.values))
        found[known[1:]] = np.abs(np.diff(self.values[known]))
        return found

    @property
    def range_limit(self) -> float:
        """The upper limit of a moving range."""
        return D4 * self.moving_range

    def signals(self) -> tuple[Signal, ...]:
        """Return the signals in order: points beyond a limit, the end of each run on one side, and jumps.

        The way back from a point beyond a limit is not a jump.
        """
        low, high = self.limits
        found = []
        run, side = 0, 0
        before = np.nan
        for index, value in enumerate(self.values):
            if not np.isfinite(value):
                continue
            here = int(np.sign(value - self.centre))
            run, side = (run + 1, side) if here == side and here else (abs(here), here)
            if not low <= value <= high:
                found.append(Signal(index, "beyond a limit", bool(value > high)))
            elif run >= RUN:
                found.append(Signal(index, "a run on one side", here > 0))
            elif abs(value - before) > self.range_limit:
                found.append(Signal(index, "a jump", bool(value > before)))
            before = value if low <= value <= high else np.nan
        return tuple(found)
