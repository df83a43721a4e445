"""A wedge of known densities, read on the set-up that reads the strip: it shows the set-up's flare and scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from curves.errors import StripError
from curves.sensitometry.core.reader_units import ASSUMED_SCATTER, STRETCH, ReaderScale
from curves.sensitometry.core.units import FloatArray

ASSUMED_KNOWN = 0.02
"""Standard uncertainty of a density of the known wedge where nobody states it: common practice [density]."""

FEWEST, LEAST_SPAN = 4, 1.0
"""Readings, and the span of their densities, that tell flare from scale: our own choice [unitless], [density]."""

_MOST_FLARE = 0.2
_DENSITOMETER_SCATTER = 0.01
"""Standard deviation of one reading of a densitometer: common practice [density]."""


@dataclass(frozen=True)
class KnownWedge:
    """Readings of a wedge whose densities are known.

    Attributes:
        known: densities of the steps that were read [density].
        readings: what the set-up showed at each, in its unit.
        uncertainty: standard uncertainty of a known density [density].
    """

    known: Sequence[float]
    readings: Sequence[float]
    uncertainty: float = ASSUMED_KNOWN

    def measured(self, scale: ReaderScale, where: str) -> tuple[ReaderScale, float]:
        """Return a reader's scale with the flare and the stretch that the wedge shows, and the stretch's uncertainty.

        What is read is stretch x -log10((10^-D + flare) / (1 + flare)), by weighted least squares. If the readings
        scatter more than they should, the uncertainties grow with the scatter. The two are kept apart, although they
        lean against each other: their sum is then rather too uncertain than too sure.

        Args:
            scale: unit and open gate.
            where: what to call the readings in errors.

        Returns:
            The scale, and the standard uncertainty of its stretch as a fraction [unitless].

        Raises:
            StripError: too few readings, or they do not follow the known densities.
        """
        known = np.asarray(self.known, dtype=np.float64)
        if known.size < FEWEST or float(np.ptp(known)) < LEAST_SPAN:
            raise StripError(
                f"{known.size} readings over a density of {float(np.ptp(known)) if known.size else 0.0:.2f} do not tell"
                " flare from scale",
                where=where,
                needed=f"at least {FEWEST} steps of the known wedge, {LEAST_SPAN:g} of density from first to last",
            )
        read = np.array([scale.through(r, where) for r in self.readings])
        scatter = ASSUMED_SCATTER.get(scale.unit, _DENSITOMETER_SCATTER)
        sigma = float(np.hypot(scatter, self.uncertainty))

        def misfit(tried: FloatArray) -> FloatArray:
            return np.asarray((_shown(known, float(tried[0]), float(tried[1])) - read) / sigma)

        fitted = least_squares(
            misfit,
            x0=[0.0005, 1.0],
            bounds=([0.0, STRETCH.least], [_MOST_FLARE, STRETCH.most]),
            x_scale=[0.001, 0.05],
        )
        flare, stretch = (float(v) for v in fitted.x)
        off = float(np.abs(_shown(known, flare, stretch) - read).max())
        if off > 0.15 + 3.0 * sigma:
            raise StripError(
                f"the readings lie up to {off:.2f} from what the known densities would show",
                where=where,
                needed="readings of the same steps, in the reader's unit, from the same open gate",
            )
        slopes = np.asarray(fitted.jac, dtype=np.float64)
        excess = max(1.0, 2.0 * fitted.cost / max(known.size - 2, 1))
        u = np.sqrt(excess * np.diag(np.linalg.inv(slopes.T @ slopes)))
        found = replace(scale, flare=flare, flare_uncertainty=min(float(u[0]), 0.5), stretch=stretch, by_wedge=True)
        return found, float(u[1]) / stretch


def _shown(density: FloatArray, flare: float, stretch: float) -> FloatArray:
    """Return the densities that a set-up with flare and stretch shows, (n,) [density]."""
    return np.asarray(-stretch * np.log10((10.0**-density + flare) / (1.0 + flare)))
