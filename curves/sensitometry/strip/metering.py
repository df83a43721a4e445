"""The exposure that a meter set to an index gives a mid-grey at the film.

A meter of constant K (ISO 2720: N^2 / t = L S / K) set to an index EI gives the metered tone H = k / EI at the film
plane, k = q K with the focal-plane factor q of ISO 12232. Meters are built with K = 12.5 or 14. Where K is not stated,
k is the middle of the two in the log, and the difference is a source of error of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from curves.sensitometry.core.units import STOP
from curves.sensitometry.core.values import METER_CONSTANT

FOCAL_PLANE_FACTOR = 0.6516
"""q of ISO 12232: focal-plane exposure is q L t / N^2 [unitless]."""

BUILT_CONSTANTS = (12.5, 14.0)
"""The constants K that reflected-light meters are built with: ISO 2720 and common practice [cd s / m2]."""

LEAST_CONSTANT, MOST_CONSTANT = METER_CONSTANT.least, METER_CONSTANT.most
"""No meter is built with a constant outside these: our own choice [cd s / m2]."""

USUAL_CONSTANT = math.sqrt(BUILT_CONSTANTS[0] * BUILT_CONSTANTS[1])
"""K where nobody stated it: the middle of the built ones in the log [cd s / m2]."""

CONSTANT_HALF_WIDTH = math.log10(BUILT_CONSTANTS[1] / BUILT_CONSTANTS[0]) / STOP / 2.0
"""How far the meter's K may then lie to either side [stops]."""


def metered_exposure(constant: float | None = None) -> float:
    """Return k of H = k / EI for mid-grey at the film plane [lux-seconds].

    Args:
        constant: K of the meter [cd s / m2]; `USUAL_CONSTANT` if None.
    """
    return FOCAL_PLANE_FACTOR * (USUAL_CONSTANT if constant is None else constant)


def constant_of(exposure: float) -> float:
    """Return the constant K of a meter that gives mid-grey H = ``exposure`` / EI [lux-seconds] -> [cd s / m2]."""
    return exposure / FOCAL_PLANE_FACTOR


@dataclass(frozen=True)
class Metering:
    """The exposure that log H counts from, and the exposure that a meter's index stands for.

    Attributes:
        index_at_zero: the index at which metered mid-grey has log H zero: the test's own for a metered strip, k for
            one whose exposures are in lux-seconds, since then EI = k / H [unitless].
        exposure: k of H = k / EI for mid-grey [lux-seconds].
        metered: True if log H counts from the meter of the test.
    """

    index_at_zero: float
    exposure: float
    metered: bool

    @property
    def exposure_at_zero(self) -> float:
        """The exposure that log H zero stands for: 1.0 if log H is in lux-seconds [lux-seconds]."""
        return self.exposure / self.index_at_zero
