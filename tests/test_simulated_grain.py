"""The simulated grain is what it says: its theory holds in two ways, and the fields follow it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulate_grain import (
    grain_field,
    granularity_through,
    variance_by_spectrum,
    variance_through,
)


@pytest.mark.parametrize("aperture", [12.0, 24.0, 48.0, 96.0])
@pytest.mark.parametrize("grain", [1.0, 3.0, 8.0])
def test_theory_by_distances_agrees_with_theory_by_frequencies(aperture: float, grain: float) -> None:
    assert variance_by_spectrum(aperture, grain) == pytest.approx(variance_through(aperture, grain), rel=1e-4)


def test_fine_grain_obeys_selwyns_law_and_coarse_grain_falls_short_of_it() -> None:
    # Selwyn's law, from the literature of granularity: sigma times diameter is constant where grain is small.
    assert granularity_through(24.0, 10.0, 0.1) == pytest.approx(20.0, rel=0.01)
    assert granularity_through(24.0, 10.0, 10.0) < 17.0


@pytest.mark.parametrize("pitch", [2.6458, 5.2917, 10.5833])
def test_an_aperture_that_gathers_light_sees_the_granularity_asked_for(pitch: float) -> None:
    # Independent discs, by brute force: a disc every 60 um, its pixels weighted by 9 x 9 points in each.
    rng = np.random.default_rng(3)
    seen = []
    for _ in range(4):
        light = 10.0 ** -grain_field(720, 720, pitch, 12.0, 2.0, rng)
        assert light.mean() == pytest.approx(1.0, abs=0.004)
        half = int(np.ceil(24.0 / pitch))
        points = (np.arange(-9 * half - 4, 9 * half + 5) / 9.0) * pitch
        inside = np.hypot(points[:, None], points[None, :]) <= 24.0
        weight = inside.reshape(2 * half + 1, 9, 2 * half + 1, 9).sum(axis=(1, 3)) / inside.sum()
        step = int(np.ceil(60.0 / pitch))
        blocks = np.lib.stride_tricks.sliding_window_view(light, weight.shape)[::step, ::step]
        seen.append(-np.log10(np.einsum("abij,ij->ab", blocks, weight)).ravel())
    every = np.concatenate(seen)
    # Pixels at the rim blur the disc: for grain without correlation between pixels by as much as its squared weights
    # fall short of a sharp disc's, for any other by less.
    blur = np.sqrt((weight**2).sum() * 1809.56 / pitch**2)
    chance = 4.0 / np.sqrt(2.0 * every.size)
    assert 12.0 * blur * (1.0 - chance) < 1000.0 * every.std() < 12.0 * (1.0 + chance)


def test_the_same_seed_gives_the_same_field_and_no_granularity_gives_none() -> None:
    first, second = (grain_field(40, 60, 5.0, 10.0, 2.0, np.random.default_rng(7)) for _ in range(2))
    assert first.shape == (40, 60)
    assert (first == second).all()
    assert not grain_field(40, 60, 5.0, 0.0, 2.0, np.random.default_rng(7)).any()


def test_pixel_means_of_a_fine_field_are_as_large_as_those_of_a_coarse_one() -> None:
    rng = np.random.default_rng(11)
    fine = grain_field(1200, 1200, 2.0, 6.0, 2.0, rng).reshape(300, 4, 300, 4).mean(axis=(1, 3))
    coarse = grain_field(300, 300, 8.0, 6.0, 2.0, rng)
    assert coarse.std() == pytest.approx(fine.std(), rel=0.03)
