"""From light to density: flare is taken out by a wedge, what is not known is NaN, and errors cover the truth."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from curves.errors import StripError
from curves.sensitometry.scan.density_map import ASSUMED_FLARE, ASSUMED_UNEVEN, Calibration, ScanMap, fit_light, fit_map
from curves.sensitometry.scan.ladder import Ladder
from curves.sensitometry.scan.patch_light import patch_light, pixels_inside
from tests.simulate_scan import Made, ScanScene, scan

Array = NDArray[np.float64]
WEDGE = 0.05 + 0.15 * np.arange(21, dtype=np.float64)
WANTED = np.array([0.3, 0.8, 1.3, 1.7, 2.0, 2.2, 2.5, 2.75, 3.0])
LIMITS = np.where(WANTED <= 2.0, 0.01, np.where(WANTED <= 2.5, 0.02, 0.03))
CLEAR, DARK = 0.9, 0.002
CLEAN = Calibration(("visual",), np.array([CLEAR]), np.array([0.0]))


@cache
def frame(densities: tuple[float, ...], flare: float, film: float = 0.05, seed: int = 0) -> Made:
    """Return a scan of patches side by side, with so much of the picture's mean light scattered over it."""
    scene = ScanScene(
        np.array(densities)[:, None], np.array([film]), np.array([0.05]), width=560, height=200,
        pitch=500 / len(densities), across=80, before=10, after=10, beside=20, beyond="gate", flare=flare,
        noise=2e-5, full_well=1e6, clear=CLEAR, dark=DARK, grain=0.01,
    )  # fmt: skip
    return scan(scene, seed)


def apparent(made: Made) -> tuple[Array, float]:
    """Return apparent transmittance of every patch, and the mean light of the picture [of the clear light]."""
    light = made.picture / 65535.0
    ladder = Ladder(made.corners, len(made.densities))
    rows, columns = light.shape[:2]
    found = [
        patch_light(light[..., 0], light[..., 0], pixels_inside(ladder.patch(step), rows, columns)).light
        for step in range(1, ladder.steps + 1)
    ]
    return (np.array(found) - DARK) / CLEAR, (float(light.mean()) - DARK) / CLEAR


def made_map(flare: float, uncertainty: float | None = None) -> ScanMap:
    seen, surround = apparent(frame(tuple(WEDGE), flare))
    return fit_map(seen, WEDGE, uncertainty, surround=surround)


@pytest.mark.parametrize("flare", [0.001, 0.003, 0.006])
def test_a_wedge_in_the_same_frame_takes_flare_out(flare: float) -> None:
    seen, surround = apparent(frame((*WEDGE, *WANTED), flare))
    found = fit_map(seen[:21], WEDGE, surround=surround).for_surround(surround).density(seen[21:])
    assert (np.abs(found - WANTED) < LIMITS).all()
    assert np.abs(-np.log10(seen[-1]) - 3.0) > 0.1  # which the light alone does not show


@pytest.mark.parametrize("flare", [0.001, 0.003, 0.006])
def test_a_wedge_in_another_frame_takes_flare_out_by_the_light_of_both(flare: float) -> None:
    seen, surround = apparent(frame(tuple(WANTED), flare, 1.5))
    wedge = made_map(flare)
    assert surround < 0.9 * wedge.surround  # a darker frame: less flare
    found = wedge.for_surround(surround).density(seen)
    assert (np.abs(found - WANTED) < LIMITS).all()


@pytest.mark.parametrize("flare", [0.001, 0.003, 0.006])
def test_the_flare_found_is_the_share_of_the_mean_light_that_is_scattered(flare: float) -> None:
    wedge = made_map(flare)
    # The simulation's own definition: flare = share x mean light, itself seen with its flare.
    assert wedge.flare == pytest.approx(flare * wedge.surround / (1.0 + flare), abs=3e-5)


def test_without_a_wedge_flare_of_a_tenth_of_a_per_cent_is_0_04_at_density_2() -> None:
    # The docstring of SUSPECT; theory: log10(1 + 0.001 / 0.01) = 0.041, and log10(1 + 0.001 / 0.00316) = 0.119.
    light = CLEAR * (10.0 ** -np.array([[2.0], [2.5]]) + 0.001)
    assert ([[2.0], [2.5]] - CLEAN.density(light)).ravel() == pytest.approx([0.041, 0.119], abs=0.001)


def test_without_a_wedge_apparent_density_ends_near_2_5() -> None:
    # The docstring of the module: flare of 0.3 % of the clear light, behind film that lets nothing through.
    assert CLEAN.density([CLEAR * 0.003])[0] == pytest.approx(2.52, abs=0.01)


@cache
def noisy_map(seed: int, error: float = 0.01) -> tuple[ScanMap, Array]:
    """Return a map of a wedge known with errors, and apparent transmittances of the wanted densities."""
    rng = np.random.default_rng((11, seed))
    flare = rng.uniform(0.0005, 0.003)
    seen = 10.0**-WEDGE + flare
    known = WEDGE + error * rng.standard_normal(WEDGE.size)
    return fit_map(seen, known, error), 10.0**-WANTED + flare


def test_standard_uncertainties_are_as_large_as_the_errors() -> None:
    # Our own choice: rms of error / standard uncertainty between 0.5 and 1.5. Above density 2.2 the uncertainties are
    # on the safe side: an error of the flare is counted, though the curve takes it up again.
    z = []
    for seed in range(40):
        found, seen = noisy_map(seed)
        z.append((found.density(seen) - WANTED) / found.error(seen, 0.0))
    table = np.sqrt(np.nanmean(np.square(z), axis=0))
    assert 0.5 < float(np.sqrt(np.nanmean(np.square(z)))) < 1.5
    assert (table < 1.5).all()
    assert (table[WANTED <= 2.2] > 0.5).all()


def test_the_error_of_light_counts_by_the_slope() -> None:
    # Theory: d(density) = d(light) / (light ln 10), and the wedge's own error added in squares.
    found, seen = noisy_map(1)
    left = found.transmittance(seen[1])
    bare, whole = (float(found.error(seen[1], e)) for e in (0.0, 0.02 * float(left)))
    assert math.sqrt(whole**2 - bare**2) == pytest.approx(0.02 / math.log(10.0), rel=0.1)


def test_without_a_wedge_the_error_is_that_of_light_and_of_flare_that_nobody_knows() -> None:
    # Theory: 0.01 / ln 10 for one per cent of light; 0.2 % of the clear light is 2 % at a transmittance of 0.1.
    assert CLEAN.scatter([0.09], [0.0009])[0] == pytest.approx(0.01 / math.log(10.0), rel=1e-6)
    light = float(CLEAN.apparent([0.09])[0])
    # Twice that taken off the light, and half of what it does to density.
    flare = 0.5 * math.log10(light / (light - 2.0 * ASSUMED_FLARE))
    clear = np.array([CLEAN.clear])
    assert CLEAN.error([[0.09]], [[0.0]], clear)[0, 0] == pytest.approx(flare)
    assert CLEAN.error([[0.09]], [[0.0009]], clear)[0, 0] == pytest.approx(math.hypot(flare, 0.01 / math.log(10.0)))
    # Where nobody scanned the empty gate, light may be uneven too.
    assert CLEAN.error([0.09], [0.0])[0] == pytest.approx(math.hypot(flare, ASSUMED_UNEVEN))
    assert np.isnan(CLEAN.error([0.0], [0.0009])[0])


def test_a_map_ends_where_its_wedge_does() -> None:
    found = made_map(0.001)
    beyond = 10.0 ** -np.array([WEDGE[0] - 0.06, WEDGE[0], WEDGE[-1] - 0.02, WEDGE[-1] + 0.08]) + found.flare
    assert np.isnan(found.density(beyond)).tolist() == [True, False, False, True]
    assert found.densest == pytest.approx(WEDGE[-1])


def test_light_that_is_none_once_flare_is_off_has_no_density() -> None:
    found = made_map(0.003)
    assert np.isnan(found.density([found.flare, 0.0, -0.01, np.nan])).all()
    assert np.isnan(found.error([found.flare, 0.0, -0.01, np.nan], 1e-4)).all()


def test_a_scalar_an_array_and_nothing_at_all_are_mapped() -> None:
    found = made_map(0.001)
    one = found.density(0.1 + found.flare)
    assert one.shape == ()
    assert float(one) == pytest.approx(1.0, abs=0.01)
    assert found.density(np.full((2, 3), 0.1)).shape == (2, 3)
    assert found.density([]).shape == (0,)
    assert CLEAN.density(np.empty((0, 1))).shape == (0, 1)


@pytest.mark.parametrize("count", [0, 1, 5])
def test_a_map_needs_six_steps(count: int) -> None:
    with pytest.raises(StripError) as refusal:
        fit_map(10.0 ** -WEDGE[:count], WEDGE[:count])
    assert str(refusal.value) == (
        f"calibration wedge: only {count} of its steps could be read; needed: at least 6 known densities."
    )


def test_steps_that_were_not_read_do_not_count() -> None:
    seen = 10.0**-WEDGE
    seen[5:] = np.nan
    with pytest.raises(StripError, match="only 5 of its steps could be read"):
        fit_map(seen, WEDGE)
    seen = 10.0**-WEDGE
    seen[[3, 20]] = np.nan, -0.001
    assert fit_map(seen, WEDGE).densest == pytest.approx(WEDGE[19])


@pytest.mark.parametrize("seen", [10.0 ** -WEDGE[::-1], np.full(21, 0.2), 10.0 ** -np.roll(WEDGE, 9)])
def test_light_that_does_not_fall_as_density_grows_is_refused(seen: Array) -> None:
    with pytest.raises(StripError) as refusal:
        fit_map(seen, WEDGE, where="wedge 7, red")
    assert str(refusal.value) == (
        "wedge 7, red: its light does not fall as its known densities grow.\n"
        "Try: check that the table belongs to this wedge, and which of its ends is step 1."
    )


def test_a_table_from_the_dense_end_makes_the_same_map() -> None:
    one, other = (fit_map(10.0**-d + 0.001, d) for d in (WEDGE, WEDGE[::-1]))
    assert one.flare == pytest.approx(other.flare, abs=1e-9)
    assert one.density([0.05]) == pytest.approx(other.density([0.05]), abs=1e-9)


def test_a_clear_value_that_is_far_off_does_not_stop_the_fit() -> None:
    # Clear taken 300 times too bright, or too dark: gain takes it up.
    for gain in (1 / 300.0, 300.0):
        found = fit_map(gain * 10.0**-WEDGE, WEDGE)
        assert float(found.density(gain * 0.1)) == pytest.approx(1.0, abs=0.01)


def test_flare_grows_with_the_light_of_the_picture_and_half_of_the_change_is_uncertain() -> None:
    wedge = made_map(0.003)
    bright = wedge.for_surround(2.0 * wedge.surround)
    assert bright.flare == pytest.approx(2.0 * wedge.flare)
    assert bright.flare_error == pytest.approx(2.0 * wedge.flare_error)
    assert bright.moved_error == pytest.approx(math.hypot(wedge.flare_error, 0.5 * wedge.flare))
    same = wedge.for_surround(wedge.surround)
    assert (same.flare, same.flare_error, same.moved_error) == (wedge.flare, wedge.flare_error, 0.0)


def test_flare_weighs_more_where_the_clear_light_is_less() -> None:
    wedge = made_map(0.003)
    # Half the clear light at a place: the same scattered light is twice the share.
    assert float(wedge.transmittance(0.1, 0.5)) == pytest.approx(0.1 - 2.0 * wedge.flare)


def test_a_calibration_scales_its_maps_by_the_whole_picture() -> None:
    wedge = made_map(0.003)
    calibration = Calibration(("visual",), np.array([CLEAR]), np.array([DARK]), (wedge,))
    picture = np.full((4, 5, 1), DARK + (CLEAR - DARK) * 0.5 * wedge.surround)
    assert calibration.for_picture(picture).maps[0].flare == pytest.approx(0.5 * wedge.flare)
    assert CLEAN.for_picture(picture).maps == ()


def test_every_channel_has_its_own_clear_and_dark() -> None:
    rgb = Calibration(("red", "green", "blue"), np.array([0.9, 0.8, 0.7]), np.array([0.0, 0.1, 0.2]))
    assert rgb.density([[0.09, 0.17, 0.25]])[0] == pytest.approx([1.0, 1.0, 1.0])
    assert rgb.transmittance([0.45, 0.45, 0.45]) == pytest.approx([0.5, 0.5, 0.5])
    # Light measured at the place itself: half the clear light there.
    assert rgb.transmittance([0.45, 0.45, 0.45], np.array([0.45, 0.45, 0.45])) == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize("dark", [0.9, 0.95])
def test_clear_that_is_not_brighter_than_dark_is_refused(dark: float) -> None:
    with pytest.raises(StripError) as refusal:
        Calibration(("visual",), np.array([0.9]), np.array([dark]))
    assert str(refusal.value) == (
        "calibration: the clear value is not brighter than the dark one; needed: clear: light through the empty gate;"
        " dark: light with the gate closed."
    )


@pytest.mark.parametrize(("gamma", "doubt"), [
    (2.2, "its light changes by 0.45 for each 1.00 of known density: the picture looks encoded, by a gamma of"
          " about 2.2"),
    (1.8, "its light changes by 0.56 for each 1.00 of known density: the picture looks encoded, by a gamma of"
          " about 1.8"),
    (1.0, ""),
    (0.9, ""),  # scattering silver: a scanner sees it denser than a densitometer does
    (0.5, "its light changes by 2.00 for each 1.00 of known density: the picture looks decoded twice, or the"
          " table belongs to another wedge"),
])  # fmt: skip
def test_a_wedge_tells_that_numbers_are_encoded(gamma: float, doubt: str) -> None:
    found = fit_map((10.0**-WEDGE) ** (1.0 / gamma), WEDGE)
    assert found.slope == pytest.approx(1.0 / gamma, abs=0.01)
    assert found.doubt == doubt


def test_flare_alone_does_not_look_like_an_encoding() -> None:
    for flare in (0.001, 0.003, 0.006):
        assert made_map(flare).slope == pytest.approx(1.0, abs=0.03)
        assert made_map(flare).doubt == ""


def test_the_flare_is_as_unsure_as_readings_off_the_line_less_three_freedoms_make_it() -> None:
    # Own arithmetic: every step read twice leaves the fit as it is, doubles both the information and the sum of squares
    # and leaves 2 n - 3 freedoms for n - 3; the error shrinks by the root of (n - 3) / (2 n - 3).
    known = np.linspace(0.1, 2.5, 7)
    off = 0.05 * np.array([1.0, -1.0, 0.5, 1.0, -1.0, 0.7, -0.4])
    light = 10.0 ** -(known + off) + 0.002
    once = fit_light(light, known, np.ones(7), 0.01)
    twice = fit_light(light.repeat(2), known.repeat(2), np.ones(14), 0.01)
    assert twice.flare == pytest.approx(once.flare, rel=1e-3)
    assert twice.flare_error / once.flare_error == pytest.approx(math.sqrt(4.0 / 11.0), rel=1e-3)
