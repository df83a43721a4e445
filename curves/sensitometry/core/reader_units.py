"""Readings of light through a patch, as a meter shows them, turned into densities.

A spot meter over a light table reads a patch in stops below the open table, as an exposure value, as the exposure time
at one aperture, or as a share of the light. Each is a density once the reading of the open table is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from curves.errors import StripError
from curves.sensitometry.core.units import STOP
from curves.sensitometry.core.values import FRACTION, check_fields, short_repr, word

ReaderUnit = Literal["density", "stops", "ev", "seconds", "percent"]
READER_UNITS: tuple[ReaderUnit, ...] = get_args(ReaderUnit)

ASSUMED_SCATTER: dict[ReaderUnit, float] = {"stops": 0.03, "ev": 0.03, "percent": 0.03, "seconds": 0.04}
"""Standard deviation of one reading: a tenth of a stop, and for times the rounding to a third of a stop besides: common
practice [density]."""

ASSUMED_FLARE = 0.001
"""Standard uncertainty of the flare of a masked light table and a meter: common practice [of the open gate's light]."""

_WORDS: dict[ReaderUnit, str] = {
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


def exact_seconds(marked: float) -> float:
    """Return the exact time that a marked exposure time stands for: 1/60 is 1/64 second [s]; others as they are."""
    for dial, stops in _PLACES.items():
        if abs(math.log2(marked / dial)) < _SAME:
            return float(2.0**stops)
    return marked


@dataclass(frozen=True)
class ReaderScale:
    """The scale on which a strip was read.

    Attributes:
        unit: "density", "stops", "ev", "seconds" or "percent".
        open_gate: reading of the light with no film in it, in `unit`; None for 0 stops or density, 100 per cent.
        flare: stray light that adds to every reading, as a fraction of the open gate's light; taken out [unitless].
        flare_uncertainty: its standard uncertainty; None if not given [unitless].

    Raises:
        StripError: the unit is not known, a number is out of range, or the open gate's reading is missing.
    """

    unit: ReaderUnit = "density"
    open_gate: float | None = None
    flare: float | None = None
    flare_uncertainty: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        word(self.unit, READER_UNITS, "reader, unit")
        check_fields(self, flare=FRACTION, flare_uncertainty=FRACTION)
        if self.open_gate is None and self.unit in ("ev", "seconds"):
            raise StripError(
                "the reading of the open gate is missing",
                where="reader, open_gate",
                needed=f"the light with no film in it, read as {_WORDS[self.unit]}",
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
        found = self._through(reading, where)
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

    def _through(self, reading: float, where: str) -> float:
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

    def remark(self) -> str:
        """Return a sentence on the conversion of the readings; empty for densities."""
        return f"Readings came as {_WORDS[self.unit]}; they were converted into densities." if self.by_meter else ""


DENSITOMETER = ReaderScale()
"""The scale of an instrument that shows densities, counted from an empty gate."""
