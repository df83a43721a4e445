"""What to set for a first strip, by each way of exposing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.units import STOP, FloatArray, exact_ei
from curves.sensitometry.planning.camera import Dial, dial
from curves.sensitometry.planning.first_strip import middle_of
from curves.sensitometry.planning.light import Illuminance
from curves.sensitometry.planning.population import FilmGuess
from curves.sensitometry.planning.ways import (
    FirstPlan,
    MeteredFrame,
    PlannedStrip,
    by_camera,
    by_contact,
    by_frames,
)
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.metering import metered_exposure
from curves.sensitometry.strip.reciprocity import Schwarzschild
from curves.sensitometry.strip.wedge import Wedge

WEDGE = Wedge.nominal(21, 0.15)
SHUTTER = dial("whole", (2.8, 16.0), (1 / 500.0, 0.5))
LONG = dial("whole", (2.8, 16.0), (1 / 500.0, 32.0))
FAILING = dial("whole", (2.8, 16.0), (1 / 500.0, 32.0), Schwarzschild(0.8))


def guess(off: float = 1.0, box: float = 80.0) -> FilmGuess:
    return FilmGuess("reversal", "transparency", box, off, colour=False)


def contact(lux: float | None, off: float = 1.0, settings: Dial = SHUTTER) -> FirstPlan:
    light = None if lux is None else Illuminance(lux)
    return by_contact(guess(off), WEDGE, 0.95, 0, light, settings)


@pytest.mark.parametrize("lux", [8.0, 25.0, 100.0, 400.0])
def test_a_shutter_misses_the_place_of_a_strip_by_half_a_click_at_most(lux: float) -> None:
    found = contact(lux)
    middle = sum(found.strips[0].ends) / 2.0
    assert abs(middle - found.layout.middles[0]) / STOP <= 0.51


@pytest.mark.parametrize("lux", [25.0, 3000.0])
def test_the_strip_planned_is_the_strip_that_a_record_describes(lux: float) -> None:
    found = contact(lux, off=3.0)
    assert found.light is not None
    for strip in found.strips:
        assert strip.time is not None
        log_h = Contact(found.light.lux * 10**-strip.filter_density, strip.time.exact).log_h(range_of(WEDGE), WEDGE)
        assert (log_h[-1], log_h[0]) == pytest.approx(strip.ends)


def range_of(wedge: Wedge) -> FloatArray:
    return np.arange(1.0, wedge.steps + 1)


def test_too_much_light_asks_for_a_grey_filter_in_whole_stops() -> None:
    # Calculated: 20000 lux for 1/512 s are 39 lux-seconds; what is over the wish, in stops, asks for so many of filter.
    found = contact(20000.0)
    wish = 10.0 ** (found.layout.middles[0] + middle_of(WEDGE))
    assert found.strips[0].filter_density == pytest.approx(0.3 * math.ceil(math.log10(20000.0 / 512.0 / wish) / 0.3))
    assert found.short_stops == 0.0


def test_too_little_light_is_told_in_stops() -> None:
    # Calculated: 1 lux for half a second is half a lux-second.
    found = contact(1.0)
    wish = 10.0 ** (found.layout.middles[0] + middle_of(WEDGE))
    assert found.strips[0].filter_density == 0.0
    assert found.short_stops == pytest.approx(math.log2(wish / 0.5))
    assert (found.chance.value or 0.0) < (contact(25.0).chance.value or 0.0)


def test_without_a_light_the_light_times_time_is_planned() -> None:
    found = contact(None)
    strip = found.strips[0]
    assert strip.time is None
    assert math.log10(strip.lux_seconds) == pytest.approx(found.layout.middles[0] + middle_of(WEDGE))


def test_a_law_of_long_times_makes_them_longer() -> None:
    plain, law = contact(0.3, settings=LONG).strips[0], contact(0.3, settings=FAILING).strips[0]
    assert plain.time is not None
    assert law.time is not None
    assert law.time.exact > plain.time.exact
    # The light times time that the record holds is more than the film counts, by what the law takes.
    assert math.log10(law.lux_seconds) - law.ends[1] - 0.05 == pytest.approx(law.lost_stops * STOP)
    assert plain.lost_stops == 0.0


@pytest.mark.parametrize("way", ["camera", "frames"])
def test_a_camera_waits_longer_by_the_law_too(way: str) -> None:
    # EV -2 at 100 is dim: the lens is wide open, and a second is not enough.
    def first(settings: Dial) -> PlannedStrip:
        plan = (
            by_camera(guess(), WEDGE, 0.9, 0, None, 12.5, -2.0, settings)
            if way == "camera"
            else by_frames(guess(), 0.9, 0, 12.5, -2.0, settings)
        )
        return max(plan.strips, key=lambda s: 0.0 if s.time is None else s.time.exact)

    plain, law = first(LONG), first(FAILING)
    assert plain.time is not None
    assert law.time is not None
    assert law.time.exact >= plain.time.exact
    assert law.lost_stops > 0.3
    assert plain.lost_stops == 0.0


@pytest.mark.parametrize("reading", [None, 5.0, 9.3])
@pytest.mark.parametrize("off", [1.0, 4.0])
def test_a_camera_s_strips_are_those_that_records_describe(reading: float | None, off: float) -> None:
    found = by_camera(guess(off), WEDGE, 0.95, 0, None, 12.5, reading, SHUTTER)
    assert found.ei is not None
    assert found.metered_step is not None
    zero = math.log10(metered_exposure(12.5) / float(exact_ei(found.ei)))
    for strip in found.strips:
        assert strip.offset_stops is not None
        x = Camera(found.ei, found.metered_step, strip.offset_stops).log_h(range_of(WEDGE), WEDGE)
        assert (x[-1] + zero, x[0] + zero) == pytest.approx(strip.ends)


def test_a_camera_sets_only_what_is_on_its_dials() -> None:
    found = by_camera(guess(4.0), WEDGE, 0.95, 0, None, 12.5, 8.0, SHUTTER)
    for strip in found.strips:
        assert strip.aperture in SHUTTER.apertures
        assert strip.time in SHUTTER.times


def test_another_metered_step_takes_another_index() -> None:
    # Calculated: step 5 is 0.90 clearer than step 11, so for the same strip the meter is set three stops lower.
    middle, clear = (by_camera(guess(), WEDGE, 0.95, 0, step, 12.5, None, SHUTTER) for step in (11, 5))
    assert middle.ei is not None
    assert clear.ei is not None
    assert math.log2(middle.ei / clear.ei) == pytest.approx(3.0, abs=0.35)


def test_a_step_that_the_wedge_does_not_have_is_refused() -> None:
    with pytest.raises(StripError, match="not a step 22"):
        by_camera(guess(), WEDGE, 0.95, 0, 22, None, None, SHUTTER)


def test_a_bracket_goes_by_whole_stops_about_its_index() -> None:
    found = by_frames(guess(), 0.95, 0, 12.5, None, SHUTTER)
    count = len(found.strips)
    assert count % 2 == 1
    assert [s.offset_stops for s in found.strips] == [(count - 1) / 2 - i for i in range(count)]
    assert found.ei is not None
    grey = math.log10(metered_exposure(12.5) / float(exact_ei(found.ei)))
    assert abs(grey - found.layout.centre) / STOP < 0.2
    assert found.strips[0].ends[0] == pytest.approx(grey + (count - 1) / 2 * STOP)


def test_a_known_light_turns_a_bracket_into_settings() -> None:
    found = by_frames(guess(), 0.95, 0, 12.5, 12.0, dial("whole", (1.4, 22.0), (1 / 1000.0, 1.0)))
    # EV 12 at an index of 100 is f/8 at 1/60 s, or as much: N^2 / t = 2^12.
    frame = next(s for s in found.strips if s.ei == 100.0)
    assert frame.aperture is not None
    assert frame.time is not None
    assert math.log2(frame.aperture.exact**2 / frame.time.exact) == pytest.approx(12.0, abs=0.01)


def test_a_frame_is_rated_by_the_exposure_it_got() -> None:
    strip = MeteredFrame(100.0, 2.0, -1.0, None, None).planned(contact(25.0).expected, (-1.0, -1.0), alone=False)
    assert strip.ei == 25.0
    assert strip.alone.value is None


def test_a_meter_of_unknown_constant_costs_some_of_the_chance() -> None:
    known, unknown = (by_camera(guess(2.0), WEDGE, 0.95, 0, None, k, None, SHUTTER).expected for k in (12.5, None))
    assert unknown.exposure_stops > known.exposure_stops
