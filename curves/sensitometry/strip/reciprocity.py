"""Long exposures: how many seconds a film needs where the meter asks for so many.

A film responds to light times time only over the times it was made for. Beyond, it needs longer than the meter says.
A law says how much longer; the index of a strip holds at the time that the strip itself was exposed for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.core.values import Bounds, check_fields, numbers, store

NO_LOSS = 1.0
"""Below this time no correction is made: common practice [s]."""

FAR = 10.0
"""Times further apart than this factor are not expected to give the same index: common practice [unitless]."""

EXPONENT = Bounds(above=0.3, most=1.0)
"""Exponent of the modified law. A smaller one is a slip (common practice): its times grow beyond any that a person
waits [unitless]."""


@dataclass(frozen=True)
class Schwarzschild:
    """The modified law: (t + 1)^(1/p) - 1 seconds for t metered, from the effect I t^p (formula from memory).

    Attributes:
        p: exponent, 0 < p <= 1; 1 means that the film keeps to light times time [unitless].
    """

    p: float

    def __post_init__(self) -> None:
        check_fields(self, p=EXPONENT)

    def corrected(self, metered: ArrayLike) -> FloatArray:
        """Return the time [s] that the film needs where a meter asks for ``metered`` [s], any shape."""
        return np.asarray((np.asarray(metered, dtype=np.float64) + 1.0) ** (1.0 / self.p) - 1.0)

    def metered(self, corrected: ArrayLike) -> FloatArray:
        """Return the metered time [s] that ``corrected`` [s] stands for, any shape: the inverse of `corrected`."""
        return np.asarray((np.asarray(corrected, dtype=np.float64) + 1.0) ** self.p - 1.0)

    @property
    def words(self) -> str:
        """The law in words."""
        return f"the modified law with exponent {self.p:g}"


@dataclass(frozen=True)
class TableOfTimes:
    """A table of times that somebody tested: between its rows straight lines on logarithmic axes, beyond it nothing.

    Attributes:
        pairs: (metered, corrected) in rising order, at least two [s].
    """

    pairs: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        rows = [numbers(pair, f"table of times, pair {row}") for row, pair in enumerate(self.pairs, start=1)]
        if any(row.size != 2 for row in rows):
            raise StripError("a row is not a pair", where="table of times", needed="metered and corrected seconds")
        store(self, "pairs", tuple((float(metered), float(corrected)) for metered, corrected in rows))
        times = np.array(self.pairs).reshape(-1, 2)
        if len(times) < 2 or not (times > 0).all() or (np.diff(times, axis=0) <= 0).any():
            raise StripError(
                "the table of metered and corrected seconds does not rise",
                needed="at least two rows, both columns above 0 and rising",
            )
        if (times[:, 1] < times[:, 0]).any():
            raise StripError("a corrected time is shorter than the metered one", needed="metered first, then corrected")

    def corrected(self, metered: ArrayLike) -> FloatArray:
        """Return the time [s] that the film needs where a meter asks for ``metered`` [s]; NaN outside the table."""
        return self._between(metered, 0, 1)

    def metered(self, corrected: ArrayLike) -> FloatArray:
        """Return the metered time [s] that ``corrected`` [s] stands for; NaN outside the table."""
        return self._between(corrected, 1, 0)

    def _between(self, seconds: ArrayLike, known: int, wanted: int) -> FloatArray:
        times = np.log(np.array(self.pairs))
        x = np.log(np.asarray(seconds, dtype=np.float64))
        return np.asarray(np.exp(np.interp(x, times[:, known], times[:, wanted], left=np.nan, right=np.nan)))

    @property
    def words(self) -> str:
        """The law in words."""
        return f"the table of tested times, {self.pairs[0][0]:g} to {self.pairs[-1][0]:g} s metered"


Reciprocity = Schwarzschild | TableOfTimes


def scene_time(law: Reciprocity, seconds: float, tested: float | None) -> Quantity:
    """Return the exposure time for a scene that is metered at ``seconds``, at the index found on a strip [s].

    A strip that was itself exposed for a second or more carries the loss of that time in its index; only the loss
    beyond it is added.

    Args:
        law: how the film fails.
        seconds: what a meter set to the index asks for [s].
        tested: exposure time of the strip [s]; None if it is not known, and then taken as short.

    Returns:
        The time; it has no interval, since the law's own uncertainty is not known.
    """
    already = tested is not None and tested >= NO_LOSS
    if seconds < NO_LOSS and not already:
        return Quantity(seconds, how="estimated", note=f"no interval: no correction below {NO_LOSS:g} s")
    share = 1.0
    if already:
        assert tested is not None
        share = float(law.metered(tested)) / tested
    found = float(law.corrected(seconds * share))
    if not np.isfinite(found):
        return Quantity.missing(f"{seconds:g} s lies outside {law.words}: test there")
    note = f"no interval: how well {law.words} fits is not known"
    if already:
        note += f"; the strip's own {tested:g} s are in the index already"
    return Quantity(found, how="estimated", note=note)


_SUNNY = 4000.0
"""Luminance of a sunny scene: common practice [cd/m2]."""

_METER = 12.5
"""K of the meter, of ISO 2720 [cd s/m2]."""


def daylight_seconds(ei: float) -> float:
    """Return the time that a meter set to ``ei`` asks for in the sun at f/8: t = K N^2 / (L S), ISO 2720 [s]."""
    return _METER * 8.0**2 / (_SUNNY * ei)
