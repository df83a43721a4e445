"""Two strips side by side: whether they can be, the scatter of their exposures, and curves laid over each other."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.streams import beside_estimate, stream
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.uncertainty.results import Analysis

Alignment = Literal["log-h", "speed", "grey"]
"""What curves have in common: log H as it is, their speed points, or mid-grey at the index of each."""

EXPOSED_AGAIN = 0.05
"""Standard uncertainty of one exposure against another by the same light for the same time: our own choice [stops]."""

SHARED = 1e-6
"""Least difference of two strips' errors of exposure that counts as one [stops]."""


def refuse_unlike(first: Analysis, other: Analysis, needed: str, *, exposed_alike: bool = False) -> None:
    """Refuse a strip whose numbers do not mean the same as those of the first.

    Args:
        first, other: results of the strips.
        needed: what would be right, for the error.
        exposed_alike: True if log H must count from the same origin too.

    Raises:
        StripError: kinds, kinds of density or, where they count, units of log H differ.
    """
    of_log_h = [("log H", first.strip.log_h_unit, other.strip.log_h_unit)] if exposed_alike else []
    for what, one, another in (
        ("kind", first.strip.kind, other.strip.kind),
        ("density", first.strip.density, other.strip.density),
        *of_log_h,
    ):
        if one != another:
            raise StripError(
                f"{what} is {another}, but {one} on {first.strip.title}", where=other.strip.title, needed=needed
            )


def paired_rows(first: Analysis, second: Analysis) -> int:
    """Return the number of rows that both of two strips have."""
    return min(1 + a.draws for a in (first, second))


def exposure_scatter(first: Analysis, second: Analysis, seed: int) -> FloatArray:
    """Return the scatter of a second exposure by the light of the first, row by row with row 0 zero, (r,) [log10].

    Zero where the two strips' errors of exposure are drawn apart already. A smaller uncertainty that a record states
    for its whole exposure is believed.

    Args:
        first, second: results of the two strips.
        seed: seed of the draws.
    """
    rows = paired_rows(first, second)
    if rows == 1 or exposures_apart(first, second) > SHARED:
        return np.zeros(rows)
    u = math.hypot(*(exposed_again(a) for a in (first, second)))
    own = [word for a in (first, second) for s in a.sources if s.key == READINGS for word in s.belongs_to]
    rng = stream(seed, "exposed again", *own)
    return u * STOP * beside_estimate(rng, rows, 1)[:, 0]


def exposed_again(analysis: Analysis) -> float:
    """Return the standard uncertainty of a strip's exposure against others by the same light [stops]."""
    stated = analysis.strip.exposure.uncertainty_stops
    return EXPOSED_AGAIN if stated is None else min(stated, EXPOSED_AGAIN)


def exposures_apart(first: Analysis, second: Analysis) -> float:
    """Return the standard uncertainty of one strip's log H against the other's, as far as it is drawn [stops].

    Infinite where one of them is a bracket that was only judged: each of its frames was metered.
    """
    if not (first.channels and second.channels):
        return math.inf
    rows = paired_rows(first, second)
    errors = [next(iter(a.channels.values())).ensemble.log_h_error[:rows] for a in (second, first)]
    return float((errors[0] - errors[1]).std()) / STOP


def log_h_to_add(analysis: Analysis, first: Analysis, by: Alignment) -> float:
    """Return the log H to add to a strip's curves so that they lie over those of the first [log10].

    Args:
        analysis, first: the strip, and the strip that stays where it is.
        by: "log-h" for curves as exposed, "speed" to lay T (or a negative's speed point) of the judged channel over
            that of the first, "grey" to lay mid-grey at each strip's own index over the first's.

    Raises:
        StripError: a strip does not show the point.
    """
    if by == "log-h":
        return 0.0
    return _place(first, by) - _place(analysis, by)


def _place(analysis: Analysis, by: Alignment) -> float:
    """Return the log H of the point by which a strip is laid over others [log10]."""
    if by == "grey":
        index = analysis.working_ei.recommended.value
        if index is None:
            raise StripError("no index is known, so that mid-grey has no place", where=analysis.strip.title)
        return math.log10(analysis.strip.metering.index_at_zero / index)
    points = analysis.channels[analysis.working_ei.channel].points
    point = points["T" if analysis.strip.kind == "reversal" else "speed"].log_h
    if point.value is None:
        raise StripError(f"the speed point is not known: {point.why}", where=analysis.strip.title)
    return point.value
