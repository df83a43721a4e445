"""The usual causes of a process's signals, and ways to tell one from another: all of it common practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from curves.sensitometry.core.units import Kind

Observation = Mapping[str, bool]
"""The signals of one strip by the key of the number: True above the centre, False below it."""


@dataclass(frozen=True)
class Cause:
    """One thing that may have happened, with a way to find out.

    Attributes:
        name: the cause, as a noun phrase.
        shows: the signals that it gives: True above the centre, False below it.
        tell: what would tell it from other causes, as an imperative clause.
    """

    name: str
    shows: Mapping[str, bool]
    tell: str


CAUSES: Mapping[Kind, tuple[Cause, ...]] = {
    "reversal": (
        Cause(
            "first developer weak, short or cold",
            {"dmin": True, "speed": False},
            "measure its temperature and time, and run a strip through fresh first developer",
        ),
        Cause(
            "first developer strong, long or warm",
            {"dmax": False, "speed": True},
            "measure its temperature and time; look whether highlights cleared further than usual",
        ),
        Cause(
            "carry-over of one bath into a developer",
            {"dmin": True, "contrast": False},
            "run a strip with fresh developer and a longer rinse before it",
        ),
        Cause(
            "light that reached the film before reversal was complete, or old film",
            {"dmax": False, "contrast": False},
            "run an unexposed piece through the process in full darkness, and one of a fresh roll",
        ),
        Cause(
            "incomplete reversal, or a second development that stopped short",
            {"dmax": False},
            "give the reversal and the second development longer: Dmax comes back if it was one of them",
        ),
        Cause(
            "bleach or fixer exhausted, silver left in the film",
            {"dmin": True, "dmax": True},
            "bleach and fix the strip again, and read it again",
        ),
    ),
    "negative": (
        Cause(
            "developer strong, long or warm",
            {"contrast": True, "speed": True},
            "measure its temperature and time, and look at the replenishment",
        ),
        Cause(
            "developer weak, short or cold",
            {"contrast": False, "speed": False},
            "measure its temperature and time, and run a strip through fresh developer",
        ),
        Cause(
            "carry-over of another bath into the developer",
            {"dmin": True, "contrast": False},
            "run a strip with fresh developer",
        ),
        Cause(
            "fog: a light leak, old film, or a safelight",
            {"dmin": True},
            "run an unexposed piece in full darkness, and one of a fresh roll",
        ),
        Cause(
            "bleach or fixer exhausted, silver left in the film",
            {"dmin": True, "dmax": True},
            "bleach and fix the strip again, and read it again",
        ),
    ),
}

ONE_LAYER = Cause(
    "one layer alone: its developer's balance (acidity, replenishment), or the film's batch",
    {},
    "run a strip of another batch beside it, and measure the acidity of the colour developer",
)


def causes_of(kind: Kind, observed: Observation) -> tuple[Cause, ...]:
    """Return the usual causes of signals, those that explain most of them first; several may fit.

    Args:
        kind: of the strips.
        observed: the signals of one strip.
    """
    fitting = [c for c in CAUSES[kind] if all(observed.get(key) is way for key, way in c.shows.items())]
    found = sorted(fitting, key=lambda cause: -len(cause.shows))
    whole = any(not key.startswith("balance") for key in observed)
    return (*found, ONE_LAYER) if observed and not whole else tuple(found)
