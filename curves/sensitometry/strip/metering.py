"""The exposure that a meter set to an index gives a mid-grey at the film.

A meter of constant K (ISO 2720: N^2 / t = L S / K) set to an index EI gives the metered tone H = k / EI at the film
plane, k = q K with the focal-plane factor q of ISO 12232. Meters are built with K = 12.5 or 14. Where K is not stated,
k is the middle of the two in the log, and the difference is a source of error of its own.

A strip exposed under a light that nobody measured has no place on that scale. One grey card, metered and photographed
on the same film, gives it one: the frame's density lies on the strip's own curve. A filter in front of the lens was
seen by the meter, or was not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import CHANNELS, STOP, Channel, FloatArray, Kind, sign_of
from curves.sensitometry.core.values import (
    METER_CONSTANT,
    POSITIVE,
    READING,
    STOPS,
    Bounds,
    check_fields,
    number,
    short_repr,
    store,
    text,
    word,
)

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


Metered = Literal["through", "without"]

FACTOR = Bounds(least=1.0, below=1e5)
"""A filter's factor [unitless]."""

_LEAST_SLOPE = 0.25
"""Gradient of a strip below which a frame's density tells no exposure: our own choice [density per log10 H]."""

_REACH = 0.40
"""Distance on either side of a frame's place over which the strip's slope is taken: our own choice [log10]."""

_OFFSET = Bounds(above=-20.0, below=20.0)


@dataclass(frozen=True)
class FilterUsed:
    """A filter that was in front of the lens.

    Attributes:
        name: what it is called.
        metered: whether the meter looked "through" the filter or "without" it.
        factor: what a meter takes the filter for [unitless]; None if not given.
        uncertainty_stops: standard uncertainty of a meter that looks through the filter, against the film [stops];
            None if not given.

    Raises:
        StripError: a word is not known, or a number is out of range.
    """

    name: str
    metered: Metered = "without"
    factor: float | None = None
    uncertainty_stops: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        text(self.name, "FilterUsed, name")
        word(self.metered, get_args(Metered), "FilterUsed, metered")
        check_fields(self, factor=FACTOR, uncertainty_stops=STOPS)


@dataclass(frozen=True)
class GreyFrame:
    """A grey card, metered and photographed on the strip's film, and processed and read with the strip.

    Attributes:
        ei: index that the meter was set to [unitless].
        densities: of the card on the film, by channel [density].
        stops: exposure given beyond the metered one, + is more [stops].
        uncertainty_stops: standard uncertainty of shutter and diaphragm [stops]; None if not given.

    Raises:
        StripError: a number is out of range, or no density is given.
    """

    ei: float
    densities: Mapping[Channel, float]
    stops: float = 0.0
    uncertainty_stops: float | None = None
    __repr__ = short_repr

    def __post_init__(self) -> None:
        check_fields(self, ei=POSITIVE, stops=_OFFSET, uncertainty_stops=STOPS)
        if not isinstance(self.densities, Mapping) or not self.densities:
            raise StripError(
                "the grey frame has no density", where="GreyFrame, densities", needed='such as {"visual": 1.02}'
            )
        where = "GreyFrame"
        read = {word(c, CHANNELS, where): number(d, f"{where}, {c}", READING) for c, d in self.densities.items()}
        store(self, "densities", read)

    def place(
        self, log_h: FloatArray, readings: Mapping[Channel, FloatArray], kind: Kind, scatter: float
    ) -> tuple[float, float]:
        """Return the frame's log H on a strip's own readings, and its standard uncertainty [log10].

        Each channel that frame and strip share gives a place: on a straight line through the steps about the frame's
        density. The mean of the places is returned; the uncertainty holds the scatter of the frame's and of the steps'
        readings over the slope, and how far the channels disagree.

        Args:
            log_h: log H of each row, (n,) [log10].
            readings: densities of the rows by channel, (n,), NaN where not read [density].
            kind: "negative" or "reversal".
            scatter: standard deviation of one reading [density].

        Raises:
            StripError: the frame lies off the strip, or where the strip hardly changes, or shares no channel with it.
        """
        sign = sign_of(kind)
        found = [
            _placed(sign * density, log_h, sign * readings[channel], scatter, channel)
            for channel, density in self.densities.items()
            if channel in readings
        ]
        if not found:
            raise StripError(
                f"the grey frame was read in {' and '.join(self.densities)}, and the strip was not",
                where="grey frame",
                needed="a channel that both were read in",
            )
        places, each = np.array(found).T
        apart = float(places.std(ddof=1)) / math.sqrt(places.size) if places.size > 1 else 0.0
        return float(places.mean()), float(np.hypot(np.sqrt(np.mean(each**2) / each.size), apart))


def _placed(
    wanted: float, log_h: FloatArray, rising: FloatArray, scatter: float, channel: Channel
) -> tuple[float, float]:
    """Return the log H of one density on one channel, and its standard uncertainty [log10].

    Args:
        wanted: the frame's density, with the sign that makes densities rise with exposure [density].
        log_h: log H of each row, (n,) [log10].
        rising: densities of the rows with the same sign, (n,) [density].
        scatter: standard deviation of one reading [density].
        channel: for errors.
    """
    known = np.isfinite(rising)
    order = np.argsort(log_h[known])
    x, read = log_h[known][order], rising[known][order]
    level = np.maximum.accumulate(read)
    if not level[0] < wanted < level[-1]:
        ends = sorted((abs(float(level[0])), abs(float(level[-1]))))
        raise StripError(
            f"the grey frame's {channel} density {abs(wanted):.2f} does not lie on the strip, {ends[0]:.2f} to"
            f" {ends[1]:.2f}",
            where="grey frame",
            needed="a frame whose density lies between those of the strip's end steps",
        )
    chord = float(np.interp(wanted, level, x))
    near = np.argsort(np.abs(x - chord))[: max(4, int(np.sum(np.abs(x - chord) <= _REACH)))]
    slope, start = np.polyfit(x[near] - chord, read[near], 1)
    if slope < _LEAST_SLOPE:
        raise StripError(
            f"at the grey frame's {channel} density {abs(wanted):.2f} the strip hardly changes: its slope is"
            f" {slope:.2f}",
            where="grey frame",
            needed=f"a frame on the steeper part of the curve, of slope {_LEAST_SLOPE:g} or more",
        )
    # The chord of two steps and the line through several differ where the strip bends, and by the readings' scatter.
    away = float(wanted - start) / float(slope)
    u = math.hypot(scatter / float(slope) * math.sqrt(1.0 + 1.0 / near.size), 0.5 * away)
    return chord + 0.5 * away, u
