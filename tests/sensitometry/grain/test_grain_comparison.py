"""Granularity against density, and films compared: between patches, never beyond; verdicts that respect intervals."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from curves.errors import GrainError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.grain.comparison import Comparison, compare_films, verdict_on
from curves.sensitometry.grain.film_grain import (
    ChannelGrain,
    Film,
    FilmGrain,
    GrainPoint,
    NoiseKnown,
    at_density,
    channel_transmittances,
    measure_film,
)
from curves.sensitometry.grain.granularity import Granularity
from tests.grain_demo import film


def point(density: float, rms: Quantity) -> GrainPoint:
    return GrainPoint(f"step {density:g}", 0, Granularity(density, rms, 0.0, None, 500.0, 0.0, None))


def ten_percent(value: float) -> Quantity:
    return Quantity(value, value / 1.1, value * 1.1, "measured")


def grain(name: str, at: Quantity, *, noise_known: NoiseKnown = "clear and dark") -> FilmGrain:
    channel = ChannelGrain("visual", (point(1.0, at),), at)
    return FilmGrain(name, 4800.0, {"visual": channel}, False, noise_known)


def end(q: Quantity, side: str) -> float:
    assert q.bound is not None
    assert q.bound[0] == side
    return q.bound[1]


@cache
def three() -> Comparison:
    return compare_films([film("Heron", 10.0, seed=1), film("Stork", 13.0, seed=2), film("Crane", 10.1, seed=3)])


def test_films_of_different_grain_differ_and_films_of_like_grain_cannot_be_told_apart() -> None:
    first, second, third = three().verdicts
    assert first.films == ("Heron", "Stork")
    assert first.finer == "Heron"
    assert first.ratio.low is not None
    assert first.ratio.high is not None
    assert first.ratio.low < 1.3 < first.ratio.high
    assert first.sentence.startswith("Heron is finer than Stork: Stork has 1.")
    assert second.finer is None
    assert second.sentence.startswith("Heron and Crane cannot be told apart: the granularity of Crane is between ")
    assert third.films == ("Stork", "Crane")
    assert third.finer == "Crane"


def test_granularity_at_the_asked_density_lies_between_that_of_its_neighbours() -> None:
    heron = three().films[0].channels["visual"]
    assert [p.label for p in heron.points] == ["step 1", "step 2", "step 3", "step 4"]
    assert [p.found.density for p in heron.points] == pytest.approx([0.3, 0.8, 1.2, 2.0], abs=0.01)
    assert heron.at.value == pytest.approx(10.0, rel=0.05)
    assert heron.at.note == "between step 2 at 0.80 and step 3 at 1.20"


def test_the_logarithm_of_granularity_runs_straight_and_so_do_the_ends() -> None:
    points = [point(0.8, ten_percent(8.0)), point(1.2, ten_percent(18.0))]
    found = at_density(points, 1.0)
    # The geometric mean of 8 and 18.
    assert (found.value, found.low, found.high) == pytest.approx((12.0, 12.0 / 1.1, 12.0 * 1.1))
    assert found.how == "estimated"


def test_a_patch_within_a_twentieth_of_the_asked_density_stands_for_it() -> None:
    points = [point(0.5, ten_percent(8.0)), point(1.04, ten_percent(10.0)), point(1.2, ten_percent(30.0))]
    found = at_density(points, 1.0)
    assert (found.value, found.note) == (10.0, "step 1.04, at 1.04")


@pytest.mark.parametrize(("density", "way"), [(0.2, "below"), (2.2, "above")])
def test_nothing_is_extrapolated(density: float, way: str) -> None:
    found = at_density([point(0.8, ten_percent(8.0)), point(1.2, ten_percent(9.0))], density)
    assert found.value is None
    assert found.why == (
        f"the patches' densities are 0.80 to 1.20, and {density:g} lies {way}; measure a patch nearer to {density:g},"
        " or ask for a density between those of the patches"
    )


def test_patches_far_apart_are_not_interpolated_between() -> None:
    found = at_density([point(0.3, ten_percent(8.0)), point(1.6, ten_percent(9.0))], 1.0)
    assert found.why == "the neighbouring patches, at 0.30 and 1.60, are too far apart; measure a patch between them"


def test_between_a_bound_and_a_number_there_is_a_bound() -> None:
    bounded = Quantity.missing("the scanner's noise is more than the grain", below=7.0)
    found = at_density([point(0.8, ten_percent(8.0)), point(1.2, bounded)], 1.0)
    assert found.value is None
    assert end(found, "<") == pytest.approx(8.8)
    assert found.why == "the scanner's noise is more than the grain"


def test_grain_buried_in_noise_at_one_end_gives_an_interval_down_to_nothing() -> None:
    found = at_density([point(0.8, Quantity(8.0, 0.0, 9.0)), point(1.2, ten_percent(8.0))], 1.0)
    assert found.value == pytest.approx(8.0)
    assert found.low == 0.0
    verdict = verdict_on(grain("Heron", found), grain("Stork", ten_percent(8.1)))
    assert verdict.finer is None


def test_visual_transmittance_is_mixed_pixel_by_pixel() -> None:
    # Weights of the visual estimate: 0.33 red, 0.655 green, 0.015 blue.
    picture = np.array([[[0.1, 0.2, 0.4]]])
    seen = channel_transmittances(picture)
    assert list(seen) == ["red", "green", "blue", "visual"]
    assert seen["visual"][0, 0] == pytest.approx(0.033 + 0.131 + 0.006)
    assert list(channel_transmittances(picture[..., :1])) == ["visual"]


def test_every_channel_of_a_colour_scan_has_its_curve() -> None:
    found = measure_film(film("Heron", 10.0, samples=3, side=110, densities=(0.8, 1.2)))
    assert list(found.channels) == ["red", "green", "blue", "visual"]
    assert found.estimated
    for channel in ("red", "green", "blue"):
        assert found.channels[channel].at.value == pytest.approx(10.0, rel=0.12)
    # Layers whose grain is independent: the root of the sum of squared weights.
    assert found.channels["visual"].at.value == pytest.approx(10.0 * np.hypot(0.33, 0.655), rel=0.12)


def test_intervals_are_widened_when_more_pairs_are_judged() -> None:
    alone, among = (verdict_on(grain("a", ten_percent(10)), grain("b", ten_percent(11.6)), pairs=n) for n in (1, 10))
    assert alone.finer == "a"
    assert among.finer is None
    # Joined in the logarithm: ln 1.1 times root 2.
    assert alone.ratio.low == pytest.approx(1.16 * 1.1 ** -np.sqrt(2.0))


def test_no_more_than_one_comparison_of_three_equal_films_in_twenty_finds_a_difference() -> None:
    wrong = 0
    for n in range(40):
        films = [film(str(k), 10.0, seed=1000 + 3 * n + k, side=90, densities=(1.0,)) for k in range(3)]
        wrong += any(v.finer is not None for v in compare_films(films).verdicts)
    # Binomial: more than 6 of 40 at 5 % have a chance of 1 in 70.
    assert wrong <= 6


def test_a_bound_below_the_other_films_interval_decides() -> None:
    bounded = grain("Heron", Quantity.missing("the scanner's noise is more than the grain", below=4.0))
    verdict = verdict_on(bounded, grain("Stork", ten_percent(11.0)))
    assert verdict.finer == "Heron"
    assert verdict.sentence == "Heron is finer than Stork: Stork has more than 2.50 times its granularity"
    assert end(verdict.ratio, ">") == pytest.approx(2.5)
    turned = verdict_on(grain("Stork", ten_percent(11.0)), bounded)
    assert turned.finer == "Heron"
    assert end(turned.ratio, "<") == pytest.approx(0.4)


def test_a_bound_above_the_other_film_decides_nothing_and_says_why() -> None:
    bounded = grain("Heron", Quantity.missing("the scanner's noise is more than the grain", below=12.0))
    verdict = verdict_on(bounded, grain("Stork", ten_percent(11.0)))
    assert verdict.finer is None
    assert verdict.sentence == ("Heron and Stork cannot be compared: Heron: the scanner's noise is more than the grain")


def test_a_film_that_is_coarser_only_with_the_scanners_noise_in_it_is_not_called_coarser() -> None:
    free, with_noise = grain("Heron", ten_percent(8.0)), grain("Stork", ten_percent(12.0), noise_known="nothing")
    verdict = verdict_on(free, with_noise)
    assert verdict.finer is None
    assert "Stork looks coarser, but the scanner's noise counts as its grain" in verdict.sentence
    # Noise in the finer one makes it coarser, not finer; and noise in both does not change their order.
    assert verdict_on(grain("a", ten_percent(8.0), noise_known="nothing"), grain("b", ten_percent(12.0))).finer == "a"
    both = verdict_on(*(grain(n, ten_percent(v), noise_known="nothing") for n, v in (("a", 8.0), ("b", 12.0))))
    assert both.finer == "a"
    assert both.sentence.endswith("; the scanner's noise is in both, and hides some of it")


def test_scans_of_different_resolution_scale_or_noise_are_warned_of() -> None:
    one = film("Heron", 10.0, side=110, densities=(1.0,))
    other = film("Stork", 10.0, side=110, densities=(1.0,), dpi=2400.0, frames=False)
    found = compare_films([one, dataclasses.replace(other, file_dpi=3600.0)])
    said = {n.code: n.message for n in found.warnings}
    assert said["resolution"].startswith("Scans of different resolution: Heron 4800 dpi, Stork 2400 dpi;")
    assert said["scale"].startswith("Stork: the scan is taken as 2400 dpi, but the file states 3600 dpi;")
    assert "The scanner's noise was not taken off in the same way from all films" in said["noise"]
    assert not compare_films([one]).warnings


def test_a_processed_scan_beside_an_unprocessed_one_is_warned_of() -> None:
    plain = film("Heron", 10.0, side=256, densities=(1.0,))
    sharp = film("Stork", 10.0, side=256, densities=(1.0,), sharpened=1.5)
    found = compare_films([plain, sharp])
    assert found.films[0].signs is None
    assert found.films[1].signs is not None
    said = [n.message for n in found.warnings if n.code == "processing"]
    assert said[0].startswith("Stork: it looks sharpened")
    assert said[1].startswith("Stork was processed by the scanner, other films were not")


def test_a_patch_on_which_grain_cannot_be_measured_is_named_and_left_out() -> None:
    whole = film("Heron", 10.0, side=110, densities=(0.8, 1.2))
    found = measure_film(dataclasses.replace(whole, patches=[*whole.patches, np.ones((110, 110, 1))]))
    assert [p.label for p in found.channels["visual"].points] == ["step 1", "step 2"]
    assert found.refused == (
        "Heron, patch 3, visual: all its pixels are the same: it is clipped, or not a scan of film; needed: an even"
        " patch of film inside the scan's range",
    )


def test_a_film_without_any_usable_patch_and_two_films_of_one_name_are_refused() -> None:
    with pytest.raises(GrainError, match=r"^Heron, patch 1, visual: all its pixels are the same"):
        measure_film(Film("Heron", [np.ones((200, 200, 1))], 5.0))
    with pytest.raises(GrainError, match=r"^Heron: it has no patches"):
        measure_film(Film("Heron", [], 5.0))
    one = film("Heron", 10.0, side=110, densities=(1.0,))
    with pytest.raises(GrainError, match=r"^Heron: two films have this name"):
        compare_films([one, one])
