"""Rms granularity and Selwyn's law.

Sources: ISO 10505 (rms granularity: aperture of 48 um, standard deviation of density times 1000), by way of handbooks
that state "sigma 0.010 through 48 um is 10" and the aperture's area; Selwyn's law from the literature of granularity.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain.aperture import aperture_area
from curves.sensitometry.grain.granularity import rms_granularity
from tests.simulate_grain import grain_field, granularity_through

PITCH = 25400.0 / 4800.0


def white_patch(sigma: float, side: int, seed: int, level: float = 1.0) -> FloatArray:
    """Return transmittance of white grain whose pixels have a standard deviation ``sigma`` [density]."""
    deviation = sigma * np.random.default_rng(seed).standard_normal((side, side))
    return np.asarray(10.0 ** -(level + deviation))


def selwyn(transmittance: FloatArray, pitch: float, apertures: FloatArray) -> FloatArray:
    """Return the standard deviation of density times the diameter of each aperture, (n,) [density um]."""
    return np.array([a * rms_granularity(transmittance, pitch, float(a)).total / 1000.0 for a in apertures])


def test_the_usual_aperture_has_the_area_of_the_handbooks() -> None:
    assert aperture_area(48.0) == pytest.approx(1809.56, abs=0.005)


def test_a_standard_deviation_of_a_hundredth_through_48_um_is_a_granularity_of_ten() -> None:
    sigma = 0.010 * math.sqrt(aperture_area(48.0)) / PITCH
    found = np.mean([rms_granularity(white_patch(sigma, 300, n), PITCH).total for n in range(4)])
    # Light is averaged, not density: at this scatter of pixels that adds a hundredth (see below).
    assert found == pytest.approx(10.0 * (1.0 + (math.log(10.0) * sigma) ** 2 / 4.0), rel=0.02)


@pytest.mark.parametrize("aperture", [24.0, 48.0, 96.0])
def test_white_noise_gives_what_theory_says_through_three_apertures(aperture: float) -> None:
    # Small signal: sigma of a pixel times the root of pixel area over aperture area.
    sigma = 0.02
    found = [rms_granularity(white_patch(sigma, 400, n), PITCH, aperture).total for n in range(4)]
    expected = 1000.0 * sigma * PITCH / math.sqrt(aperture_area(aperture))
    assert np.mean(found) == pytest.approx(expected, rel=0.02)


def test_half_the_diameter_doubles_the_standard_deviation() -> None:
    patches = [white_patch(0.03, 400, 10 + n) for n in range(4)]
    whole, half = (np.mean([rms_granularity(p, PITCH, a).total for p in patches]) for a in (48.0, 24.0))
    assert half / whole == pytest.approx(2.0, rel=0.03)


def test_selwyns_law_holds_for_white_grain_from_16_to_96_um() -> None:
    apertures = np.array([16.0, 24.0, 48.0, 96.0])
    products = np.mean([selwyn(white_patch(0.03, 400, 20 + n), PITCH, apertures) for n in range(4)], axis=0)
    assert products == pytest.approx(np.full(4, products.mean()), rel=0.03)


def test_selwyns_law_holds_down_to_12_um_where_pixels_are_fine_enough() -> None:
    patch = white_patch(0.03, 480, 30)
    products = selwyn(patch, 2.5, np.array([12.0, 24.0, 48.0]))
    assert products == pytest.approx(np.full(3, products.mean()), rel=0.04)


def test_through_other_apertures_grain_of_stated_size_is_what_integration_says() -> None:
    # Theory: the integral of the Wiener spectrum times (2 J1(x) / x)^2 over the plane; where grain is not small beside
    # the aperture, Selwyn's law fails and the integral holds.
    fields = [grain_field(512, 512, PITCH, 6.0, 4.0, np.random.default_rng(n)) for n in range(6)]
    for aperture in (20.0, 96.0):
        found = np.mean([rms_granularity(10.0 ** -(1.0 + f[:400, :400]), PITCH, aperture).total for f in fields])
        assert found == pytest.approx(granularity_through(aperture, 6.0, 4.0), rel=0.02)
        assert abs(found * aperture / (6.0 * 48.0) - 1.0) > 0.04
