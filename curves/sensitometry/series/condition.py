"""A condition that was varied from strip to strip, and what the trade knows of its effect: all common practice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from curves.sensitometry.core.units import Kind

UNITS: Mapping[str, str] = {
    "seconds": "s", "minutes": "min", "hours": "h", "days": "days", "weeks": "weeks", "months": "months",
    "years": "years", "celsius": "°C", "fahrenheit": "°F", "percent": "%", "stops": "stops", "rolls": "rolls",
    "ml": "ml", "litres": "l", "ph": "pH",
}  # fmt: skip
"""Units by the word that ends a key: "first_developer_minutes" is in min."""

_DURATIONS = {"seconds", "minutes", "hours"}
_DILUTION = {"dilution", "dilutions"}
_BATH_AGE = {"rolls", "age", "days", "weeks"}
_AGEING = {"age", "storage", "expired", "freezer"}


@dataclass(frozen=True)
class Effect:
    """The usual effect of more of one thing: common practice.

    Attributes:
        rises, falls: keys of the numbers that usually go up or down.
        stays: keys of the numbers that usually stay.
        says: the effect in a sentence or two.
        if_moved: what else may be at work where a number that usually stays moves, a sentence or two.
    """

    rises: frozenset[str] = frozenset()
    falls: frozenset[str] = frozenset()
    stays: frozenset[str] = frozenset()
    says: str = ""
    if_moved: str = ""

    def opposite(self, says: str) -> Effect:
        """Return the effect of less of the same thing."""
        return Effect(self.falls, self.rises, self.stays, says, self.if_moved)


_INDEXES = frozenset({"ei", "iso_2240", "iso_6", "iso_5800", "fractional_gradient"})

_FIRST = Effect(
    rises=_INDEXES,
    falls=frozenset({"T", "M", "S", "dmin"}),
    stays=frozenset({"dmax"}),
    says="More first development makes a reversal film faster and clears its highlights, until it clears no further."
    " A second development taken to completion leaves Dmax to the film.",
    if_moved="Dmax that moves with the first development points at something else: fog that the first developer makes"
    " where no light fell (long time, warmth, stray light, old film), or a reversal or second development that stops"
    " short. An unexposed piece in full darkness tells fog; a longer second development tells the rest.",
)
_SECOND = Effect(
    rises=frozenset({"dmax"}),
    stays=frozenset({*_INDEXES, "T", "dmin"}),
    says="A second development, once complete, changes nothing more; short of it, Dmax rises with it. Speed and"
    " highlights are made by the first development.",
    if_moved="Speed or highlights that move with the second development point at something else: the first development"
    " was not the same for all strips, or the second bath fogs or stains.",
)
_NEGATIVE = Effect(
    rises=_INDEXES | {"gamma", "average_gradient", "contrast_index", "dmin", "dmax"},
    falls=frozenset({"speed", "range_stops"}),
    says="More development gives a negative more contrast and more Dmax, some speed, and in the end fog.",
)
_OLD_SLIDE = Effect(
    falls=frozenset({"dmax"}),
    says="Age and warmth fog a film. On a reversal film fog takes Dmax away; speed may go either way.",
)
_OLD_NEGATIVE = Effect(
    rises=frozenset({"dmin", "speed"}),
    falls=_INDEXES,
    says="Age and warmth fog a film and cost it speed: a negative's Dmin rises.",
)
_UNKNOWN = Effect(says="The trade has no usual direction for this condition: trends are drawn as the strips show them.")


@dataclass(frozen=True)
class Condition:
    """A condition that a record states as a number, by its key under the conditions.

    Attributes:
        key: as the records have it, such as "first_developer_minutes".
        kind: of the strips.
    """

    key: str
    kind: Kind

    @property
    def _words(self) -> frozenset[str]:
        return frozenset(self.key.lower().split("_"))

    @property
    def unit(self) -> str:
        """The unit that the last word of the key names; empty if it names none."""
        return UNITS.get(self.key.lower().rsplit("_", 1)[-1], "")

    @property
    def name(self) -> str:
        """The condition in words, without its unit."""
        words = self.key.replace("_", " ").strip()
        last = words.rsplit(" ", 1)[-1]
        bare = words.removesuffix(last).strip() if last.lower() in UNITS else words
        return bare or words

    @property
    def by_ratio(self) -> bool:
        """True if equal ratios of the condition act about alike, as times and dilutions do: common practice."""
        return bool(self._words & (_DURATIONS | _DILUTION))

    @property
    def effect(self) -> Effect:
        """The usual effect of more of the condition on strips of this kind."""
        words = self._words
        if words & _AGEING and not words & {"developer", "bath", "bleach", "fixer"}:
            return _OLD_SLIDE if self.kind == "reversal" else _OLD_NEGATIVE
        developed = self._development()
        if developed is None:
            return _UNKNOWN
        if words & _DILUTION:
            return developed.opposite(f"A thinner developer develops less. {developed.says}")
        if words & _BATH_AGE:
            return developed.opposite(f"A used or old developer develops less. {developed.says}")
        return developed

    def _development(self) -> Effect | None:
        """Return the effect of more of the development that the key names; None where it names none."""
        words = self._words
        if self.kind == "negative":
            return _NEGATIVE if words & {"developer", "development", "agitation"} else None
        if words & {"second", "colour", "color", "redeveloper"}:
            return _SECOND
        return _FIRST if words & {"first", "developer", "development", "agitation"} else None

    def way(self, number: str) -> int:
        """Return the usual direction of a number with more of the condition: 1 up, -1 down, 0 not known."""
        effect = self.effect
        return int(number in effect.rises) - int(number in effect.falls)

    def shown(self, setting: float, digits: int | None = None) -> str:
        """Return a setting with its unit: "7.5 min".

        Args:
            setting: in the condition's unit.
            digits: decimals; None for as many as the setting has.
        """
        text = f"{setting:g}" if digits is None else f"{setting:.{max(digits, 0)}f}"
        return f"{text} {self.unit}".rstrip()


def conditions_of(stated: Sequence[Mapping[str, float]]) -> dict[str, list[float]]:
    """Return every condition that records state, with its different settings in rising order.

    Args:
        stated: the conditions of each record.
    """
    keys = dict.fromkeys(key for conditions in stated for key in conditions)
    return {key: sorted({conditions[key] for conditions in stated if key in conditions}) for key in keys}
