"""The light on the wedge, from each way of knowing it."""

from __future__ import annotations

import math

import pytest

from curves.errors import StripError
from curves.sensitometry.planning.light import (
    INCIDENT_STOPS,
    PER_STOP_OF_DISTANCE,
    REFLECTED_STOPS,
    Illuminance,
    at_distance,
    by_card,
    by_incident_meter,
    exposure_value,
)


def test_three_times_the_distance_leaves_a_ninth_of_the_light() -> None:
    # Calculated: 396 / 9 = 44.
    assert at_distance(Illuminance(396.0), 1.0, 3.0).lux == pytest.approx(44.0)


def test_an_enlarger_raised_by_half_gives_four_ninths_of_the_light() -> None:
    # Calculated: 25 * (60 / 90)^2 = 11.11; the change is 2 log2 1.5 = 1.17 stops, a tenth of it joins the light's 0.15.
    raised = at_distance(Illuminance(25.0, 0.15), 60.0, 90.0)
    assert raised.lux == pytest.approx(11.111, abs=0.001)
    assert raised.uncertainty_stops == pytest.approx(math.hypot(0.15, PER_STOP_OF_DISTANCE * 1.170), abs=1e-3)
    assert "approximation" in raised.approximations[0]


def test_a_light_read_where_the_wedge_lies_keeps_its_uncertainty() -> None:
    assert at_distance(Illuminance(25.0, 0.15), 60.0, 60.0).uncertainty_stops == pytest.approx(0.15)


def test_the_inverse_square_is_not_trusted_over_many_stops() -> None:
    with pytest.raises(StripError, match=r"by 8\.0 stops from 10 to 160"):
        at_distance(Illuminance(25.0), 10.0, 160.0)


@pytest.mark.parametrize(
    ("aperture", "seconds", "ei", "ev"),
    [(1.0, 1.0, 100.0, 0.0), (8.0, 1 / 64, 100.0, 12.0), (8.0, 1 / 64, 50.0, 13.0), (16.0, 0.25, 400.0, 8.0)],
)
def test_an_exposure_value_counts_stops_of_aperture_time_and_index(
    aperture: float, seconds: float, ei: float, ev: float
) -> None:
    # Calculated: log2(N^2 / t) less log2(EI / 100).
    assert exposure_value(aperture, seconds, ei) == pytest.approx(ev)


def test_each_way_of_reading_says_how_far_it_is_to_be_trusted() -> None:
    incident, card = by_incident_meter(5.0), by_card(5.0, 0.18)
    assert (incident.uncertainty_stops, card.uncertainty_stops) == (INCIDENT_STOPS, REFLECTED_STOPS)
    assert "incident reading of EV 5" in incident.origin
    assert "a card that returns 18 %" in card.origin


@pytest.mark.parametrize("wrong", [31.0, -21.0, math.nan, math.inf])
def test_no_meter_reads_beyond_its_scale(wrong: float) -> None:
    with pytest.raises(StripError):
        by_incident_meter(wrong)


@pytest.mark.parametrize("wrong", [0.0, -0.18, 18.0])
def test_a_card_returns_a_share_of_the_light(wrong: float) -> None:
    with pytest.raises(StripError, match="card"):
        by_card(5.0, wrong)
