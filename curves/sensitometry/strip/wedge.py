"""The wedge, a ladder of known densities that the film was exposed through; and the exposures of a joined strip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import MOST_READING, MOST_STEPS, FloatArray
from curves.sensitometry.core.values import (
    DENSITY,
    FRACTION,
    POSITIVE,
    READING,
    STOPS,
    Numbers,
    check_fields,
    is_number,
    number,
    numbers,
    short_repr,
    store,
    text,
    whole,
)

ASSUMED_UNCERTAINTY = 0.02
"""Standard uncertainty of a step where none is given: common practice [density]."""


@dataclass(frozen=True, eq=False, repr=False)
class Wedge:
    """A step tablet; `Wedge.nominal` and `Wedge.measured` make one.

    Attributes:
        density: density of each step, 1-D, from step 1 [density].
        uncertainty: standard uncertainty of each step's density, same shape [density].
        calibrated: True if the densities were measured step by step, False if they are nominal.
        assumed: True if the uncertainty was not given.
        common: standard uncertainty of all steps together, such as of the instrument that measured them [density];
            None if not given.
        scale_uncertainty: standard uncertainty of the scale, as a fraction of every difference of density [unitless];
            None if not given.

    Raises:
        StripError: no wedge has these densities or uncertainties.
    """

    density: FloatArray
    uncertainty: FloatArray
    calibrated: bool = False
    assumed: bool = False
    common: float | None = None
    scale_uncertainty: float | None = None

    def __post_init__(self) -> None:
        for name in ("density", "uncertainty"):
            store(self, name, numbers(getattr(self, name), f"wedge, {name}"))
        if self.density.size < 2 or self.density.shape != self.uncertainty.shape:
            raise StripError(
                f"{self.density.size} densities with {self.uncertainty.size} uncertainties are not a wedge",
                where="wedge",
                needed="at least two densities, with one uncertainty for each",
            )
        if self.density.size > MOST_STEPS:
            raise StripError("the wedge has too many steps", where="wedge", needed=f"at most {MOST_STEPS} steps")
        for step, (density, uncertainty) in enumerate(zip(self.density, self.uncertainty, strict=True), start=1):
            number(float(density), f"wedge, density of step {step}", READING)
            number(float(uncertainty), f"wedge, uncertainty of step {step}", DENSITY)
        check_fields(self, common=DENSITY, scale_uncertainty=FRACTION)

    def __repr__(self) -> str:
        kind = "calibrated" if self.calibrated else "nominal"
        return f"Wedge({self.steps} steps, {self.density[0]:.2f} to {self.density[-1]:.2f}, {kind})"

    @classmethod
    def nominal(
        cls,
        steps: int,
        increment: float,
        first: float = 0.05,
        uncertainty: float | None = None,
        common: float | None = None,
        scale_uncertainty: float | None = None,
    ) -> Wedge:
        """Return a wedge of equal steps: ``Wedge.nominal(21, 0.15)``.

        Args:
            steps: number of steps, at least 2 [unitless].
            increment: density between neighbouring steps [density].
            first: density of step 1, the clear end [density].
            uncertainty: standard uncertainty of one step's density [density]; 0.02 is assumed if None.
            common: standard uncertainty of all steps together [density]; None if not given.
            scale_uncertainty: standard uncertainty of the scale, as a fraction [unitless]; None if not given.
        """
        count = whole(steps, "wedge, steps", least=2)
        rise = number(increment, "wedge, increment", POSITIVE)
        start = number(first, "wedge, first", READING)
        if count > MOST_STEPS or not start + rise * (count - 1) < MOST_READING:
            raise StripError(
                f"{count} steps of {rise:g} are not a wedge",
                where="wedge",
                needed=f"at most {MOST_STEPS} steps, and densities below {MOST_READING:g}",
                hint="write the increment with its decimal point, such as 0.15",
            )
        density = start + rise * np.arange(count, dtype=np.float64)
        return cls(density, _each(uncertainty, count), False, uncertainty is None, common, scale_uncertainty)

    @classmethod
    def measured(
        cls,
        density: Numbers,
        uncertainty: float | Numbers | None = None,
        common: float | None = None,
        scale_uncertainty: float | None = None,
    ) -> Wedge:
        """Return a calibrated wedge: ``Wedge.measured([0.06, 0.19, 0.37])``.

        Args:
            density: density of each step, from step 1, the clear end; a list, an array or a Series [density].
            uncertainty: standard uncertainty of each step's density, one for all or as many [density]; 0.02 is assumed
                if None.
            common: standard uncertainty of all steps together [density]; None if not given.
            scale_uncertainty: standard uncertainty of the scale, as a fraction [unitless]; None if not given.
        """
        known = numbers(density, "wedge, density")
        return cls(known, _each(uncertainty, known.size), True, uncertainty is None, common, scale_uncertainty)

    @property
    def steps(self) -> int:
        """Number of steps [unitless]."""
        return int(self.density.size)

    @property
    def ladder(self) -> str:
        """Number of steps and their mean increment in words: one film on as many steps as far apart is fitted alike."""
        return f"{self.steps} steps of {np.ptp(self.density) / (self.steps - 1):.2f}"

    @property
    def runs_backwards(self) -> bool:
        """True if step 1 is the dense end, against the convention."""
        return bool(self.density[0] > self.density[-1])


def _each(uncertainty: float | Numbers | None, steps: int) -> FloatArray:
    """Return the uncertainty of each step, (steps,); one stands for all, None for the assumed one [density]."""
    each = ASSUMED_UNCERTAINTY if uncertainty is None else uncertainty
    if is_number(each):
        return np.full(steps, number(each, "wedge, uncertainty", DENSITY))
    return numbers(each, "wedge, uncertainty")


ASSUMED_BETWEEN = 0.15
"""Standard uncertainty of one exposure against the next where none is given: common practice, as of a shutter
[stops]."""


@dataclass(frozen=True)
class Pieces:
    """The exposures of a joined strip.

    Attributes:
        of_row: name of the exposure that each row belongs to, one per row.
        between_stops: standard uncertainty of one exposure against the others, all of its rows together [stops]; None
            if not given.
        step_stops: standard uncertainty of log H that differs from row to row, such as a wedge's [stops]; None for
            none.
        scale_uncertainty: standard uncertainty of the scale of log H, such as a wedge's, as a fraction [unitless];
            None for none.

    Raises:
        StripError: there are fewer than two exposures, or a number is out of range.
    """

    of_row: tuple[str, ...]
    between_stops: float | None = None
    step_stops: float | None = None
    scale_uncertainty: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        store(self, "of_row", tuple(text(name, "Pieces, of_row") for name in self.of_row))
        if len(self.names) < 2:
            raise StripError("all rows belong to one exposure", where="Pieces, of_row", needed="two exposures or more")
        check_fields(self, between_stops=STOPS, step_stops=STOPS, scale_uncertainty=FRACTION)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the exposures, in the order in which they first appear."""
        return tuple(dict.fromkeys(self.of_row))

    @property
    def number_of_row(self) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
        """Place in `names` of the exposure of each row, (rows,)."""
        names = self.names
        return np.array([names.index(name) for name in self.of_row], dtype=np.intp)

    @property
    def between(self) -> float:
        """Standard uncertainty of one exposure against the others, given or assumed [stops]."""
        return ASSUMED_BETWEEN if self.between_stops is None else self.between_stops
