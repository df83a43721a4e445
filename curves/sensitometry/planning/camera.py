"""Apertures and times as they are engraved, and what each stands for.

Series double: f/5.6 stands for the square root of 32, 1/60 s for 1/64 s. Shutters and diaphragms are built to the exact
series, and the engraving is rounded (common practice). A plan uses only settings that are on the dial.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from curves.errors import StripError
from curves.sensitometry.core.values import POSITIVE, number
from curves.sensitometry.strip.reciprocity import NO_LOSS, Reciprocity

Spacing = Literal["whole", "half", "third"]
SPACINGS: tuple[Spacing, ...] = get_args(Spacing)
PARTS: dict[Spacing, int] = {"whole": 1, "half": 2, "third": 3}
"""Clicks to the stop."""

_APERTURES: dict[Spacing, str] = {
    "whole": "1 1.4 2 2.8 4 5.6 8 11 16 22 32 45 64",
    "half": "1 1.2 1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22 27 32 38 45 54 64",
    "third": "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22 25 29 32 36"
    " 40 45 51 57 64",
}
"""Engraved f-numbers from f/1: from memory."""

_TIMES: dict[Spacing, str] = {
    "whole": "32 16 8 4 2 1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 1/250 1/500 1/1000 1/2000 1/4000 1/8000",
    "half": "32 22 16 11 8 6 4 3 2 1.5 1 1/1.5 1/2 1/3 1/4 1/6 1/8 1/10 1/15 1/20 1/30 1/45 1/60 1/90 1/125 1/180"
    " 1/250 1/350 1/500 1/750 1/1000 1/1500 1/2000 1/3000 1/4000 1/6000 1/8000",
    "third": "32 25 20 16 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 1/1.3 1/1.6 1/2 1/2.5 1/3 1/4 1/5 1/6 1/8 1/10 1/13 1/15"
    " 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 1/500 1/640 1/800 1/1000 1/1250"
    " 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000",
}
"""Engraved times from 32 s: from memory [s]."""

_LONGEST_POWER = 5
"""The series of times begins at 2^5 s."""

_SLACK = 0.3
"""How far an end of a range may lie from an engraved number and still stand for it: our own choice [stops]."""


@dataclass(frozen=True)
class Mark:
    """An engraved number.

    Attributes:
        engraved: as the dial shows it, such as "1/60" or "5.6".
        exact: what it stands for: 1/64 s, or an f-number of 5.657.
        worth: what it is worth to the film: of a long time, less than it takes, if a law says how much.
    """

    engraved: str
    exact: float
    worth: float

    @property
    def lost_stops(self) -> float:
        """Share of a long time that the film does not count [stops]."""
        return math.log2(self.exact / self.worth)


@dataclass(frozen=True)
class Dial:
    """The apertures and times that a camera or a shutter has.

    Attributes:
        apertures: from the widest; empty where there is only a shutter.
        times: from the longest [s].
        law: how the film fails at long times; None where it is not known.
    """

    apertures: tuple[Mark, ...]
    times: tuple[Mark, ...]
    law: Reciprocity | None

    def nearest_pair(self, exposure_value: float, seconds: float) -> tuple[Mark, Mark]:
        """Return the aperture and the time on the dial that come nearest to N^2 / t = 2^EV.

        Among pairs as near as each other, within a sixth of a stop, the time nearest to ``seconds`` is taken.

        Args:
            exposure_value: EV, at the index in use.
            seconds: a time near those of the pictures [s].
        """
        pairs = [(a, t) for a in self.apertures for t in self.times]

        def rank(pair: tuple[Mark, Mark]) -> tuple[float, float]:
            miss = abs(value_of(*pair) - exposure_value)
            return round(miss * 6.0), abs(math.log2(pair[1].exact / seconds))

        return min(pairs, key=rank)


def value_of(aperture: Mark, time: Mark) -> float:
    """Return log2 of N^2 / t of a setting, as the film counts the time [EV]."""
    return 2.0 * math.log2(aperture.exact) - math.log2(time.worth)


def dial(
    spacing: Spacing, apertures: tuple[float, float], times: tuple[float, float], law: Reciprocity | None = None
) -> Dial:
    """Return the settings of a camera.

    Args:
        spacing: clicks of a whole, a half or a third of a stop.
        apertures: widest and smallest f-number, such as (2.8, 16).
        times: shortest and longest time [s].
        law: how the film fails at long times; None where it is not known.

    Raises:
        StripError: a range holds no engraved number.
    """
    parts = PARTS[spacing]
    openings = [(e, 2.0 ** (i / (2.0 * parts))) for i, e in enumerate(_APERTURES[spacing].split())]
    seconds = [(e, 2.0 ** (_LONGEST_POWER - i / parts)) for i, e in enumerate(_TIMES[spacing].split())]
    all_apertures = [Mark(engraved, exact, exact) for engraved, exact in openings]
    all_times = [Mark(engraved, exact, effective_seconds(exact, law)) for engraved, exact in seconds]
    return Dial(
        tuple(_within(all_apertures, apertures, "apertures", "an f-number range such as 2.8-16", 2.0)),
        tuple(_within(all_times, times, "times", "a range of times from 1/8000 to 32 s, such as 1/500-1/2", 1.0)),
        law,
    )


def effective_seconds(seconds: float, law: Reciprocity | None) -> float:
    """Return the time that a time is worth to the film [s]: less from a second on, if a law says how much."""
    if law is None or seconds < NO_LOSS:
        return seconds
    found = float(law.metered(seconds))
    return found if math.isfinite(found) else seconds


def _within(marks: Sequence[Mark], ends: tuple[float, float], name: str, needed: str, power: float) -> list[Mark]:
    """Return the marks inside a range, whose ends may be engraved numbers or exact ones."""
    low, high = (number(end, name, POSITIVE) for end in sorted(ends))
    slack = 2.0 ** (_SLACK / power)
    found = [mark for mark in marks if low / slack <= mark.exact <= high * slack]
    if not found:
        raise StripError(f"{low:g} to {high:g} holds nothing on the dial", where=name, needed=needed, settings=(name,))
    return found
