"""The prediction that a strip was planned by: where the ends of its curve were expected, and with what chance."""

from __future__ import annotations

from dataclasses import dataclass

from curves.errors import StripError
from curves.sensitometry.core.values import POSITIVE, Bounds, check_fields, number, short_repr, store, whole

SHARE = Bounds(least=0.0, most=1.0)
"""A chance [unitless]."""

_LOG_H = Bounds(above=-20.0, below=20.0)
_OFF = Bounds(least=0.0, below=20.0)

Expected = tuple[float, float, float]
"""The least, the expected and the greatest value; the outer two hold 95 % of the films that were thought of."""


@dataclass(frozen=True)
class PlannedEnds:
    """The ends of a curve as a plan expected them before the strip was exposed.

    Attributes:
        thin, dense: log H of the two ends, on the strip's own scale: least, expected, greatest [log10].
        chance: the chance that all strips of the plan together hold both ends [unitless].
        alone: the chance that this strip holds both ends by itself [unitless].
        strip, strips: number of this strip among those of the plan, the most exposed first, and how many there are.
        box: box speed that the plan began with [unitless].
        off_stops: how far that might be wrong, either way [stops].

    Raises:
        StripError: a number is out of range, or the three values of an end do not rise.
    """

    thin: Expected
    dense: Expected
    chance: float
    alone: float
    strip: int
    strips: int
    box: float
    off_stops: float
    __repr__ = short_repr

    def __post_init__(self) -> None:
        for name in ("thin", "dense"):
            values = tuple(number(x, f"PlannedEnds, {name}", _LOG_H) for x in getattr(self, name))
            if len(values) != 3 or sorted(values) != list(values):
                raise StripError(
                    f"{values} are not the ends of an interval with the value expected",
                    where=f"PlannedEnds, {name}",
                    needed="three numbers that rise: least, expected, greatest",
                )
            store(self, name, values)
        check_fields(self, chance=SHARE, alone=SHARE, box=POSITIVE, off_stops=_OFF)
        store(self, "strips", whole(self.strips, "PlannedEnds, strips", least=1))
        store(self, "strip", whole(self.strip, "PlannedEnds, strip", least=1))
        if self.strip > self.strips:
            raise StripError(
                f"strip {self.strip} is not one of {self.strips}",
                where="PlannedEnds, strip",
                needed=f"a number from 1 to {self.strips}",
            )
