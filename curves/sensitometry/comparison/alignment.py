"""Curves of several strips laid over each other: what to add to the log H of each."""

from __future__ import annotations

import math
from typing import Literal

from curves.errors import StripError
from curves.sensitometry.uncertainty.results import Analysis

Alignment = Literal["log-h", "speed", "grey"]
"""What curves have in common: log H as it is, their speed points, or mid-grey at the index of each."""


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
