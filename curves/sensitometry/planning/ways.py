"""The first strips by each way of exposing: in contact under a light, before a camera, or as a bracket of frames.

A layout says where strips must lie; a way says what to set. Settings lie on the dial, so a strip may miss its place by
half a click, and every chance is computed where the strips then lie.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, exact_ei, nominal_speed
from curves.sensitometry.planning.camera import Dial, Mark, value_of
from curves.sensitometry.planning.first_strip import (
    MOST_STRIPS,
    Expectation,
    Layout,
    layout_of_frames,
    layouts_by_count,
    layouts_of_strips,
    middle_of,
    span_of,
)
from curves.sensitometry.planning.light import SPEED, Illuminance
from curves.sensitometry.planning.population import FilmGuess
from curves.sensitometry.strip.metering import CONSTANT_HALF_WIDTH, metered_exposure
from curves.sensitometry.strip.reciprocity import NO_LOSS, Reciprocity
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.sources import ASSUMED_COMMON, ASSUMED_LIGHT, ASSUMED_METERING

Way = Literal["contact", "camera", "frames"]
WAYS: tuple[Way, ...] = ("contact", "camera", "frames")

FILTER_STEP = 0.30
"""Grey filters come in stops: common practice [density]."""

FILTER_STOPS = 0.10
"""Standard uncertainty of a grey filter's density, which joins that of the light: our own choice [stops]."""

USUAL_SECONDS = 1.0 / 32.0
"""Time near those of the pictures, and long enough for a leaf shutter to be true: common practice [s]."""

_SAME = 0.05
"""Dials of indexes count in tenths of a decade, shutters in halves: settings nearer than this are the same [stops]."""

_HALF_A_CLICK = 0.51
"""A setting nearer than this is as near as whole stops allow [stops]."""


@dataclass(frozen=True)
class PlannedStrip:
    """One strip, or one frame of a bracket, and what to set for it.

    Attributes:
        ends: log H of its least and its most exposed step, as the film counts a long time [log10 lux-seconds].
        lux_seconds: exposure in front of the wedge, or of a metered frame at the film [lux-seconds].
        time, aperture: settings on the dial; None where the light is not known.
        filter_density: grey filter in the light [density]; 0.0 for none.
        offset_stops: exposure beyond the metered one, as the film counts it [stops]; None for a contact exposure.
        ei: index that a meter would be set to for this exposure as metered [unitless]; None for a contact exposure.
        alone: the chance that this strip alone holds both ends of the curve [unitless]; missing for a frame.
    """

    ends: tuple[float, float]
    lux_seconds: float
    time: Mark | None
    aperture: Mark | None
    filter_density: float
    offset_stops: float | None
    ei: float | None
    alone: Quantity

    @property
    def lost_stops(self) -> float:
        """Share of a long time that the film does not count [stops]."""
        return 0.0 if self.time is None else self.time.lost_stops


@dataclass(frozen=True, eq=False)
class FirstPlan:
    """The first strips of a film by one way of exposing.

    Attributes:
        way: how they are exposed.
        expected: the films that the guess allows.
        layout: where the strips were meant to lie.
        strips: the strips, the most exposed first.
        chance: the chance that the strips together hold both ends of the curve [unitless].
        light: the light on the wedge, without any filter; None where it is not known.
        ei: index to set the meter to [unitless]; None for a contact exposure.
        metered_step: step that the meter reads; None without a meter or a wedge.
        constant: K of the meter [cd s / m2]; None where nobody stated it.
        law: how the film fails at long times; None where nobody stated it, or no time is long.
        by_count: the best layout of each number of strips, up to one strip more than planned; empty for a bracket.
        short_stops: how much light lacks for the most exposed strip, by what can be set [stops]; 0.0 if enough.
        over_stops: how much light is too much for the least exposed strip [stops]; 0.0 if none is.
    """

    way: Way
    expected: Expectation
    layout: Layout
    strips: tuple[PlannedStrip, ...]
    chance: Quantity
    light: Illuminance | None = None
    ei: float | None = None
    metered_step: int | None = None
    constant: float | None = None
    law: Reciprocity | None = None
    by_count: tuple[Layout, ...] = ()
    short_stops: float = 0.0
    over_stops: float = 0.0

    @property
    def chance_in_place(self) -> Quantity:
        """The chance if every strip lay where it was meant to lie [unitless]."""
        return self.expected.chance(*self.layout.ends)

    @property
    def is_long(self) -> bool:
        """True if a strip is exposed for so long that films fail to keep to light times time."""
        return any(strip.time is not None and strip.time.exact >= NO_LOSS for strip in self.strips)

    @property
    def guess(self) -> FilmGuess:
        """The knowledge of the film before its first strip."""
        return self.expected.guess


def by_contact(
    guess: FilmGuess,
    wedge: Wedge,
    wanted: float,
    seed: int,
    light: Illuminance | None,
    dial: Dial,
) -> FirstPlan:
    """Return the first strips in contact with a wedge.

    Args:
        guess: what is known of the film.
        wedge: the wedge at hand.
        wanted: the chance asked for [unitless].
        seed: of the draws.
        light: the light on the wedge; None where it is not known yet.
        dial: times of the shutter.
    """
    exposure = ASSUMED_LIGHT if light is None else light.uncertainty_stops
    of_wedge = ASSUMED_COMMON[wedge.calibrated] if wedge.common is None else wedge.common
    expected = Expectation.of(guess, math.hypot(exposure, of_wedge / STOP), seed)

    def set_for(layout: Layout) -> list[PlannedStrip]:
        wishes = [10.0 ** (middle + middle_of(wedge)) for middle in layout.middles]
        if light is None:
            return [_in_contact(expected, wedge, wish, None, 0.0) for wish in wishes]
        return [_under_light(expected, wedge, wish, light.lux, dial) for wish in wishes]

    layout, strips, counts = _fewest(expected, wedge, wanted, set_for)
    return _plan("contact", expected, layout, strips, light=light, law=dial.law, by_count=counts)


def by_camera(
    guess: FilmGuess,
    wedge: Wedge,
    wanted: float,
    seed: int,
    metered_step: int | None,
    constant: float | None,
    reading: float | None,
    dial: Dial,
) -> FirstPlan:
    """Return the first strips of a back-lit wedge before a camera.

    Args:
        guess: what is known of the film.
        wedge: the wedge at hand.
        wanted: the chance asked for [unitless].
        seed: of the draws.
        metered_step: step that the meter will read; None for the step nearest to the wedge's middle density.
        constant: K of the meter [cd s / m2]; None if not known.
        reading: what the meter shows of that step [EV at 100]; None where it is not known yet.
        dial: apertures and times of the camera.
    """
    step = int(np.abs(wedge.density - middle_of(wedge)).argmin()) + 1 if metered_step is None else metered_step
    if not 1 <= step <= wedge.steps:
        raise StripError(
            f"the wedge has {wedge.steps} steps, so there is not a step {step}",
            where="metered_step",
            needed=f"a step from 1 to {wedge.steps}",
            settings=("metered_step",),
        )
    expected = Expectation.of(guess, _metering_stops(constant), seed)
    beyond = float(wedge.density[step - 1]) - middle_of(wedge)
    half = span_of(wedge) / 2.0

    def strip(frame: MeteredFrame) -> PlannedStrip:
        middle = frame.log_h + beyond
        return frame.planned(expected, (middle - half, middle + half), alone=True)

    def ei_for(layout: Layout) -> float:
        return _dial_ei(layout.middles[0] - beyond, constant, reading, dial)

    def set_for(layout: Layout) -> list[PlannedStrip]:
        offsets = [float(-i * layout.apart) for i in range(layout.count)]
        return [strip(_frame(offset, ei_for(layout), constant, reading, dial)) for offset in offsets]

    layout, strips, counts = _fewest(expected, wedge, wanted, set_for)
    return _plan(
        "camera",
        expected,
        layout,
        strips,
        ei=ei_for(layout),
        metered_step=step,
        constant=constant,
        law=dial.law,
        by_count=counts,
    )


def by_frames(
    guess: FilmGuess, wanted: float, seed: int, constant: float | None, reading: float | None, dial: Dial
) -> FirstPlan:
    """Return the first bracket of a grey card, in whole stops.

    Args:
        guess: what is known of the film.
        wanted: the chance asked for [unitless].
        seed: of the draws.
        constant: K of the meter [cd s / m2]; None if not known.
        reading: what the meter shows of the card [EV at 100]; None where it is not known yet.
        dial: apertures and times of the camera.
    """
    expected = Expectation.of(guess, _metering_stops(constant), seed)
    layout = layout_of_frames(expected, wanted)
    ei = _dial_ei(layout.centre, constant, reading, dial)
    middle = (layout.count - 1) // 2
    frames = [_frame(float(middle - i), ei, constant, reading, dial) for i in range(layout.count)]
    strips = [f.planned(expected, (f.log_h, f.log_h), alone=False) for f in frames]
    return _plan("frames", expected, layout, strips, ei=ei, constant=constant, law=dial.law)


@dataclass(frozen=True)
class MeteredFrame:
    """An exposure set by a meter.

    Attributes:
        ei: index that the meter is set to [unitless].
        offset_stops: exposure beyond the metered one, as the dial gives it and the film counts it [stops].
        log_h: log H of the metered tone [log10 lux-seconds].
        aperture, time: settings on the dial; None where the light is not known.
    """

    ei: float
    offset_stops: float
    log_h: float
    aperture: Mark | None
    time: Mark | None

    def planned(self, expected: Expectation, ends: tuple[float, float], *, alone: bool) -> PlannedStrip:
        """Return the strip, or the frame, that the exposure makes.

        Args:
            expected: the films that the guess allows.
            ends: log H of its least and its most exposed step [log10 lux-seconds].
            alone: True if the exposure makes a strip, which may hold the curve by itself.
        """
        rated = nominal_speed(float(exact_ei(self.ei)) * 2.0**-self.offset_stops)
        lost = 0.0 if self.time is None else self.time.lost_stops
        chance = expected.chance(*ends) if alone else Quantity.missing("one frame is one point of the curve")
        return PlannedStrip(
            ends, 10.0**self.log_h * 2.0**lost, self.time, self.aperture, 0.0, self.offset_stops, rated, chance
        )  # fmt: skip


def _frame(offset: float, ei: float, constant: float | None, reading: float | None, dial: Dial) -> MeteredFrame:
    """Return the exposure nearest to an offset from the metered one that the dial has [stops]."""
    aperture = time = None
    if reading is not None:
        asked = reading + math.log2(float(exact_ei(ei)) / SPEED)
        aperture, time = dial.nearest_pair(asked - offset, USUAL_SECONDS)
        given = asked - value_of(aperture, time)
        offset = offset if abs(given - offset) < _SAME else given
    zero = math.log10(metered_exposure(constant) / float(exact_ei(ei)))
    return MeteredFrame(ei, offset, zero + offset * STOP, aperture, time)


def _dial_ei(log_h: float, constant: float | None, reading: float | None, dial: Dial) -> float:
    """Return the index on the dial at which a metered tone gets nearest to a log H [log10 lux-seconds].

    Where the light is known, the index within half a stop at which the meter asks for what the camera can set.
    """
    nearest = metered_exposure(constant) / 10.0**log_h
    if reading is None:
        return nominal_speed(nearest)

    def miss(third: int) -> tuple[float, int]:
        frame = _frame(0.0, nominal_speed(nearest * 2.0 ** (third / 3.0)), constant, reading, dial)
        return round(abs(frame.offset_stops), 1), abs(third)

    return nominal_speed(nearest * 2.0 ** (min((0, 1, -1), key=miss) / 3.0))


def _metering_stops(constant: float | None) -> float:
    """Return the standard uncertainty of a metered exposure in lux-seconds [stops]."""
    return ASSUMED_METERING if constant is not None else math.hypot(ASSUMED_METERING, CONSTANT_HALF_WIDTH / 3.0**0.5)


def _filter_for(lux_seconds: float, lux: float, dial: Dial) -> float:
    """Return the grey filter that brings an exposure onto the dial [density]; 0.0 if none is needed."""
    over = math.log10(lux * dial.times[-1].exact / lux_seconds)
    return FILTER_STEP * math.ceil(over / FILTER_STEP) if over > _HALF_A_CLICK * STOP else 0.0


def _under_light(expected: Expectation, wedge: Wedge, wish: float, lux: float, dial: Dial) -> PlannedStrip:
    """Return the contact exposure that comes nearest to a wish [lux-seconds], behind a filter if the light asks."""
    density = _filter_for(wish, lux, dial)
    behind = lux * 10.0**-density
    time = min(dial.times, key=lambda mark: abs(math.log2(wish / behind / mark.worth)))
    return _in_contact(expected, wedge, behind * time.worth, time, density)


def _in_contact(
    expected: Expectation, wedge: Wedge, lux_seconds: float, time: Mark | None, density: float
) -> PlannedStrip:
    """Return a contact exposure of so much light times time in front of the wedge, as the film counts [lux-seconds]."""
    top, lost = math.log10(lux_seconds), 0.0 if time is None else time.lost_stops
    ends = top - float(wedge.density.max()), top - float(wedge.density.min())
    return PlannedStrip(ends, lux_seconds * 2.0**lost, time, None, density, None, None, expected.chance(*ends))


def _fewest(
    expected: Expectation, wedge: Wedge, wanted: float, set_for: Callable[[Layout], list[PlannedStrip]]
) -> tuple[Layout, list[PlannedStrip], tuple[Layout, ...]]:
    """Return the layout of the fewest strips that hold the curve where the dial lets them lie, the strips, and others.

    Where a layout of one strip more than the fewest does not hold the curve either, the light is out of reach: the
    fewest are returned. The other layouts are the best of each number of strips, up to one strip more.
    """
    layout, strips = _reachable(expected, wedge, wanted, set_for)
    return layout, strips, layouts_by_count(expected, wedge, wanted, min(layout.count + 1, MOST_STRIPS))


def _reachable(
    expected: Expectation, wedge: Wedge, wanted: float, set_for: Callable[[Layout], list[PlannedStrip]]
) -> tuple[Layout, list[PlannedStrip]]:
    """Return the first layout whose strips hold the curve with the chance ``wanted``, as they can be set."""
    found: list[tuple[Layout, list[PlannedStrip]]] = []
    for layout in layouts_of_strips(expected, wedge, wanted):
        if found and layout.count > found[0][0].count + 1:
            break
        found.append((layout, set_for(layout)))
        if (_together(expected, found[-1][1]).value or 0.0) >= wanted:
            return found[-1]
    return found[0]


def _together(expected: Expectation, strips: list[PlannedStrip]) -> Quantity:
    """Return the chance that strips together hold both ends of the curve [unitless]."""
    return expected.chance(min(s.ends[0] for s in strips), max(s.ends[1] for s in strips))


def _plan(
    way: Way,
    expected: Expectation,
    layout: Layout,
    strips: list[PlannedStrip],
    light: Illuminance | None = None,
    ei: float | None = None,
    metered_step: int | None = None,
    constant: float | None = None,
    law: Reciprocity | None = None,
    by_count: tuple[Layout, ...] = (),
) -> FirstPlan:
    """Return a plan with the chance that its strips, as they can be set, hold both ends of the curve."""
    chance = _together(expected, strips)
    short, over = (
        (wish - sum(strip.ends) / 2.0) / STOP * sign
        for wish, strip, sign in ((layout.middles[0], strips[0], 1.0), (layout.middles[-1], strips[-1], -1.0))
    )
    short, over = (miss if miss > _HALF_A_CLICK else 0.0 for miss in (short, over))
    return FirstPlan(
        way, expected, layout, tuple(strips), chance, light, ei, metered_step, constant, law, by_count, short, over
    )
