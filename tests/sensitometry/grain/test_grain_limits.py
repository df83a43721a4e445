"""Ends of intervals and limits of granularity, by hand from their definitions on readings made up for it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from curves.errors import GrainError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain import aperture, film_grain, granularity
from curves.sensitometry.grain.aperture import (
    ApertureReadings,
    aperture_area,
    aperture_readings,
    aperture_weights,
    blur_loss,
)
from curves.sensitometry.grain.comparison import compare_films, verdict_on
from curves.sensitometry.grain.film_grain import Film, at_density, measure_film
from curves.sensitometry.grain.granularity import ScannerNoise
from tests.sensitometry.grain.test_grain_comparison import end, grain, point, ten_percent
from tests.sensitometry.patches import PITCH, noisy, patch

SEEN = ApertureReadings(
    level=0.1, variance=1e-4, freedom=80.0, beyond=0.0, pixel_variance=1e-3, neighbour_covariance=0.0, set_aside=0.0
)


def ends(variance: float, freedom: float) -> tuple[float, float]:
    """Return the 95 % interval of a variance, by the chi-square distribution of its estimate."""
    return variance * freedom / float(chi2.ppf(0.975, freedom)), variance * freedom / float(chi2.ppf(0.025, freedom))


def found(noise: granularity._Part | None, seen: ApertureReadings = SEEN, white: float = 0.0) -> Quantity:
    return granularity._grain(seen, noise, 1.0, 0.0, white)


def test_without_noise_the_interval_is_that_of_the_variance() -> None:
    low, high = ends(1e-4, 80.0)
    q = found(None)
    assert (q.value, q.low, q.high) == pytest.approx((10.0, 1000.0 * math.sqrt(low), 1000.0 * math.sqrt(high)))
    assert q.u == pytest.approx(1000.0 * (math.sqrt(high) - math.sqrt(low)) / 3.92)


def test_noise_is_taken_off_and_its_error_joins_that_of_the_variance_end_by_end() -> None:
    # The method of variance estimates recovery: the low end has the patch's low end and the noise's high one.
    low, high = ends(1e-4, 80.0)
    q = found(granularity._Part(3e-5, 2e-5, 5e-5))
    least = 7e-5 - math.hypot(1e-4 - low, 5e-5 - 3e-5)
    most = 7e-5 + math.hypot(high - 1e-4, 3e-5 - 2e-5)
    assert (q.value, q.low, q.high) == pytest.approx(tuple(1000.0 * math.sqrt(v) for v in (7e-5, least, most)))
    assert q.note is None


def test_the_error_of_the_correction_for_blur_joins_in_proportion_to_what_white_grain_loses() -> None:
    # 15 % of the loss is known no better, 95 %; half of it of the value, for the value is the root of the variance.
    plain, blurred = found(None), found(None, white=0.4)
    for one, other in ((plain.low, blurred.low), (plain.high, blurred.high)):
        assert one is not None
        assert other is not None
        assert abs(other - 10.0) == pytest.approx(math.hypot(one - 10.0, 0.5 * 0.15 * 0.4 * 10.0))


@pytest.mark.parametrize(("noise", "bounded"), [(4.99e-5, False), (5.01e-5, True)])
def test_noise_of_more_than_the_grain_leaves_a_bound(noise: float, bounded: bool) -> None:
    q = found(granularity._Part(noise, 0.9 * noise, 1.1 * noise))
    assert (q.value is None) is bounded
    if bounded:
        _, high = ends(1e-4, 80.0)
        most = 1e-4 - noise + math.hypot(high - 1e-4, 0.1 * noise)
        assert end(q, "<") == pytest.approx(1000.0 * math.sqrt(most))


def test_the_bound_is_the_whole_where_noise_is_more_than_all_that_was_seen() -> None:
    _, high = ends(1e-4, 80.0)
    q = found(granularity._Part(3e-4, 2.99e-4, 3.01e-4))
    assert end(q, "<") == pytest.approx(1000.0 * math.sqrt(high))


def frame(level: float, variance: float, freedom: float) -> ApertureReadings:
    return replace(SEEN, level=level, variance=variance, freedom=freedom)


def test_noise_between_two_frames_runs_straight_and_its_freedom_is_welchs() -> None:
    # By hand, at a quarter of the way from dark to clear: 0.75 * 4e-6 + 0.25 * 8e-6 = 5e-6. Freedom by Welch and
    # Satterthwaite: 5^2 / (3^2 / 40 + 2^2 / 60).
    noise = ScannerNoise(frame(0.9, 8e-6, 60.0), frame(0.1, 4e-6, 40.0))
    part = granularity._noise_at(noise, 0.3)
    freedom = 25.0 / (9.0 / 40.0 + 4.0 / 60.0)
    assert (part.value, part.low, part.high) == pytest.approx((5e-6, *ends(5e-6, freedom)))


@pytest.mark.parametrize(("level", "value"), [(0.05, 4e-6), (1.2, 8e-6)])
def test_beyond_the_frames_noise_stays(level: float, value: float) -> None:
    noise = ScannerNoise(frame(0.9, 8e-6, 60.0), frame(0.1, 4e-6, 40.0))
    assert granularity._noise_at(noise, level).value == pytest.approx(value)


def test_noise_of_a_clear_frame_alone_lies_between_proportion_to_light_squared_and_none() -> None:
    part = granularity._noise_at(ScannerNoise(frame(0.8, 8e-6, 60.0)), 0.2)
    low, high = ends(8e-6, 60.0)
    assert (part.value, part.low, part.high) == pytest.approx((2e-6, low / 16.0, high))


def test_frames_without_scatter_are_without_noise() -> None:
    noise = ScannerNoise(frame(0.9, 0.0, 60.0), frame(0.1, 0.0, 40.0))
    assert granularity._noise_at(noise, 0.3) == granularity._Part(0.0, 0.0, 0.0)


def test_the_loss_by_blur_follows_the_correlation_of_neighbours_without_the_scanners_noise() -> None:
    seen = replace(SEEN, level=0.3, pixel_variance=6e-4, neighbour_covariance=2e-4)
    assert granularity._loss(seen, None, PITCH, 48.0) == pytest.approx(blur_loss(48.0, PITCH, 1 / 3))
    clear = replace(SEEN, level=0.9, pixel_variance=4e-4, neighbour_covariance=4e-5)
    dark = replace(SEEN, level=0.1, pixel_variance=8e-5, neighbour_covariance=0.0)
    # By hand: with clear alone a third of its variance and covariance goes off; with dark, a quarter of clear's and
    # three quarters of dark's.
    alone = (2e-4 - 4e-5 / 3.0) / (6e-4 - 4e-4 / 3.0)
    both = (2e-4 - 1e-5) / (6e-4 - 1e-4 - 6e-5)
    for noise, neighbour in ((ScannerNoise(clear), alone), (ScannerNoise(clear, dark), both)):
        assert granularity._loss(seen, noise, PITCH, 48.0) == pytest.approx(blur_loss(48.0, PITCH, neighbour))
    drowned = replace(seen, pixel_variance=1e-5)
    assert granularity._loss(drowned, ScannerNoise(clear), PITCH, 48.0) == pytest.approx(blur_loss(48.0, PITCH, 0.0))


def uneven(monkeypatch: pytest.MonkeyPatch, grown: float, freedom: float, side: int = 500, **changed: float) -> str:
    """Return what is said of a patch whose scatter falls more slowly than by Selwyn's law by a factor, squared."""
    seen = replace(SEEN, freedom=freedom, **changed)
    loss, wide = blur_loss(48.0, PITCH), blur_loss(96.0, PITCH)
    double = replace(seen, variance=grown * seen.variance / (1.0 - loss) * (1.0 - wide) / 4.0)
    monkeypatch.setattr(granularity, "aperture_readings", lambda *_, **__: double)
    return granularity._uneven(np.zeros((side, side)), PITCH, 48.0, seen, loss) or ""


@pytest.mark.parametrize(
    ("grown", "freedom", "told"),
    [
        # By hand: 1.15 times as much scatter, squared, where both are known well.
        (1.15**2 - 0.003, 1e6, ""),
        (1.15**2 + 0.003, 1e6, "1.15 times as much through 96 um"),
        # With a hundred readings each, growth is surely above 1 from exp(1.96 * sqrt(0.04)) = 1.480.
        (1.475, 100.0, ""),
        (1.485, 100.0, "1.22 times as much through 96 um"),
    ],
)
def test_mottle_is_told_from_a_growth_that_is_large_and_sure(
    monkeypatch: pytest.MonkeyPatch, grown: float, freedom: float, told: str
) -> None:
    said = uneven(monkeypatch, grown, freedom)
    assert told in said
    assert bool(said) == bool(told)


@pytest.mark.parametrize(("beyond", "told"), [(0.149, False), (0.151, True)])
def test_readings_far_apart_may_be_correlated_by_0_15(
    monkeypatch: pytest.MonkeyPatch, beyond: float, told: bool
) -> None:
    assert uneven(monkeypatch, 1.0, 1e6, beyond=beyond).startswith("readings 72 to 120 um apart are") is told


def test_mottle_is_looked_for_on_patches_of_two_hundred_wide_apertures(monkeypatch: pytest.MonkeyPatch) -> None:
    least = math.sqrt(200.0 * aperture_area(96.0)) / PITCH
    assert not uneven(monkeypatch, 4.0, 1e6, side=math.floor(least))
    assert uneven(monkeypatch, 4.0, 1e6, side=math.ceil(least))


def white(side: int, seed: int) -> FloatArray:
    return np.asarray(0.5 + 0.01 * np.random.default_rng(seed).standard_normal((side, side)))


def test_the_grain_that_the_surface_removes_is_given_back() -> None:
    # White noise of 0.01 through weights w has the variance 1e-4 times the sum of their squares. Six terms of a surface
    # take a fifteenth of it away on a patch of 125 apertures.
    pitch, diameter = 1.0, 18.0
    read = [aperture_readings(white(180, n), pitch, diameter, as_density=False, name="") for n in range(120)]
    expected = 1e-4 * float((aperture_weights(diameter, pitch) ** 2).sum())
    # Two hundred independent readings a patch: 1 % of standard error in all.
    assert np.mean([r.variance for r in read]) == pytest.approx(expected, rel=0.03)
    scatter = np.var([r.variance for r in read]) / expected**2
    assert 2.0 / np.mean([r.freedom for r in read]) == pytest.approx(scatter, rel=0.4)
    assert np.mean([r.pixel_variance for r in read]) == pytest.approx(1e-4, rel=0.01)
    assert abs(np.mean([r.neighbour_covariance for r in read])) < 1e-6
    # A surface that follows the grain leaves readings far apart a little against each other.
    assert -0.05 < np.mean([r.beyond for r in read]) < 0.0


@pytest.mark.parametrize(("height", "aside"), [(7.5, False), (9.0, True)])
def test_a_speck_in_light_stands_off_by_eight_deviations(height: float, aside: bool) -> None:
    frame = white(180, 5)
    frame[90, 90] = 0.5 + 0.01 * height
    read = aperture_readings(frame, 1.0, 18.0, as_density=False, name="")
    assert (read.set_aside > 0.0) is aside
    if aside:
        # Places four pixels apart whose aperture, 19 pixels with its rim, holds the pixel.
        assert read.set_aside * 41**2 == pytest.approx(aperture_area(19.0) / 16.0, rel=0.2)


def test_up_to_three_tenths_of_a_patch_may_be_set_aside() -> None:
    frame = white(240, 6)
    frame[:, :40] = 5.0
    read = aperture_readings(frame, 1.0, 18.0, as_density=False, name="")
    assert 0.15 < read.set_aside < 0.3
    frame[:, :80] = 5.0
    with pytest.raises(GrainError, match="% of it is dust, scratches or structure"):
        aperture_readings(frame, 1.0, 18.0, as_density=False, name="")


@pytest.mark.parametrize(
    ("shape", "refused"), [((160, 160), False), ((159, 159), True), ((36, 900), False), ((35, 900), True)]
)
def test_a_patch_holds_a_hundred_apertures_and_is_two_wide(shape: tuple[int, int], refused: bool) -> None:
    # By hand: a hundred circles of 18 pixels are 159.5 pixels square.
    if refused:
        with pytest.raises(GrainError, match="is too small"):
            aperture.check_scale(shape, 1.0, 18.0, "")
    else:
        aperture.check_scale(shape, 1.0, 18.0, "")


@pytest.mark.parametrize(("apart", "stands"), [(0.0499, True), (0.0501, False)])
def test_a_patch_within_0_05_stands_for_the_density_asked_for(apart: float, stands: bool) -> None:
    points = [point(1.0 - apart, ten_percent(8.0)), point(1.5, ten_percent(18.0))]
    assert (at_density(points, 1.0).how == "measured") is stands


@pytest.mark.parametrize(("gap", "known"), [(0.999, True), (1.001, False)])
def test_patches_up_to_a_density_apart_are_interpolated_between(gap: float, known: bool) -> None:
    points = [point(0.5, ten_percent(8.0)), point(0.5 + gap, ten_percent(18.0))]
    assert (at_density(points, 1.0).value is not None) is known


def test_between_patches_the_uncertainty_is_that_of_the_interval() -> None:
    q = at_density([point(0.8, ten_percent(8.0)), point(1.2, ten_percent(18.0))], 1.0)
    assert q.u == pytest.approx(12.0 * (1.1 - 1 / 1.1) / 3.92)


def test_signs_of_processing_are_looked_for_at_the_density_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[float] = []
    monkeypatch.setattr(film_grain, "signs_of_processing", lambda light, _: looked.append(-math.log10(light.mean())))
    film = Film("Heron", [patch(n, level=level)[..., None] for n, level in enumerate((0.4, 1.1, 2.0))], PITCH)
    for density in (1.0, 0.5, 1.8):
        measure_film(film, density=density)
    assert looked == pytest.approx([1.1, 0.4, 2.0], abs=0.01)


@pytest.mark.parametrize(("aside", "told"), [(0.049, False), (0.051, True)])
def test_dust_on_more_than_a_twentieth_is_told(aside: float, told: bool) -> None:
    one = point(1.0, ten_percent(10.0))
    dusty = replace(one, found=replace(one.found, set_aside=aside))
    said = film_grain._warnings(Film("Heron", [], PITCH), [dusty], "clear and dark", None)
    assert [n.message for n in said] == (["Heron, step 1: 5 % set aside as dust or scratches"] if told else [])


@pytest.mark.parametrize(("stated", "told"), [(4755.0, False), (4745.0, True), (4845.0, False), (4855.0, True)])
def test_a_scale_that_the_file_denies_by_more_than_a_hundredth_is_told(stated: float, told: bool) -> None:
    said = film_grain._warnings(Film("Heron", [], PITCH, file_dpi=stated), [], "clear and dark", None)
    assert (["scale"] if told else []) == [n.code for n in said]


def test_the_coarser_film_is_named_with_how_many_times_and_its_interval_whichever_comes_first() -> None:
    # By hand: 12 / 8, and 1.1 to the power of root 2 to either side.
    reach = 1.1 ** math.sqrt(2.0)
    times = f"1.50 times ({1.5 / reach:.2f} to {1.5 * reach:.2f})"
    fine, coarse = grain("a", ten_percent(8.0)), grain("b", ten_percent(12.0))
    for pair, ratio in (((fine, coarse), 1.5), ((coarse, fine), 1 / 1.5)):
        verdict = verdict_on(*pair)
        assert verdict.sentence == f"a is finer than b: b has {times} its granularity"
        assert verdict.ratio.value == pytest.approx(ratio)


@pytest.mark.parametrize(("dpi", "told"), [(4710.0, False), (4700.0, True)])
def test_resolutions_that_differ_by_more_than_a_fiftieth_are_told(dpi: float, told: bool) -> None:
    films = [
        Film(name, [noisy(patch(n), 0.0, 0.0, n)[..., None]], 25400.0 / resolution)
        for n, (name, resolution) in enumerate((("a", 4800.0), ("b", dpi)))
    ]
    assert ("resolution" in [n.code for n in compare_films(films).warnings]) is told
