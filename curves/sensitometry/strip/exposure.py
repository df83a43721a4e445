"""The exposure that each step received.

One class for each way of exposing a strip. Each turns the positions of the readings (step numbers, stops,
exposure indexes or log H) into log10 exposure, and says whether that is absolute. Each refuses, with StripError, a
number that no exposure can have. Frames of a bracket may be judged by eye: an eye that looks at one frame places it
within half a stop (common practice); half of that variance is the eye's own taste, the same in every frame that it
judges, and half differs from frame to frame (our own choice).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from curves.errors import StripError
from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind, exact_ei
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
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.strip.metering import GreyFrame
from curves.sensitometry.strip.wedge import Pieces, Wedge

Position = Literal["step", "stops", "ei", "log_h"]
LogHUnit = Literal["lux-seconds", "relative to metered mid-grey", "relative"]
"""What log H counts from: one lux-second, the mid-grey metered at an index, or an exposure that nobody stated."""

POSITIONS: tuple[Position, ...] = ("step", "stops", "ei", "log_h")

INDEX = Bounds(least=1e-3, most=1e6)
"""Exposure index that a meter was set to: no film lies beyond [unitless]."""

LUX_SECONDS = Bounds(least=1e-12, most=1e12)
"""Exposure on the clear step: no film and no lamp lies beyond [lux-seconds]."""

OFFSET = Bounds(above=-20.0, below=20.0)
"""Exposure given beyond the metered one [stops]."""

NO_ORIGIN = "log H is relative: nothing states what it counts from"
"""Why a strip whose log H is relative has neither an index nor a speed."""

DAYLIGHT_KELVIN = (5000.0, 6500.0)
"""Colour temperatures of light that films rated for daylight are meant for: common practice [K]."""


Judgement = Literal["too dark", "right", "too light"]
JUDGEMENTS: tuple[Judgement, ...] = get_args(Judgement)

ASSUMED_EYE = 0.5
"""Standard uncertainty of the exposure of one frame as the eye judges it: half a stop, common practice [stops]."""

ASSUMED_RIGHT = 0.5
"""Distance from the right exposure up to which a frame looks right: our own choice, since frames a stop apart are
usually told apart [stops]."""

TASTE_SHARE = 0.5
"""Share of the eye's variance that is the same in every frame, the taste of the eye: our own choice [unitless]."""

SLIPS = 0.02
"""Chance that a judgement stands beside the wrong frame, and may be any word: our own choice [unitless]."""

RIGHT_WITHIN = Bounds(above=0.0, below=3.0)
"""A distance from the right exposure up to which a frame looks right [stops]."""


@dataclass(frozen=True)
class Eye:
    """The reliability of the eye that judged frames.

    Attributes:
        uncertainty_stops: standard uncertainty of the exposure of one frame as the eye judges it; None if not given
            [stops].
        right_within_stops: distance from the right exposure up to which a frame looks right; None if not given [stops].

    Raises:
        StripError: a number is out of range.
    """

    uncertainty_stops: float | None = None
    right_within_stops: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, uncertainty_stops=STOPS, right_within_stops=RIGHT_WITHIN)

    @property
    def assumed(self) -> bool:
        """True if the reliability of the eye is assumed, not given."""
        return self.uncertainty_stops is None

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of one judgement, given or assumed [stops]."""
        return ASSUMED_EYE if self.uncertainty_stops is None else self.uncertainty_stops

    @property
    def taste(self) -> float:
        """Standard uncertainty of what the eye takes for right, common to all of its judgements [stops]."""
        return float(self.uncertainty * np.sqrt(TASTE_SHARE))

    @property
    def each(self) -> float:
        """Standard uncertainty of a judgement that differs from frame to frame [stops]."""
        return float(self.uncertainty * np.sqrt(1.0 - TASTE_SHARE))

    @property
    def right_within(self) -> float:
        """Distance from the right exposure up to which a frame looks right, given or assumed [stops]."""
        return ASSUMED_RIGHT if self.right_within_stops is None else self.right_within_stops

    def chance(self, side: FloatArray, surplus: FloatArray, frame_error: float) -> FloatArray:
        """Return the chance of judgements, any shape [unitless].

        Args:
            side: -1 for too little exposure, 0 for right, 1 for too much, as `side_of` returns them.
            surplus: exposure of the frame beyond what the eye takes for right [stops].
            frame_error: standard uncertainty of the exposure of one frame against the next [stops].
        """
        spread = max(float(np.hypot(self.each, frame_error)), 1e-3)
        over = ndtr((surplus - self.right_within) / spread)
        under = ndtr((-surplus - self.right_within) / spread)
        chance = np.where(side > 0, over, np.where(side < 0, under, 1.0 - over - under))
        return np.asarray(SLIPS / len(JUDGEMENTS) + (1.0 - SLIPS) * chance)


def side_of(judgement: Judgement, kind: Kind) -> int:
    """Return the side of the right exposure that a judgement names: -1 too little, 0 right, 1 too much.

    The film itself is judged, on the light table or projected: a reversal that is too light had too much exposure, a
    negative that is too light had too little.
    """
    side = JUDGEMENTS.index(judgement) - 1
    return side if kind == "reversal" else -side


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
    """The wedge lay on the film under one light: log H = log10(lux x seconds) - wedge density.

    Where nobody measured the light, log H counts from the most exposed step; a grey frame that was metered moves its
    origin to the metered mid-grey.

    Attributes:
        lux: illuminance on the wedge [lux]; None if it is not known, but constant.
        seconds: exposure time [s]; None if it is not known, and then `lux` is not.
        uncertainty_stops: standard uncertainty of the exposure, common to all steps [stops]; None if not given.
        meter_uncertainty_stops: standard uncertainty of the meter that the index is meant for [stops]; None if not
            given.
        evenness_stops: standard deviation of the light over the length of the wedge [stops]; None if not given.
        light: what the light was, such as "daylight 5500 K"; empty if not given.
        grey_frame: a metered grey card on the same film, where `lux` is not known; None if there is none.
        grey_log_h: log H of that frame from the most exposed step, as the strip's own readings show it, and its
            standard uncertainty [log10]; `Strip` finds it.
    """

    lux: float | None = None
    seconds: float | None = None
    uncertainty_stops: float | None = None
    meter_uncertainty_stops: float | None = None
    evenness_stops: float | None = None
    light: str = ""
    grey_frame: GreyFrame | None = None
    grey_log_h: tuple[float, float] | None = None
    pieces: ClassVar[None] = None
    positions: ClassVar[tuple[Position, ...]] = ("step",)
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, lux=POSITIVE, seconds=POSITIVE, uncertainty_stops=STOPS)
        if self.lux is not None and self.seconds is None:
            raise StripError("the light is given, and the time is not", where="Contact, seconds", needed="both")
        if self.lux is not None and self.grey_frame is not None:
            raise StripError(
                "a known light and a grey frame are both given", where="Contact, grey_frame", needed="one of them"
            )
        if self.lux is not None and self.seconds is not None:
            number(self.lux * self.seconds, "Contact, lux times seconds", LUX_SECONDS)
        check_fields(self, meter_uncertainty_stops=STOPS, evenness_stops=STOPS)
        text(self.light, "Contact, light")

    @property
    def ei(self) -> float | None:
        """The index at which mid-grey was metered, where a grey frame gives log H its origin."""
        return None if self.grey_frame is None else self.grey_frame.ei

    @property
    def unit(self) -> LogHUnit:
        """The exposure that log H counts from."""
        if self.lux is not None:
            return "lux-seconds"
        return "relative" if self.grey_frame is None else "relative to metered mid-grey"

    def log_h(self, position: FloatArray, wedge: Wedge | None) -> FloatArray:
        """Return log10 exposure [log10; see `unit`] of step numbers ``position`` (1-D, from 1)."""
        density = _step_density(position, wedge)
        if self.lux is not None and self.seconds is not None:
            return np.asarray(np.log10(self.lux * self.seconds) - density)
        assert wedge is not None
        origin = 0.0
        if self.grey_frame is not None and self.grey_log_h is not None:
            origin = self.grey_frame.stops * STOP - self.grey_log_h[0]
        return np.asarray(origin + float(np.min(wedge.density)) - density)

    def placed(
        self,
        position: FloatArray,
        wedge: Wedge | None,
        readings: Mapping[Channel, FloatArray],
        kind: Kind,
        scatter: float | None,
    ) -> Contact:
        """Return the exposure with its grey frame, if there is one, found on a strip's readings.

        Args:
            position: step numbers of the rows, (n,).
            wedge: the wedge.
            readings: densities by channel, (n,), NaN where not read [density].
            kind: "negative" or "reversal".
            scatter: standard deviation of one reading [density]; that of a densitometer if None.

        Raises:
            StripError: the frame has no place on the strip.
        """
        if self.grey_frame is None:
            return self
        from_end = replace(self, grey_frame=None, grey_log_h=None).log_h(position, wedge)
        place = self.grey_frame.place(from_end, readings, kind, ASSUMED_REPEATABILITY if scatter is None else scatter)
        return replace(self, grey_log_h=place)


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
    pieces: ClassVar[None] = None
    positions: ClassVar[tuple[Position, ...]] = ("step",)
    unit: ClassVar[LogHUnit] = "relative to metered mid-grey"
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=INDEX, offset_stops=OFFSET, flare=FRACTION)
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
    pieces: ClassVar[None] = None
    positions: ClassVar[tuple[Position, ...]] = ("stops", "ei")
    unit: ClassVar[LogHUnit] = "relative to metered mid-grey"
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=INDEX, uncertainty_stops=STOPS, seconds=POSITIVE, frame_uncertainty_stops=STOPS)
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
        return np.asarray((np.log10(exact_ei(self.ei)) - np.log10(exact_ei(ei))) / STOP)


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
        check_fields(self, ei=INDEX, uncertainty_stops=STOPS, seconds=POSITIVE, meter_uncertainty_stops=STOPS)
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
