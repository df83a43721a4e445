"""Intervals of rms granularity hold the truth as often as they say, and scans of two resolutions agree."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.grain.granularity import Granularity, rms_granularity, scanner_noise
from tests.sensitometry.patches import PITCH, SIDE, noisy, patch
from tests.simulate_grain import grain_field, granularity_through

PATCHES = [60, pytest.param(200, marks=pytest.mark.slow)]
SHARE = {60: (0.86, 1.0), 200: (0.90, 0.985)}
"""Of so many patches, the share of 95 % intervals that must hold the truth: within some three standard errors."""


def holds(found: Granularity, truth: float) -> bool:
    assert found.rms.low is not None
    assert found.rms.high is not None
    return found.rms.low <= truth <= found.rms.high


@pytest.mark.parametrize("patches", PATCHES)
@pytest.mark.parametrize(("grain", "aperture"), [(0.5, 48.0), (4.0, 48.0), (2.0, 30.0)])
def test_intervals_hold_the_truth_in_nineteen_of_twenty_patches(grain: float, aperture: float, patches: int) -> None:
    truth = granularity_through(aperture, 8.0, grain)
    found = [rms_granularity(patch(n, granularity=8.0, grain=grain), PITCH, aperture) for n in range(patches)]
    least, most = SHARE[patches]
    assert least <= np.mean([holds(f, truth) for f in found]) <= most
    assert np.mean([f.rms.value or 0.0 for f in found]) == pytest.approx(truth, rel=0.015)


@pytest.mark.parametrize("patches", PATCHES)
def test_intervals_hold_the_truth_where_two_thirds_as_much_noise_as_grain_was_taken_off(patches: int) -> None:
    covered = []
    for n in range(patches):
        light = noisy(patch(n, granularity=8.0), 0.007, 0.02, n)
        clear, dark = (noisy(np.full((SIDE, SIDE), x), 0.007, 0.02, 1000 + n + int(x)) for x in (1.0, 0.0))
        found = rms_granularity(light, PITCH, noise=scanner_noise(clear, dark, PITCH))
        covered.append(holds(found, 8.0))
    least, most = SHARE[patches]
    assert least <= np.mean(covered) <= most


@pytest.mark.parametrize("grain", [1.0, 3.0])
def test_the_same_grain_scanned_at_2400_and_4800_dpi_is_the_same(grain: float) -> None:
    # One field at 9600 dpi, its light gathered by pixels twice and four times as wide.
    agree, apart = [], []
    for seed in range(24):
        fine = grain_field(480, 480, PITCH / 2.0, 10.0, grain, np.random.default_rng(seed))
        light = 10.0 ** -(1.0 + fine)
        found = []
        for binned in (2, 4):
            pixels = light.reshape(480 // binned, binned, 480 // binned, binned).mean(axis=(1, 3))
            found.append(rms_granularity(pixels, PITCH / 2.0 * binned).rms)
        one, other = found
        assert one.value is not None
        assert other.value is not None
        agree.append(holds_both(one.low, one.high, other.value) and holds_both(other.low, other.high, one.value))
        apart.append(math.log(other.value / one.value))
    assert sum(agree) >= 23
    assert abs(np.mean(apart)) < 0.015


def holds_both(low: float | None, high: float | None, value: float) -> bool:
    return low is not None and high is not None and low <= value <= high
