"""The exposure that each step received.

One class for each way of exposing a strip. Each turns the positions of the readings (step numbers, stops,
exposure indexes or log H) into log10 exposure, and says whether that is absolute. Each refuses, with StripError, a
number that no exposure can have.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import ClassVar, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.core.judgement import Eye
from curves.sensitometry.core.units import STOP, FloatArray, exact_ei
from curves.sensitometry.core.values import (
    FRACTION,
    POSITIVE,
    STOPS,
    Bounds,
    check_fields,
    number,
    part,
    short_repr,
    store,
    text,
    whole,
    word,
)
from curves.sensitometry.strip.wedge import Wedge

Position = Literal["step", "stops", "ei", "log_h"]
LogHUnit = Literal["lux-seconds", "relative to metered mid-grey", "relative"]
"""What log H counts from: one lux-second, the mid-grey metered at an index, or an exposure that nobody stated."""

POSITIONS: tuple[Position, ...] = ("step", "stops", "ei", "log_h")

LUX_SECONDS = Bounds(least=1e-12, most=1e12)
"""Exposure on the clear step: no film and no lamp lies beyond [lux-seconds]."""

OFFSET = Bounds(above=-20.0, below=20.0)
"""Exposure given beyond the metered one [stops]."""

NO_ORIGIN = "log H is relative: nothing states what it counts from"
"""Why a strip whose log H is relative has neither an index nor a speed."""

ASSUMED_BETWEEN = 0.15
"""Standard uncertainty of one exposure against the next where none is given: common practice, as of a shutter
[stops]."""

DAYLIGHT_KELVIN = (5000.0, 6500.0)
"""Colour temperatures of light that films rated for daylight are meant for: common practice [K]."""


class _Lit:
    """An exposure by a light that the record may describe."""

    light: str

    @property
    def matches_daylight(self) -> bool:
        """True if the light is described as daylight, or by a colour temperature near it ("5500 K")."""
        kelvin = re.search(r"(\d{4,5}) ?K\b", self.light)
        if kelvin is not None:
            return DAYLIGHT_KELVIN[0] <= float(kelvin[1]) <= DAYLIGHT_KELVIN[1]
        return "daylight" in self.light.lower()


@dataclass(frozen=True)
class Contact(_Lit):
    """The wedge lay on the film under a known light: log H = log10(lux x seconds) - wedge density.

    Attributes:
        lux: illuminance on the wedge [lux].
        seconds: exposure time [s].
        uncertainty_stops: standard uncertainty of the exposure, common to all steps [stops]; None if not given.
        meter_uncertainty_stops: standard uncertainty of the meter that the index is meant for [stops]; None if not
            given.
        evenness_stops: standard deviation of the light over the length of the wedge [stops]; None if not given.
        light: what the light was, such as "daylight 5500 K"; empty if not given.
    """

    lux: float
    seconds: float
    uncertainty_stops: float | None = None
    meter_uncertainty_stops: float | None = None
    evenness_stops: float | None = None
    light: str = ""
    positions: ClassVar[tuple[Position, ...]] = ("step",)
    ei: ClassVar[None] = None
    unit: ClassVar[LogHUnit] = "lux-seconds"
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, lux=POSITIVE, seconds=POSITIVE, uncertainty_stops=STOPS)
        number(self.lux * self.seconds, "Contact, lux times seconds", LUX_SECONDS)
        check_fields(self, meter_uncertainty_stops=STOPS, evenness_stops=STOPS)
        text(self.light, "Contact, light")

    def log_h(self, position: FloatArray, wedge: Wedge | None) -> FloatArray:
        """Return log10 exposure [log10 lux-seconds] of step numbers ``position`` (1-D, from 1)."""
        return np.asarray(np.log10(self.lux * self.seconds) - _step_density(position, wedge))


@dataclass(frozen=True)
class Camera(_Lit):
    """A back-lit wedge was photographed; stray light adds the same exposure to every step.

    Attributes:
        ei: exposure index the meter was set to [unitless].
        metered_step: the step that the meter read, numbered from 1.
        offset_stops: exposure given beyond the metered one, + is more [stops].
        flare: stray light as a fraction of the clear step's light [unitless].
        uncertainty_stops: standard uncertainty of the metering, common to all steps [stops].
        seconds: exposure time, None if it is not known [s].
        flare_uncertainty: standard uncertainty of the flare, as a fraction of the clear step's light; None if not
            given.
        light: what the light was; empty if not given.
    """

    ei: float
    metered_step: int
    offset_stops: float = 0.0
    flare: float = 0.0
    uncertainty_stops: float | None = None
    seconds: float | None = None
    flare_uncertainty: float | None = None
    light: str = ""
    positions: ClassVar[tuple[Position, ...]] = ("step",)
    unit: ClassVar[LogHUnit] = "relative to metered mid-grey"
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=POSITIVE, offset_stops=OFFSET, flare=FRACTION)
        check_fields(self, uncertainty_stops=STOPS, seconds=POSITIVE, flare_uncertainty=FRACTION)
        store(self, "metered_step", whole(self.metered_step, "Camera, metered_step", least=1))
        text(self.light, "Camera, light")

    def log_h(self, position: FloatArray, wedge: Wedge | None) -> FloatArray:
        """Return log10 exposure relative to the metered mid-grey [log10] of step numbers ``position`` (1-D)."""
        metered = _step_density(np.array([float(self.metered_step)]), wedge)[0]
        base = self.offset_stops * STOP + metered
        x = base - _step_density(position, wedge)
        assert wedge is not None
        clear = base - float(np.min(wedge.density))
        return np.asarray(np.log10(10.0**x + self.flare * 10.0**clear))


@dataclass(frozen=True)
class Frames(_Lit):
    """A grey card, one frame to a row; rows carry ``stops`` (+ is more) or the ``ei`` each frame was rated at.

    Attributes:
        ei: the exposure index that zero stops stands for [unitless].
        uncertainty_stops: standard uncertainty of the metering, common to all frames [stops].
        seconds: exposure time of the frame at zero stops, None if it is not known [s].
        frame_uncertainty_stops: standard uncertainty of one frame against the next [stops]; None if not given.
        light: what the light was; empty if not given.
        eye: the reliability of the eye that judged frames.
    """

    ei: float
    uncertainty_stops: float | None = None
    seconds: float | None = None
    frame_uncertainty_stops: float | None = None
    light: str = ""
    eye: Eye = field(default_factory=Eye)
    positions: ClassVar[tuple[Position, ...]] = ("stops", "ei")
    unit: ClassVar[LogHUnit] = "relative to metered mid-grey"
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=POSITIVE, uncertainty_stops=STOPS, seconds=POSITIVE, frame_uncertainty_stops=STOPS)
        text(self.light, "Frames, light")
        part(self.eye, (Eye,), "Frames, eye")

    def log_h(self, position: FloatArray, wedge: Wedge | None = None) -> FloatArray:  # noqa: ARG002
        """Return log10 exposure relative to the metered mid-grey [log10] of ``position`` in stops (1-D)."""
        return np.asarray(position * STOP)

    def stops_of_ei(self, ei: ArrayLike) -> FloatArray:
        """Return the exposure [stops, + is more] of frames rated at ``ei`` [unitless], any shape.

        A number of the usual series stands for the exact index of its degrees: 12 on a dial is 12/12°, that is 12.6,
        so a bracket of 50, 25, 12 is one of whole stops.
        """
        return np.asarray(np.log10(exact_ei(self.ei) / exact_ei(ei)) / STOP)


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


@dataclass(frozen=True)
class GivenExposure(_Lit):
    """The readings carry log H themselves.

    Attributes:
        unit: what log H counts from; "relative", from an exposure that nobody stated, gives no index and no speed.
        ei: the exposure index at which mid-grey was metered, if log H counts from there; None otherwise [unitless].
        uncertainty_stops: standard uncertainty of the exposure, common to all steps [stops].
        seconds: exposure time, None if it is not known [s].
        meter_uncertainty_stops: standard uncertainty of the meter that the index is meant for [stops], if log H is in
            lux-seconds; None if not given.
        light: what the light was; empty if not given.
        pieces: the exposures that a joined strip is made of; None for one exposure.
    """

    unit: LogHUnit = "relative"
    ei: float | None = None
    uncertainty_stops: float | None = None
    seconds: float | None = None
    meter_uncertainty_stops: float | None = None
    light: str = ""
    pieces: Pieces | None = None
    positions: ClassVar[tuple[Position, ...]] = ("log_h",)
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=POSITIVE, uncertainty_stops=STOPS, seconds=POSITIVE, meter_uncertainty_stops=STOPS)
        text(self.light, "GivenExposure, light")
        word(self.unit, get_args(LogHUnit), "GivenExposure, unit")
        if (self.ei is not None) != (self.unit == "relative to metered mid-grey"):
            raise StripError(
                f"log H is {'in ' if self.unit == 'lux-seconds' else ''}{self.unit},"
                f" and {'no index was' if self.ei is None else 'an index was'} given",
                where="GivenExposure",
                needed="ei with the unit relative to metered mid-grey, and with no other",
            )

    def log_h(self, position: FloatArray, wedge: Wedge | None = None) -> FloatArray:  # noqa: ARG002
        """Return ``position``, which is log H already [log10]."""
        return np.asarray(position, dtype=np.float64)


Exposure = Contact | Camera | Frames | GivenExposure


def _step_density(position: FloatArray, wedge: Wedge | None) -> FloatArray:
    """Return the wedge density [density] at step numbers ``position`` (1-D, from 1)."""
    assert wedge is not None, "a strip exposed through a wedge carries one: Strip checks it"
    return np.asarray(wedge.density[np.asarray(position, dtype=np.intp) - 1])
