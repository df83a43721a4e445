"""Rms granularity on simulated grain: truth recovered, noise taken off, dirt set aside."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.errors import GrainError
from curves.sensitometry.grain.granularity import rms_granularity, scanner_noise
from tests.sensitometry.patches import PITCH, SIDE, noisy, patch
from tests.simulate_grain import grain_field


def test_a_patch_is_worth_about_two_readings_for_each_aperture_that_fits_into_it() -> None:
    found = rms_granularity(patch(1), PITCH)
    fits = (SIDE * PITCH) ** 2 / 1809.56
    assert 1.2 * fits < found.apertures < 3.0 * fits


def test_noise_of_reading_and_of_light_is_taken_off_by_a_clear_and_a_dark_frame() -> None:
    values, totals = [], []
    for n in range(12):
        light = noisy(patch(n, side=200), 0.004, 0.01, n)
        clear, dark = (noisy(np.full((300, 300), x), 0.004, 0.01, 50 + n + int(x)) for x in (1.0, 0.0))
        found = rms_granularity(light, PITCH, noise=scanner_noise(clear, dark, PITCH))
        values.append(found.rms.value or 0.0)
        totals.append(found.total)
        assert found.noise is not None
        # Pixel noise at 0.1: sqrt(1.6e-5 + 1e-4 / 10), over the aperture and as density.
        expected = 1000.0 * math.sqrt(2.6e-5) / (math.log(10.0) * 0.1) * PITCH / math.sqrt(1809.56)
        assert found.noise == pytest.approx(expected, rel=0.08)
    assert np.mean(totals) > 12.3
    assert np.mean(values) == pytest.approx(12.0, rel=0.02)


def test_without_a_dark_frame_the_interval_allows_for_noise_that_does_not_depend_on_light() -> None:
    light = noisy(patch(3), 0.006, 0.0, 3)
    clear, dark = (noisy(np.full((300, 300), x), 0.006, 0.0, 60 + int(x)) for x in (1.0, 0.0))
    both = rms_granularity(light, PITCH, noise=scanner_noise(clear, dark, PITCH)).rms
    alone = rms_granularity(light, PITCH, noise=scanner_noise(clear, None, PITCH)).rms
    assert both.value is not None
    assert both.low is not None
    assert both.half_width is not None
    assert alone.low is not None
    assert alone.high is not None
    assert alone.half_width is not None
    assert alone.half_width > both.half_width
    assert alone.low <= both.value <= alone.high


def test_a_dark_frame_cut_off_at_black_counts_as_none() -> None:
    clear = noisy(np.ones((200, 200)), 0.001, 0.0, 1)
    assert scanner_noise(clear, np.zeros((200, 200)), PITCH).dark is None


def test_where_noise_is_more_than_the_grain_there_is_a_bound_that_holds() -> None:
    held = []
    for n in range(30):
        light = noisy(patch(n, granularity=2.0), 0.008, 0.0, n)
        clear, dark = (noisy(np.full((300, 300), x), 0.008, 0.0, 70 + n + int(x)) for x in (1.0, 0.0))
        found = rms_granularity(light, PITCH, noise=scanner_noise(clear, dark, PITCH)).rms
        assert found.value is None
        assert found.why is not None
        assert found.why.startswith("the scanner's noise is more than the grain")
        assert found.bound is not None
        assert found.bound[0] == "<"
        held.append(2.0 < found.bound[1] < 6.0)
    assert sum(held) >= 28


def test_without_a_clear_frame_the_number_says_that_noise_is_in_it() -> None:
    found = rms_granularity(patch(1), PITCH)
    assert found.noise is None
    assert found.rms.note == "the scanner's noise is in it"
    assert found.rms.value == pytest.approx(found.total)


def test_a_trend_across_the_patch_is_no_grain() -> None:
    y, x = np.meshgrid(np.linspace(-1, 1, 200), np.linspace(-1, 1, 200), indexing="ij")
    trend = 0.05 * x - 0.04 * y + 0.03 * x * y + 0.02 * x**2
    values = []
    for n in range(12):
        light = patch(n, side=200)
        plain, tilted = (rms_granularity(v, PITCH).rms.value or 0.0 for v in (light, light * 10.0**trend))
        values.append((plain, tilted))
    plain_mean, tilted_mean = np.mean(values, axis=0)
    assert tilted_mean == pytest.approx(plain_mean, rel=0.005)
    assert tilted_mean == pytest.approx(12.0, rel=0.02)


def test_dust_and_a_scratch_are_set_aside() -> None:
    values = []
    for n in range(12):
        light = patch(n, side=240)
        rng = np.random.default_rng(n)
        for row, column in rng.integers(0, 230, (8, 2)):
            light[row : row + 5, column : column + 4] *= 0.05
        for row, column in rng.integers(0, 235, (12, 2)):
            light[row : row + 2, column : column + 2] = 0.001
        light[:, 100:103] *= 2.5
        found = rms_granularity(light, PITCH)
        assert 0.01 < found.set_aside < 0.3
        values.append(found.rms.value or 0.0)
    assert np.mean(values) == pytest.approx(12.0, rel=0.03)


def test_hardly_anything_of_a_clean_patch_is_set_aside() -> None:
    aside = [rms_granularity(patch(n), PITCH).set_aside for n in range(60)]
    assert np.mean([a > 0.0 for a in aside]) < 0.12


@pytest.mark.parametrize("read", [0.0, 0.02, 0.06])
def test_noise_is_not_taken_for_dust_however_much_there_is_of_it(read: float) -> None:
    aside = [rms_granularity(noisy(patch(n), read, 0.0, n), PITCH).set_aside for n in range(30)]
    assert np.mean(aside) < 0.006


def test_a_patch_that_is_mostly_structure_is_refused() -> None:
    light = patch(1)
    light[30:110, 20:70] *= 0.2
    with pytest.raises(GrainError) as refusal:
        rms_granularity(light, PITCH, name="Heron, step 5")
    assert "% of it is dust, scratches or structure; needed: an even patch, all but clean" in str(refusal.value)
    assert str(refusal.value).startswith("Heron, step 5: ")


def test_an_edge_through_the_patch_is_said_and_grain_is_not_taken_for_one() -> None:
    light = patch(1)
    light[:, 70:] *= 0.9
    found = rms_granularity(light, PITCH)
    assert found.uneven == (
        "readings 72 to 120 um apart are correlated: an edge, a pattern or uneven light is in the number"
    )
    assert not any(rms_granularity(patch(n, grain=g), PITCH).uneven for n in range(40) for g in (0.5, 6.0))


def test_mottle_is_said_by_selwyns_law_and_grain_is_not_called_mottle() -> None:
    side = 420
    assert not any(rms_granularity(patch(n, side=side, grain=3.0), PITCH).uneven for n in range(20))
    mottle = grain_field(side, side, PITCH, 8.0, 60.0, np.random.default_rng(9))
    found = rms_granularity(patch(1, side=side) * 10.0**-mottle, PITCH)
    assert found.uneven is not None
    soft = grain_field(side, side, PITCH, 8.5, 25.0, np.random.default_rng(9))
    found = rms_granularity(patch(1, side=side) * 10.0**-soft, PITCH)
    assert found.uneven is not None
    assert "times as much through 96 um as grain would by Selwyn's law" in found.uneven


def test_an_aperture_narrower_than_three_pixels_is_refused_with_the_resolution_that_would_do() -> None:
    with pytest.raises(GrainError) as refusal:
        rms_granularity(np.full((900, 900), 0.1), 25400.0 / 1200.0, name="Heron")
    assert str(refusal.value) == (
        "Heron: an aperture of 48 um is only 2.3 pixels wide at 1200 dpi; needed: 3 pixels or more.\n"
        "Try: scan at 1588 dpi or more, or ask for an aperture of 64 um."
    )


def test_a_patch_smaller_than_a_hundred_apertures_is_refused_with_the_size_that_would_do() -> None:
    with pytest.raises(GrainError) as refusal:
        rms_granularity(patch(1)[:60, :70], PITCH, name="Heron")
    assert str(refusal.value) == (
        "Heron: 0.37 x 0.32 mm is too small for an aperture of 48 um; needed: the area of 100 apertures, such as"
        " 0.43 mm square.\nTry: take a larger patch, or a smaller aperture."
    )


def test_a_patch_of_one_value_without_light_or_with_holes_is_refused() -> None:
    with pytest.raises(GrainError, match="all its pixels are the same"):
        rms_granularity(np.full((200, 200), 1.0), PITCH)
    holed = patch(1)
    holed[3, 4] = np.nan
    with pytest.raises(GrainError, match="some of its pixels have no value"):
        rms_granularity(holed, PITCH)
    with pytest.raises(GrainError, match="a part of it is as dark as the dark frame"):
        rms_granularity(0.0001 * np.random.default_rng(1).standard_normal((200, 200)), PITCH)
    with pytest.raises(GrainError, match="clear frame: all its pixels are the same: it is cut off at white"):
        scanner_noise(np.ones((200, 200)), None, PITCH)


@pytest.mark.parametrize("level", [0.5, 1.0, 1.8])
def test_eight_bits_of_linear_light_add_no_more_than_rounding_does(level: float) -> None:
    # Rounding to steps q has the variance q^2 / 12 in light; through the aperture, and as density.
    rounding = 1000.0 / 255.0 / math.sqrt(12.0) / (math.log(10.0) * 10.0**-level) * PITCH / math.sqrt(1809.56)
    ratios = []
    for n in range(6):
        light = patch(n, side=200, level=level)
        coarse = np.rint(255.0 * light) / 255.0
        ratios.append(rms_granularity(coarse, PITCH).total / rms_granularity(light, PITCH).total)
    assert np.mean(ratios) == pytest.approx(math.hypot(12.0, rounding) / 12.0, abs=0.01)
