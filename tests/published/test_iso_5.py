"""Density itself.

Sources, from memory: ISO 5-1, density is the decimal logarithm of opacity, the reciprocal of transmittance, and zero
with no sample in the gate; ISO 5-3, every channel is set so that a neutral reads the same in all of them, and the
visual channel follows the eye, which sees most in the green and least in the blue.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import density, transmittance, visual_density


@pytest.mark.parametrize(("opacity", "value"), [(1.0, 0.0), (2.0, 0.301), (4.0, 0.602), (5.0, 0.699), (50.0, 1.699)])
def test_density_is_the_logarithm_of_opacity(opacity: float, value: float) -> None:
    assert float(density(1.0 / opacity)) == pytest.approx(value, abs=5e-4)
    assert 1.0 / float(transmittance(value)) == pytest.approx(opacity, rel=2e-3)


def test_the_open_gate_has_density_zero_and_a_black_one_none() -> None:
    assert density([1.0, 0.0]).tolist()[0] == 0.0
    assert np.isnan(density(0.0))


@pytest.mark.parametrize("value", [0.0, 0.05, 0.30, 1.0, 2.0, 3.5])
def test_a_neutral_reads_the_same_to_the_eye_as_in_every_layer(value: float) -> None:
    assert float(visual_density(value, value, value)) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("base", [0.0, 0.5, 1.5])
def test_the_eye_sees_the_green_absorbing_layer_most_and_the_blue_absorbing_one_least(base: float) -> None:
    red, green, blue = (visual_density(*(base + 0.3 * np.eye(3)[layer])) - base for layer in range(3))
    assert green > red > blue > 0.0
    assert blue < 0.02


def test_a_neutral_screen_adds_its_density_to_any_colour() -> None:
    layers = np.array([0.35, 0.80, 1.40])
    for screen in (0.1, 0.3, 1.0):
        assert float(visual_density(*(layers + screen))) == pytest.approx(float(visual_density(*layers)) + screen)
