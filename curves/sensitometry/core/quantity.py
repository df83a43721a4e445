"""A number with its 95 % interval, or the reason there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

How = Literal["measured", "fitted", "estimated"]


@dataclass(frozen=True)
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
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    how: How = "fitted"
    bound: tuple[Literal["<", ">"], float] | None = None
    why: str | None = None
    note: str | None = None
    u: float | None = None

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

    @property
    def half_width(self) -> float | None:
        """Half the width of the 95 % interval, or None where there is no value."""
        if self.low is None or self.high is None:
            return None
        return (self.high - self.low) / 2
