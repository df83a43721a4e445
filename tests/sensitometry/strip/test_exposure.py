"""What exposure each step received, for each way of exposing a strip."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import STOP
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, Frames, GivenExposure
from curves.sensitometry.strip.wedge import Wedge

WEDGE = Wedge.nominal(21, 0.15, first=0.05)
STEPS = np.arange(1.0, 22.0)


def test_a_contact_exposure_is_the_light_less_the_wedge() -> None:
    log_h = Contact(lux=25.0, seconds=0.02).log_h(STEPS, WEDGE)
    # 25 lx for 0.02 s is 0.5 lux-seconds.
    assert log_h == pytest.approx(math.log10(0.5) - WEDGE.density)


def test_rows_may_come_in_any_order_and_repeat() -> None:
    contact = Contact(lux=25.0, seconds=0.02)
    assert contact.log_h(np.array([21.0, 1.0, 1.0]), WEDGE) == pytest.approx(contact.log_h(STEPS, WEDGE)[[20, 0, 0]])


def test_the_metered_step_of_a_photographed_wedge_is_mid_grey() -> None:
    log_h = Camera(ei=80.0, metered_step=11).log_h(STEPS, WEDGE)
    assert log_h[10] == 0.0
    assert log_h == pytest.approx(0.15 * (11.0 - STEPS))


def test_more_exposure_than_metered_lifts_every_step_alike() -> None:
    metered, more = (
        Camera(80.0, 11).log_h(STEPS, WEDGE),
        Camera(80.0, 11, offset_stops=1.5).log_h(STEPS, WEDGE),
    )
    assert more - metered == pytest.approx(np.full(21, 1.5 * STOP))


def test_flare_doubles_the_exposure_where_the_wedge_passes_as_much_as_strays() -> None:
    flare = 0.004
    wedge = Wedge(np.array([0.05, 0.05 - math.log10(flare), 9.0]), np.full(3, 0.02))
    steps = np.array([1.0, 2.0, 3.0])
    plain = Camera(80.0, 1).log_h(steps, wedge)
    with_flare = Camera(80.0, 1, flare=flare).log_h(steps, wedge)
    assert (with_flare - plain)[:2] == pytest.approx([math.log10(1 + flare), STOP])
    # Behind a patch that passes nothing only the stray light is left, as a fraction of the clear step's.
    assert with_flare[2] == pytest.approx(math.log10(flare), abs=1e-6)


def test_flare_is_a_fraction_of_the_clear_step_even_where_it_is_not_step_one() -> None:
    backwards = Wedge(WEDGE.density[::-1], WEDGE.uncertainty)
    camera = Camera(80.0, 11, offset_stops=-1.0, flare=0.01)
    assert camera.log_h(STEPS, backwards) == pytest.approx(camera.log_h(STEPS, WEDGE)[::-1])


def test_frames_count_stops_from_the_exposure_index_of_the_record() -> None:
    frames = Frames(ei=80.0)
    assert frames.log_h(np.array([-2.0, 0.0, 1.0])) == pytest.approx([-2 * STOP, 0.0, STOP])


def test_a_frame_rated_at_half_the_exposure_index_received_a_stop_more() -> None:
    # A dial's numbers stand for whole thirds of a stop in the log: 3 degrees are 0.997 stop.
    stops = Frames(ei=80.0).stops_of_ei(np.array([320.0, 80.0, 40.0, 10.0]))
    assert stops == pytest.approx([-2.0, 0.0, 1.0, 3.0], abs=0.011)


def test_a_bracket_rated_by_the_dial_is_one_of_even_steps() -> None:
    # 12 and 6 are a dial's names for 12.6 and 6.3 (common practice: the series is rounded in the log).
    stops = Frames(ei=50.0).stops_of_ei(np.array([200.0, 100.0, 50.0, 25.0, 12.0, 6.0]))
    assert np.diff(stops) == pytest.approx(np.full(5, 0.3 / np.log10(2.0)))


def test_an_index_outside_the_usual_series_is_taken_as_it_is() -> None:
    assert Frames(ei=50.0).stops_of_ei(np.array([70.0]))[0] == pytest.approx(np.log2(10**1.7 / 70.0))


def test_given_log_exposures_are_left_as_they_are() -> None:
    values = np.array([-2.1, -0.3, 0.4])
    assert GivenExposure("lux-seconds").log_h(values).tolist() == values.tolist()


@pytest.mark.parametrize(
    ("exposure", "unit"),
    [
        (Contact(25.0, 0.02), "lux-seconds"),
        (Camera(80.0, 11), "relative to metered mid-grey"),
        (Frames(80.0), "relative to metered mid-grey"),
        (GivenExposure("lux-seconds"), "lux-seconds"),
        (GivenExposure("relative to metered mid-grey", ei=80.0), "relative to metered mid-grey"),
        (GivenExposure(), "relative"),
    ],
    ids=["contact", "camera", "frames", "given", "given from a grey", "given without an origin"],
)
def test_every_exposure_says_what_its_log_h_counts_from(exposure: Exposure, unit: str) -> None:
    assert exposure.unit == unit


@pytest.mark.parametrize("exposure", [Frames(80.0), GivenExposure("lux-seconds")], ids=["frames", "given"])
def test_a_position_that_is_not_a_number_has_no_exposure(exposure: Frames | GivenExposure) -> None:
    log_h = exposure.log_h(np.array([math.nan, 0.0]))
    assert np.isnan(log_h).tolist() == [True, False]


@pytest.mark.parametrize("exposure", [Contact(25.0, 0.02), Camera(80.0, 11)], ids=["contact", "camera"])
def test_no_rows_give_no_exposures(exposure: Contact | Camera) -> None:
    assert exposure.log_h(np.array([]), WEDGE).shape == (0,)
