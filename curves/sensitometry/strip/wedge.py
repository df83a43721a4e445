"""The wedge: a ladder of known densities that the film was exposed through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.errors import RecordError
from curves.sensitometry.core.units import FloatArray

ASSUMED_UNCERTAINTY = 0.02
"""Standard uncertainty of a step where nobody gave one: common practice [density]."""


@dataclass(frozen=True, eq=False)
class Wedge:
    """A step tablet.

    Attributes:
        density: density of each step, 1-D, from step 1 [density].
        uncertainty: standard uncertainty of each step's density, same shape [density].
        calibrated: True if the densities were measured step by step, False if they are nominal.
        assumed: True if nobody gave the uncertainty.
        common: standard uncertainty of all steps together, such as of the instrument that measured them [density];
            None if nobody gave it.
        scale_uncertainty: standard uncertainty of the scale, as a fraction of every difference of density [unitless];
            None if nobody gave it.
    """

    density: FloatArray
    uncertainty: FloatArray
    calibrated: bool = False
    assumed: bool = False
    common: float | None = None
    scale_uncertainty: float | None = None

    def __post_init__(self) -> None:
        if self.density.ndim != 1 or self.density.size < 2 or self.density.shape != self.uncertainty.shape:
            raise RecordError("a wedge is a 1-D ladder of at least two densities", where="wedge")

    @classmethod
    def nominal(
        cls,
        steps: int,
        increment: float,
        first: float = 0.05,
        uncertainty: float | None = None,
        common: float | None = None,
    ) -> Wedge:
        """Return a wedge of equal steps.

        Args:
            steps: number of steps, at least 2 [unitless].
            increment: density between neighbouring steps [density].
            first: density of step 1, the clear end [density].
            uncertainty: standard uncertainty of one step's density [density]; assumed if None.
            common: standard uncertainty of all steps together [density]; None if nobody gave it.
        """
        each = ASSUMED_UNCERTAINTY if uncertainty is None else uncertainty
        ladder = first + increment * np.arange(steps, dtype=np.float64)
        return cls(ladder, np.full(steps, each), assumed=uncertainty is None, common=common)

    @property
    def steps(self) -> int:
        """Number of steps [unitless]."""
        return int(self.density.size)

    @property
    def runs_backwards(self) -> bool:
        """True if step 1 is the dense end, against the convention."""
        return bool(self.density[0] > self.density[-1])
