"""Densities and their inverse, visual density, and the rounding of exposure indexes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.sensitometry.core.units import (
    STOP,
    degrees,
    density,
    dial_step,
    exact_ei,
    nominal_speed,
    transmittance,
    two_digits,
    visual_density,
)

SPEEDS = st.floats(min_value=0.01, max_value=1e6)


def test_a_stop_doubles_the_exposure() -> None:
    doubled = 10.0**STOP
    assert doubled == pytest.approx(2.0, rel=1e-15)


def test_density_of_a_scalar_is_a_scalar_array() -> None:
    assert density(0.1).shape == ()
    assert float(density(0.1)) == pytest.approx(1.0)


def test_density_keeps_the_shape_of_its_input() -> None:
    assert density(np.full((2, 3), 0.01)) == pytest.approx(np.full((2, 3), 2.0))


@pytest.mark.parametrize("dark", [0.0, -0.001, math.nan])
def test_no_light_and_no_reading_have_no_density(dark: float) -> None:
    assert np.isnan(density(dark))
    assert np.isnan(density([dark, 0.5])).tolist() == [True, False]


def test_clear_has_density_zero_and_more_light_than_the_reference_a_negative_one() -> None:
    assert float(density(1.0)) == 0.0
    assert float(density(2.0)) == pytest.approx(-STOP)


def test_transmittance_at_the_ends_of_its_range() -> None:
    assert transmittance([0.0, np.inf]).tolist() == [1.0, 0.0]
    assert np.isnan(transmittance(math.nan))


@given(st.floats(min_value=-1.0, max_value=6.0))
def test_density_undoes_transmittance(value: float) -> None:
    assert float(density(transmittance(value))) == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize("value", [0.0, 0.15, 3.2])
def test_a_neutral_patch_has_the_same_visual_density_as_layer_densities(value: float) -> None:
    assert float(visual_density(value, value, value)) == pytest.approx(value, abs=1e-12)


def test_visual_density_follows_the_green_layer_most_and_the_blue_least() -> None:
    plain = float(visual_density(1.0, 1.0, 1.0))
    red, green, blue = (float(visual_density(*(1.0 + 0.3 * (i == j) for j in range(3)))) - plain for i in range(3))
    assert green > red > blue > 0.0


def test_visual_density_takes_arrays_and_passes_on_what_was_not_read() -> None:
    values = visual_density([0.2, np.nan], [0.2, 1.0], [0.2, 1.0])
    assert values[0] == pytest.approx(0.2)
    assert np.isnan(values[1])


@given(SPEEDS)
def test_the_band_of_a_speed_holds_it(speed: float) -> None:
    n = degrees(speed)
    assert 10 ** ((n - 1.5) / 10) * (1 - 1e-9) <= speed <= 10 ** ((n - 0.5) / 10) * (1 + 1e-9)


@given(SPEEDS)
def test_a_nominal_speed_is_within_its_own_band_and_stays_what_it_is(speed: float) -> None:
    nominal = nominal_speed(speed)
    assert degrees(nominal) == degrees(speed)
    assert nominal_speed(nominal) == nominal


@given(SPEEDS, SPEEDS)
def test_a_higher_speed_never_rounds_to_a_lower_one(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert nominal_speed(low) <= nominal_speed(high)


# Regression: computed by this code from the bands' own centres; no table goes there.
@pytest.mark.parametrize(("speed", "nominal"), [(0.5, 0.5), (0.4, 0.4), (12_600.0, 13_000.0)])
def test_beyond_the_usual_series_the_centre_of_the_band_is_given_to_two_digits(speed: float, nominal: float) -> None:
    assert nominal_speed(speed) == nominal


@pytest.mark.parametrize("speed", [0.0, -80.0, math.nan])
def test_what_is_no_speed_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match=r".+"):
        degrees(speed)
    with pytest.raises(ValueError, match=r".+"):
        nominal_speed(speed)


@pytest.mark.parametrize(
    ("ei", "low", "high", "dial", "inside"),
    [
        # Steps of the dial stand for 10^((n - 1) / 10): 10 is 10.0, 12 is 12.6, 32 is 31.6.
        (11.0, 8.0, 16.0, 10.0, True),
        (10.3, 10.1, 16.0, 12.0, True),
        (50.0, 12.0, 32.0, 32.0, True),
        (50.0, 12.0, 31.0, 25.0, True),
        (5.0, 9.0, 40.0, 10.0, True),
        (10.3, 10.1, 12.0, 10.0, False),
        (27.0, None, None, 25.0, True),
        # An end that is not known is open: the dial may be stepped towards it.
        (27.0, 30.0, None, 32.0, True),
        (10.3, 10.1, None, 12.0, True),
        (27.0, None, 24.0, 20.0, True),
        # A range of which the first end is above the second holds no step.
        (27.0, 40.0, 20.0, 25.0, False),
    ],
)
def test_the_step_of_the_dial_is_the_nearest_within_the_range(
    ei: float, low: float | None, high: float | None, dial: float, inside: bool
) -> None:
    assert dial_step(ei, low, high) == (dial, inside)


@given(SPEEDS)
def test_without_a_range_the_step_of_the_dial_is_the_usual_number(speed: float) -> None:
    assert dial_step(speed) == (nominal_speed(speed), True)


@pytest.mark.parametrize(
    ("x", "text"), [(9.84, "9.8"), (12.4, "12"), (118.0, "120"), (0.456, "0.46"), (1040.0, "1000")]
)
def test_two_digits_are_written_out(x: float, text: str) -> None:
    assert two_digits(x) == text


# The usual film speeds with their degrees: common practice of the trade (the scale of ISO 6, ISO 2240 and ISO 5800).
USUAL = {
    4: 2, 5: 2.5, 6: 3, 7: 4, 8: 5, 9: 6, 10: 8, 11: 10, 12: 12, 13: 16, 14: 20, 15: 25, 16: 32, 17: 40, 18: 50, 19: 64,
    20: 80, 21: 100, 22: 125, 23: 160, 24: 200, 25: 250, 26: 320, 27: 400, 28: 500, 29: 640, 30: 800, 31: 1000,
    32: 1250, 33: 1600, 34: 2000, 35: 2500, 36: 3200,
}  # fmt: skip


@pytest.mark.parametrize(("degree", "number"), USUAL.items())
def test_every_usual_film_speed_has_its_degrees_and_stands_for_its_exact_tenth_of_a_decade(
    degree: int, number: float
) -> None:
    exact = 10.0 ** ((degree - 1) / 10.0)
    assert degrees(number) == degree
    assert nominal_speed(exact) == number
    assert float(exact_ei(number)) == pytest.approx(exact, rel=1e-12)
