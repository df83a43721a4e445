"""Sharpening and smoothing are seen where they are, and not where they are not."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import pytest
from scipy import fft
from scipy.ndimage import gaussian_filter, median_filter, uniform_filter, zoom
from scipy.stats import t as student

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain import scan_signs
from curves.sensitometry.grain.scan_signs import signs_of_processing
from tests.simulate_grain import grain_field

PITCH = 25400.0 / 4800.0


def scan(seed: int, grain: float, *, pitch: float = PITCH, side: int = 384) -> FloatArray:
    """Return an even patch with a little noise of the scanner."""
    rng = np.random.default_rng(seed)
    light = 10.0 ** -(1.0 + grain_field(side, side, pitch, 12.0, grain, rng))
    return np.asarray(light + 0.0003 * rng.standard_normal(light.shape))


@pytest.mark.parametrize(("patches", "most"), [(150, 3), pytest.param(600, 6, marks=pytest.mark.slow)])
def test_a_flat_spectrum_is_called_sharpened_in_one_patch_of_two_hundred(patches: int, most: int) -> None:
    # Simulation: up to 1 of 200 (`scan_signs`).
    rng = np.random.default_rng(5)
    called = [signs_of_processing(1.0 + 0.1 * rng.standard_normal((256, 256))) is not None for _ in range(patches)]
    assert sum(called) <= most


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


def blobs(seed: int, size: float) -> tuple[FloatArray, FloatArray]:
    """Return a patch of round grain, its size the standard deviation of a blob [pixels], and a clear frame."""
    rng = np.random.default_rng((9, seed))
    grain = gaussian_filter(rng.standard_normal((384, 384)), size, mode="wrap")
    light = 10.0 ** -(1.0 + 0.1 * grain / grain.std())
    clear = 0.9 + 0.0005 * rng.standard_normal(light.shape)
    return np.asarray(light + 0.0003 * rng.standard_normal(light.shape)), clear


SIZES = (0.5, 1.0, 1.5, 2.0, 3.0, 5.0)
PROCESSES: dict[str, Callable[[FloatArray], FloatArray]] = {
    "blur": lambda light: gaussian_filter(light, 1.0),
    "mean": lambda light: uniform_filter(light, 3),
    "median": lambda light: median_filter(light, 3),
    "enlarged": lambda light: zoom(light[:256, :256], 1.5, order=1),
}


def test_with_a_clear_frame_coarse_grain_is_never_taken_for_smoothing_and_smoothing_is_always_seen() -> None:
    # Round grain, whose spectrum falls most steeply, and grain of tests.simulate_grain, of six sizes each.
    for size in SIZES:
        light, clear = blobs(1, size)
        for patch in (light, scan(1, size * PITCH)):
            assert signs_of_processing(patch, clear) is None
            for name, process in PROCESSES.items():
                said = signs_of_processing(process(patch), process(clear))
                assert said is not None, (size, name)
                assert "smoothed or interpolated" in said or "sharpened" in said


@pytest.mark.parametrize("size", [2.0, 3.0, 5.0])
def test_without_a_clear_frame_grain_of_several_pixels_is_not_taken_for_smoothing(size: float) -> None:
    assert not any(signs_of_processing(blobs(n, size)[0]) for n in range(4))
    # Round grain of 1 to 1.5 pixels looks as fine grain does after a blur: no single patch tells them apart.
    assert "clear frame" in str(signs_of_processing(blobs(1, 1.0)[0]))


def test_a_mean_over_three_by_three_pixels_is_seen() -> None:
    assert "smoothed" in str(signs_of_processing(uniform_filter(scan(1, 2.0), 3)))


def test_a_trend_and_dust_are_no_signs() -> None:
    light = scan(1, 2.0) * np.linspace(0.9, 1.1, 384)
    light[40:44, 60:63] = 0.0
    assert signs_of_processing(light) is None


def test_nothing_is_said_of_a_small_patch_or_one_without_any_deviation() -> None:
    assert signs_of_processing(scan(1, 2.0, side=190)) is None
    assert signs_of_processing(np.full((256, 256), 0.1)) is None


def coloured(power: float, low: float, high: float, seed: int = 1) -> FloatArray:
    """Return white noise with so many times its power between two frequencies [cycles a pixel]."""
    f = fft.fftfreq(640)
    radius = np.hypot(f[:, None], f[None, :])
    white = fft.fft2(np.random.default_rng(seed).standard_normal((640, 640)))
    inside = (radius >= low) & (radius < high)
    return np.asarray(1.0 + 0.1 * fft.ifft2(white * np.where(inside, math.sqrt(power), 1.0)).real)


@pytest.mark.parametrize(
    ("low", "high", "middle"),
    [(0.11, 0.18, "0.14"), (0.18, 0.25, "0.21"), (0.25, 0.32, "0.29"), (0.32, 0.39, "0.35"), (0.39, 0.46, "0.43")],
)
def test_each_of_five_bands_shows_sharpening_with_its_frequency_and_its_power(
    low: float, high: float, middle: str
) -> None:
    # The window of a block reaches a little beyond the band: only the middle three sevenths of it are lifted, so that
    # its mean power is about 1 + 3 * 3 / 7.
    said = signs_of_processing(coloured(4.0, low + 0.02, high - 0.02))
    assert said is not None
    found = re.match(r"it looks sharpened: at (\S+) cycles a pixel grain has (\S+) times the power", said)
    assert found is not None
    assert found[1] == middle
    assert float(found[2]) == pytest.approx(1.0 + 9.0 / 7.0, abs=0.3)


def test_power_between_frequencies_counts_against_that_of_low_ones() -> None:
    assert signs_of_processing(coloured(1.6, 0.0, 0.04)) is None
    assert signs_of_processing(coloured(0.6, 0.05, 0.11)) is not None
    assert signs_of_processing(coloured(1.6, 0.47, 0.71)) is None


def test_power_that_falls_twentyfold_from_the_middle_to_the_high_frequencies_is_smoothing() -> None:
    said = signs_of_processing(coloured(1 / 40, 0.3, 0.71))
    assert said is not None
    # A window of 64 pixels lets a little of the middle frequencies through.
    assert said.startswith("it looks smoothed, or resolves far less than its pixels: power falls ")
    assert signs_of_processing(coloured(1 / 15, 0.3, 0.71)) is None


SURE = float(student.isf(0.002 / 5, 15))
"""Student's t at 0.002 shared by five bands, for 16 blocks."""


@pytest.mark.parametrize(
    ("lift", "error", "said"),
    [
        (math.log(1.099), 0.001, None),
        (math.log(1.101), 0.001, "sharpened"),
        (0.5, 0.5 / SURE * 1.01, None),
        (0.5, 0.5 / SURE * 0.99, "sharpened"),
    ],
)
def test_sharpening_is_a_lift_of_a_tenth_that_chance_does_not_explain(
    monkeypatch: pytest.MonkeyPatch, lift: float, error: float, said: str | None
) -> None:
    answers = iter([(0.0, 1.0)] * 4 + [(lift, error), (0.0, 1.0)])
    monkeypatch.setattr(scan_signs, "_log_ratio", lambda *_: next(answers))
    found = signs_of_processing(1.0 + 0.1 * np.random.default_rng(1).standard_normal((256, 256)))
    assert said in found if said and found else found is said


@pytest.mark.parametrize(
    ("fall", "said"), [(math.log(20.0) + 0.099 * SURE, False), (math.log(20.0) + 0.101 * SURE, True)]
)
def test_smoothing_is_a_fall_that_is_surely_more_than_twentyfold(
    monkeypatch: pytest.MonkeyPatch, fall: float, said: bool
) -> None:
    answers = iter([(0.0, 1.0)] * 5 + [(fall, 0.1), (0.0, 0.1), (0.0, 0.1)])
    monkeypatch.setattr(scan_signs, "_log_ratio", lambda *_: next(answers))
    found = signs_of_processing(1.0 + 0.1 * np.random.default_rng(1).standard_normal((256, 256)))
    assert bool(found) is said


def test_the_ratio_of_two_powers_and_its_error_from_block_to_block() -> None:
    # By hand: means 4 and 2; relative to them 0.5, 1, 1.5 less 1.5, 1, 0.5: -1, 0, 1, of standard deviation 1.
    one, other = np.array([2.0, 4.0, 6.0]), np.array([3.0, 2.0, 1.0])
    assert scan_signs._log_ratio(one, other) == pytest.approx((math.log(2.0), 1.0 / math.sqrt(3.0)))


def test_a_block_with_more_than_three_times_the_usual_power_holds_dust() -> None:
    light = 1.0 + 0.1 * np.random.default_rng(3).standard_normal((256, 256))
    tidy = scan_signs._block_power(light)
    assert tidy is not None
    assert tidy.shape == (16, 64, 64)
    assert tidy.mean() == pytest.approx(64**2 * 0.01 * 0.375**2, rel=0.05)
    light[:64, :64] = 1.0 + math.sqrt(2.5) * (light[:64, :64] - 1.0)
    light[64:128, :64] = 1.0 + math.sqrt(3.5) * (light[64:128, :64] - 1.0)
    dusty = scan_signs._block_power(light)
    assert dusty is not None
    assert len(dusty) == 15


def test_a_slope_across_a_block_has_no_power() -> None:
    y, x = np.mgrid[:256, :256] / 256.0
    power = scan_signs._block_power(1.0 + 0.5 * x - 0.3 * y)
    assert power is not None
    assert power.max() < 1e-12


@pytest.mark.parametrize(("shape", "enough"), [((192, 192), True), ((191, 255), False), ((64, 576), True)])
def test_nine_blocks_of_64_pixels_are_needed(shape: tuple[int, int], enough: bool) -> None:
    assert (scan_signs._block_power(np.random.default_rng(1).standard_normal(shape)) is not None) is enough
