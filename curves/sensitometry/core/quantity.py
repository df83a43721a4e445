"""A number with its 95 % interval, or the reason there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from scipy.special import ndtri

from curves.sensitometry.core.units import FloatArray

COVERAGE = 0.95
"""Probability of every interval shown [unitless]."""

ENDS = ((1.0 - COVERAGE) / 2.0, (1.0 + COVERAGE) / 2.0)
"""Share of the draws below the lower end of an interval, and below its upper end [unitless]."""

NORMAL = float(ndtri(ENDS[1]))
"""Half the width of such an interval of a normal distribution, in standard deviations: 1.96 [unitless]."""

How = Literal["measured", "fitted", "estimated"]


@dataclass(frozen=True, repr=False)
class Quantity:
    """One reported number.

    Either ``value`` is a number, with the 95 % interval ``low``..``high``, or it is ``None`` and ``why`` says
    for what reason; ``bound`` then tells on which side of what number it must lie, if that much is known.

    Attributes:
        value: the number, or None.
        low, high: ends of the 95 % interval; None together with ``value``.
        how: "measured" (read directly), "fitted" (from the curve) or "estimated" (through a stated model).
        bound: ("<", x) or (">", x): the value lies below or above x.
        why: the reason there is no value, with what to do about it.
        note: what the number refers to when its name alone does not say (an interval, a definition).
        u: standard uncertainty, in the unit of the value; None together with the interval.
        rows: the value (row 0) and its draws, one for each possible set of errors, (1 + draws,); NaN where a draw runs
            off the strip; None where there are none. Two numbers of strips that share a wedge, a light, a reader or a
            meter carry the same error of it in the same row: `difference` is free of it. No part of equality or JSON.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    how: How = "fitted"
    bound: tuple[Literal["<", ">"], float] | None = None
    why: str | None = None
    note: str | None = None
    u: float | None = None
    rows: FloatArray | None = field(default=None, compare=False)

    def __repr__(self) -> str:
        if self.value is None:
            bound = "not known" if self.bound is None else f"{self.bound[0]} {self.bound[1]:.4g}"
            return f"Quantity({bound}: {self.why})"
        ends = "" if self.low is None or self.high is None else f", {self.low:.4g} to {self.high:.4g}"
        return f"Quantity({self.value:.4g}{ends})"

    def __neg__(self) -> Quantity:
        """Return the quantity with the opposite sign: its ends change places, a bound its side."""
        value, low, high = (None if x is None else -x for x in (self.value, self.high, self.low))
        bound: tuple[Literal["<", ">"], float] | None = None
        if self.bound is not None:
            bound = ("<" if self.bound[0] == ">" else ">", -self.bound[1])
        rows = None if self.rows is None else -self.rows
        return Quantity(value, low, high, self.how, bound, self.why, self.note, self.u, rows)

    @classmethod
    def missing(
        cls, why: str, *, below: float | None = None, above: float | None = None, note: str | None = None
    ) -> Quantity:
        """Return a quantity with no value: only a reason, and a bound when one side is known."""
        bound: tuple[Literal["<", ">"], float] | None = None
        if below is not None:
            bound = ("<", below)
        elif above is not None:
            bound = (">", above)
        return cls(None, bound=bound, why=why, note=note)

    @classmethod
    def within(cls, why: str, least: float, most: float) -> Quantity:
        """Return a quantity with no value that lies between two ends, infinite where open; one bound is kept."""
        if math.isfinite(least):
            return cls.missing(why, above=least)
        return cls.missing(why, below=most if math.isfinite(most) else None)

    @property
    def known_ends(self) -> tuple[float, float]:
        """Lower and upper end of what is known: of the interval, or of a bound; infinite where an end is open."""
        if self.value is not None:
            return self.value if self.low is None else self.low, self.value if self.high is None else self.high
        side, end = self.bound or ("", 0.0)
        return end if side == ">" else -math.inf, end if side == "<" else math.inf

    @property
    def half_width(self) -> float | None:
        """Half the width of the 95 % interval, or None where there is no value."""
        if self.low is None or self.high is None:
            return None
        return (self.high - self.low) / 2
