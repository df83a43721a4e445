"""Sharpening and smoothing are seen where they are, and not where they are not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, uniform_filter

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain.scan_signs import signs_of_processing
from tests.simulate_grain import grain_field

PITCH = 25400.0 / 4800.0


def scan(seed: int, grain: float, *, pitch: float = PITCH, side: int = 384) -> FloatArray:
    """Return an even patch with a little noise of the scanner."""
    rng = np.random.default_rng(seed)
    light = 10.0 ** -(1.0 + grain_field(side, side, pitch, 12.0, grain, rng))
    return np.asarray(light + 0.0003 * rng.standard_normal(light.shape))


def test_a_flat_spectrum_is_called_sharpened_in_fewer_than_one_patch_of_a_hundred() -> None:
    rng = np.random.default_rng(5)
    called = [signs_of_processing(1.0 + 0.1 * rng.standard_normal((256, 256))) is not None for _ in range(600)]
    assert np.mean(called) <= 0.01


@pytest.mark.parametrize("grain", [0.3, 1.0, 2.0, 4.0, 8.0])
def test_unprocessed_grain_of_any_size_has_no_signs(grain: float) -> None:
    assert not any(signs_of_processing(scan(n, grain, side=256)) for n in range(12))


@pytest.mark.parametrize(("grain", "amount", "radius"), [(0.5, 0.8, 1.0), (2.0, 1.5, 1.0), (0.5, 0.5, 2.0)])
def test_an_unsharp_mask_is_seen(grain: float, amount: float, radius: float) -> None:
    for n in range(6):
        light = scan(n, grain)
        said = signs_of_processing(light + amount * (light - gaussian_filter(light, radius)))
        assert said is not None
        assert said.startswith("it looks sharpened: at 0.")


@pytest.mark.parametrize("grain", [0.5, 2.0, 4.0])
def test_a_blur_of_one_pixel_is_seen(grain: float) -> None:
    for n in range(6):
        said = signs_of_processing(gaussian_filter(scan(n, grain), 1.0))
        assert said is not None
        assert said.startswith("it looks smoothed, or resolves far less than its pixels")


def test_a_mean_over_three_by_three_pixels_is_seen() -> None:
    assert "smoothed" in str(signs_of_processing(uniform_filter(scan(1, 2.0), 3)))


def test_a_trend_and_dust_are_no_signs() -> None:
    light = scan(1, 2.0) * np.linspace(0.9, 1.1, 384)
    light[40:44, 60:63] = 0.0
    assert signs_of_processing(light) is None


def test_nothing_is_said_of_a_small_patch_or_one_without_any_deviation() -> None:
    assert signs_of_processing(scan(1, 2.0, side=190)) is None
    assert signs_of_processing(np.full((256, 256), 0.1)) is None
