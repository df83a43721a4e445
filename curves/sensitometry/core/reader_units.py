"""Readings of light through a patch, as a meter shows them, turned into densities.

A spot meter over a light table reads a patch in stops below the open table, as an exposure value, as the exposure time
at one aperture, or as a share of the light. Each is a density once the reading of the open table is known. A wedge of
known densities, read on the set-up that reads the strip, shows the set-up's flare and scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
import scipy

from curves.errors import StripError
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.core.values import FRACTION, Bounds, check_fields, short_repr, word

ReaderUnit = Literal["density", "stops", "ev", "seconds", "percent"]
READER_UNITS: tuple[ReaderUnit, ...] = get_args(ReaderUnit)

ASSUMED_SCATTER: dict[ReaderUnit, float] = {
    "stops": 0.03, "ev": 0.03, "percent": 0.03, "seconds": 0.04,
}  # fmt: skip
"""Standard deviation of one reading: a tenth of a stop, and for times the rounding to a third of a stop besides: common
practice [density]."""

ASSUMED_FLARE = 0.001
"""Standard uncertainty of the flare of a masked light table and a meter: common practice [of the open gate's light]."""

READER_WORDS: dict[ReaderUnit, str] = {
    "density": "densities", "stops": "stops below the open gate", "ev": "exposure values",
    "seconds": "exposure times at one aperture", "percent": "per cent of the open gate's light",
}  # fmt: skip
_THIRDS = (
    1, 1.25, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500,
    640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000,
)  # fmt: skip
_LONG = (1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30)
_HALVES = {1 / 45: 5.5, 1 / 90: 6.5, 1 / 180: 7.5, 1 / 350: 8.5, 1 / 750: 9.5, 1 / 1500: 10.5}
_PLACES = {
    **{1.0 / dial: -i / 3.0 for i, dial in enumerate(_THIRDS)},
    **{float(dial): i / 3.0 for i, dial in enumerate(_LONG)},
    **{dial: -stops for dial, stops in _HALVES.items()},
}
_SAME = 0.01
"""Distance from a marked time at which a time is the marked one: rounding of what is typed [stops]."""

STRETCH = Bounds(least=0.5, most=2.0)
"""Density read over density: no meter is further out [unitless]."""


def exact_seconds(marked: float) -> float:
    """Return the exact time that a marked exposure time stands for: 1/60 is 1/64 second [s]; others as they are."""
    for dial, stops in _PLACES.items():
        if abs(math.log2(marked / dial)) < _SAME:
            return float(2.0**stops)
    return marked


def marked_seconds(exact: float) -> str:
    """Return an exact exposure time [s] as a shutter marks it: 1/64 second is "1/60"; other times as numbers."""
    stops = math.log2(exact)
    dial = min(_PLACES, key=lambda marked: abs(_PLACES[marked] - stops))
    if abs(_PLACES[dial] - stops) > _SAME:
        return f"{exact:.4g}"
    return f"1/{1.0 / dial:.4g}" if dial < 1.0 else f"{dial:g}"


@dataclass(frozen=True)
class ReaderScale:
    """The scale on which a strip was read.

    Attributes:
        unit: "density", "stops", "ev", "seconds" or "percent".
        open_gate: reading of the light with no film in it, in `unit`; None for 0 stops or density, 100 per cent.
        flare: stray light that adds to every reading, as a fraction of the open gate's light; taken out [unitless].
        flare_uncertainty: its standard uncertainty; None if not given [unitless].
        stretch: density read over density, as a known wedge shows it; divided out [unitless].
        by_wedge: True if flare and stretch were measured on a known wedge.

    Raises:
        StripError: the unit is not known, a number is out of range, or the open gate's reading is missing.
    """

    unit: ReaderUnit = "density"
    open_gate: float | None = None
    flare: float | None = None
    flare_uncertainty: float | None = None
    stretch: float = 1.0
    by_wedge: bool = False
    __repr__ = short_repr

    def __post_init__(self) -> None:
        word(self.unit, READER_UNITS, "reader, unit")
        check_fields(self, flare=FRACTION, flare_uncertainty=FRACTION, stretch=STRETCH)
        if self.open_gate is None and self.unit in ("ev", "seconds"):
            raise StripError(
                "the reading of the open gate is missing",
                where="reader, open_gate",
                needed=f"the light with no film in it, read as {READER_WORDS[self.unit]}",
            )
        if self.open_gate is not None and self.unit in ("seconds", "percent") and not self.open_gate > 0.0:
            raise StripError(f"{self.open_gate:g} is out of range", where="reader, open_gate", needed="more than 0")

    @property
    def by_meter(self) -> bool:
        """True if the readings are those of a light, not of a densitometer."""
        return self.unit != "density"

    @property
    def flare_size(self) -> float:
        """Standard uncertainty of the flare, stated or assumed [of the open gate's light]."""
        if self.flare_uncertainty is not None:
            return self.flare_uncertainty
        return ASSUMED_FLARE if self.flare is None else max(0.5 * self.flare, 0.0002)

    def density(self, reading: float, where: str) -> float:
        """Return the density that a reading stands for; NaN stays NaN [density].

        Args:
            reading: in `unit`.
            where: what to call it in the error.

        Raises:
            StripError: no light gives the reading, or it holds no more light than the flare alone.
        """
        if math.isnan(reading):
            return reading
        found = self.through(reading, where) / self.stretch
        if not self.flare:
            return found
        light = 10.0**-found * (1.0 + self.flare) - self.flare
        if not light > 0.0:
            raise StripError(
                f"{reading:g} holds no more light than the flare of {self.flare:g}",
                where=where,
                needed="a flare that is less than the light of the densest patch",
            )
        return -math.log10(light)

    def through(self, reading: float, where: str) -> float:
        """Return the density that a reading shows, flare and stretch still in it [density].

        Raises:
            StripError: no light gives the reading.
        """
        if self.unit in ("seconds", "percent") and not reading > 0.0:
            raise StripError(f"{reading:g} is out of range", where=where, needed="more than 0")
        gate = self.open_gate or 0.0
        if self.unit == "stops":
            return STOP * (reading - gate)
        if self.unit == "ev":
            return STOP * (gate - reading)
        if self.unit == "seconds":
            return math.log10(exact_seconds(reading) / exact_seconds(gate))
        if self.unit == "percent":
            return -math.log10(reading / (100.0 if self.open_gate is None else gate))
        return reading - gate

    def reading(self, density: float) -> float:
        """Return the reading that stands for a density, in `unit`; NaN stays NaN."""
        flare, gate = self.flare or 0.0, self.open_gate or 0.0
        through = -math.log10((10.0**-density + flare) / (1.0 + flare)) * self.stretch
        if self.unit == "stops":
            return gate + through / STOP
        if self.unit == "ev":
            return gate - through / STOP
        if self.unit == "seconds":
            return float(exact_seconds(gate) * 10.0**through)
        if self.unit == "percent":
            return float((100.0 if self.open_gate is None else gate) * 10.0**-through)
        return gate + through

    def reading_text(self, density: float) -> str:
        """Return the reading that stands for a density as the instrument shows it, such as "1/125"."""
        reading = self.reading(density)
        if math.isnan(reading):
            return "-"
        if self.unit == "seconds":
            return marked_seconds(reading)
        if self.unit == "percent":
            return f"{reading:.3g}"
        return f"{reading:.2f}"

    def remark(self) -> str:
        """Return sentences on the conversion of the readings; empty for densities as they are."""
        if not (self.by_meter or self.by_wedge):
            return ""
        came = f"Readings came as {READER_WORDS[self.unit]}; they were converted into densities."
        if self.by_wedge:
            return (
                f"{came} A known wedge, read on the same set-up, shows flare of {100.0 * (self.flare or 0.0):.2f} % and"
                f" a scale of {self.stretch:.3f}; both are taken out."
            )
        return (
            f"{came} A wedge of known densities read on the same set-up would measure its flare and its scale, which"
            " count as errors until then."
        )


DENSITOMETER = ReaderScale()
"""The scale of an instrument that shows densities, counted from an empty gate."""

ASSUMED_KNOWN = 0.02
"""Standard uncertainty of a density of the known wedge where nobody states it: common practice [density]."""

FEWEST, LEAST_SPAN = 4, 1.0
"""Readings, and the span of their densities, that tell flare from scale: our own choice [unitless], [density]."""

_MOST_FLARE = 0.2
"""Most stray light that a known wedge may show: more is not a reader's: our own choice [of the open gate's light]."""

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

        fitted = scipy.optimize.least_squares(
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
