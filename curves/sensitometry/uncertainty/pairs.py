"""Two strips side by side: the draws that both have, and the scatter of their exposures."""

from __future__ import annotations

import math

import numpy as np

from curves.sensitometry.core.streams import beside_estimate, stream
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.uncertainty.results import Analysis

EXPOSED_AGAIN = 0.05
"""Standard uncertainty of one exposure against another by the same light for the same time: our own choice [stops]."""

SHARED = 1e-6
"""Least difference of two strips' errors of exposure that counts as one [stops]."""


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
    stated = (a.strip.exposure.uncertainty_stops for a in (first, second))
    u = math.hypot(*(EXPOSED_AGAIN if s is None else min(s, EXPOSED_AGAIN) for s in stated))
    rng = stream(seed, "exposed again", *first.sources[0].belongs_to, *second.sources[0].belongs_to)
    return u * STOP * beside_estimate(rng, rows, 1)[:, 0]


def exposures_apart(first: Analysis, second: Analysis) -> float:
    """Return the standard uncertainty of one strip's log H against the other's, as far as it is drawn [stops]."""
    rows = paired_rows(first, second)
    errors = [next(iter(a.channels.values())).ensemble.log_h_error[:rows] for a in (second, first)]
    return float((errors[0] - errors[1]).std()) / STOP
