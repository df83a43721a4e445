"""Patches of a scan: light is averaged, dirt left out, and the standard error is as large as the scatter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from curves.sensitometry.core.units import BoolArray
from curves.sensitometry.scan.patch_light import PatchLight, patch_flags, patch_light, pixels_inside

Array = NDArray[np.float64]
LEVEL = 0.2


def noise(shape: tuple[int, int], seed: int, blur: float = 0.0) -> Array:
    """Return normal noise of unit standard deviation, correlated over ``blur`` pixels."""
    drawn = np.random.default_rng((5, seed)).standard_normal(shape)
    if blur:
        drawn = ndimage.gaussian_filter(drawn, blur, mode="wrap")
        drawn /= drawn.std()
    return np.asarray(drawn)


def everywhere(light: Array) -> BoolArray:
    return np.ones((light.shape[0], light.shape[1]), dtype=bool)


def measured(light: Array) -> PatchLight:
    return patch_light(light, light, everywhere(light))


def codes(found: PatchLight) -> list[str]:
    return [flag.code for flag in patch_flags(3, "green", found)]


def test_light_is_averaged_not_density() -> None:
    # Theory: of normal density, mean light is greater than the light of the mean density by 0.5 ln 10 var [density].
    spread = 0.06
    density = 1.0 + spread * noise((120, 120), 1)
    found = -math.log10(measured(10.0**-density).light)
    assert found == pytest.approx(1.0 - 0.5 * math.log(10.0) * spread**2, abs=0.001)
    assert density.mean() - found == pytest.approx(0.0041, abs=0.001)


@pytest.mark.parametrize("dirt", ["specks", "a scratch", "a hair", "a blot"])
def test_dirt_is_left_out_and_its_share_told(dirt: str) -> None:
    light = LEVEL * (1.0 + 0.02 * noise((100, 100), 2))
    where = np.zeros((100, 100), dtype=bool)
    y, x = np.mgrid[0:100, 0:100]
    if dirt == "specks":
        for cx, cy in np.random.default_rng(4).uniform(5, 95, (12, 2)):
            where |= np.hypot(x - cx, y - cy) < 2.0
    elif dirt == "a scratch":
        where |= np.abs(x - 0.4 * y - 20) < 1.2
    elif dirt == "a hair":
        where |= np.abs(y - 50 - 12 * np.sin(x / 15.0)) < 1.5
    else:
        where |= np.hypot(x - 50, y - 50) < 10
    light[where] *= 3.0 if dirt == "a scratch" else 0.2
    found = measured(light)
    assert found.light == pytest.approx(LEVEL, rel=0.002)
    reach = ndimage.binary_dilation(
        where, np.ones((5, 5), dtype=bool)
    )  # dirt is left out with what lies within two pixels
    assert where.mean() <= found.dust <= reach.mean() + 0.001
    assert found.pixels == round((1.0 - found.dust) * light.size)
    assert abs(light.mean() / LEVEL - 1.0) > 0.005  # a plain mean would not do


def test_a_clean_patch_loses_hardly_a_pixel() -> None:
    for blur in (0.0, 1.0, 3.0):
        found = measured(LEVEL * (1.0 + 0.05 * noise((80, 80), 3, blur)))
        assert found.dust < 0.003
        assert codes(found) == []


def test_dark_patches_of_few_numbers_keep_all_their_pixels() -> None:
    # Eight bits: four pixels in five hold 5, the others 6. None is dirt.
    numbers = 5.0 + (np.random.default_rng(9).random((60, 60)) < 0.2)
    found = measured(np.asarray(numbers / 255.0))
    assert found.dust == 0.0
    assert found.light == pytest.approx(numbers.mean() / 255.0, rel=1e-9)


def test_a_patch_of_one_number_has_no_scatter() -> None:
    found = measured(np.full((10, 10), LEVEL))
    assert found.light == pytest.approx(LEVEL)
    assert found.error == pytest.approx(0.0, abs=1e-12)
    assert found.unevenness == pytest.approx(0.0, abs=1e-12)


def test_a_patch_without_light_has_no_unevenness_and_says_why() -> None:
    found = measured(np.zeros((10, 10)))
    assert found.light == 0.0
    assert math.isnan(found.unevenness)
    assert codes(found) == ["clipped-dark"]


def test_a_patch_one_pixel_high_is_measured() -> None:
    found = measured(LEVEL * (1.0 + 0.01 * noise((1, 200), 1)))
    assert found.light == pytest.approx(LEVEL, rel=0.003)
    assert found.error > 0


@pytest.mark.parametrize(("end", "code", "text"), [
    (1.0, "clipped-clear", "4% of it is at the scale's bright end: the scan was exposed too long"),
    (0.0, "clipped-dark", "4% of it is at the scale's dark end: denser than the scan can show"),
])  # fmt: skip
def test_pixels_at_an_end_of_the_scale_are_flagged(end: float, code: str, text: str) -> None:
    raw = LEVEL * (1.0 + 0.02 * noise((50, 50), 4))
    raw[:2] = end
    flags = {flag.code: flag for flag in patch_flags(7, "blue", patch_light(raw, raw, everywhere(raw)))}
    assert flags[code].message == text
    assert (flags[code].patch, flags[code].channel) == (7, "blue")


def test_what_is_clipped_outside_the_patch_is_no_matter() -> None:
    raw = LEVEL * (1.0 + 0.02 * noise((50, 50), 4))
    raw[:10] = 1.0
    within = everywhere(raw)
    within[:10] = False
    found = patch_light(raw, raw, within)
    assert (found.clipped_high, found.dust) == (0.0, 0.0)
    assert found.light == pytest.approx(LEVEL, rel=0.002)


def test_unevenness_is_the_change_of_density_from_side_to_side() -> None:
    x = np.linspace(-0.5, 0.5, 90)[None, :]
    light = 10.0 ** -(0.8 + 0.05 * x) * (1.0 + 0.02 * noise((90, 90), 6))
    found = measured(light)
    assert found.unevenness == pytest.approx(0.05, abs=0.003)
    message = next(flag.message for flag in patch_flags(1, "visual", found) if flag.code == "uneven")
    assert message == "its density changes by 0.05 from side to side: uneven light, or not one step"


def test_noise_alone_is_not_called_uneven() -> None:
    # A small and grainy patch: its plane tilts by chance, no more than its error allows.
    assert all("uneven" not in codes(measured(LEVEL * (1.0 + 0.2 * noise((12, 12), s)))) for s in range(40))


def test_dust_is_worth_a_look_from_one_pixel_in_twenty() -> None:
    light = LEVEL * (1.0 + 0.01 * noise((100, 100), 8))
    light[40:65, 30:60] *= 0.1
    found = measured(light)
    assert [f.message for f in patch_flags(1, "visual", found) if f.code == "dust"] == [
        f"{found.dust:.0%} of it is left out as dust or scratches"
    ]
    assert 0.07 < found.dust < 0.10


@pytest.mark.parametrize("blur", [0.0, 1.0, 2.0])
def test_the_standard_error_is_as_large_as_the_scatter_of_repeats(blur: float) -> None:
    # Our own choice: rms of error / standard error between 0.7 and 1.4, grain correlated or not.
    z = []
    for seed in range(200):
        found = measured(LEVEL * (1.0 + 0.05 * noise((60, 60), seed, blur)))
        z.append((found.light - LEVEL) / found.error)
    assert 0.7 < float(np.sqrt(np.mean(np.square(z)))) < 1.4


def brute(corners: Array, rows: int, columns: int) -> BoolArray:
    """Return which middles of pixels are inside, by adding up the angles that the corners are seen at."""
    found = np.zeros((rows, columns), dtype=bool)
    for row in range(rows):
        for column in range(columns):
            away = corners - [column + 0.5, row + 0.5]
            turn = np.diff(np.unwrap(np.arctan2(*np.vstack([away, away[:1]]).T)))
            found[row, column] = abs(turn.sum()) > math.pi
    return found


@pytest.mark.parametrize("seed", range(8))
def test_inside_agrees_with_a_count_of_turns_whichever_way_the_corners_go(seed: int) -> None:
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * math.pi, 4))
    corners = np.column_stack([14 + 13 * np.cos(angles), 11 + 9 * np.sin(angles)])  # on an ellipse: convex
    expected = brute(corners, 22, 28)
    assert (pixels_inside(corners, 22, 28) == expected).all()
    assert (pixels_inside(corners[::-1], 22, 28) == expected).all()


def test_a_pixel_is_inside_if_its_middle_is() -> None:
    # The first pixel's middle lies at 0.5, 0.5.
    corners = np.array([[0.4, 0.6], [2.6, 0.6], [2.6, 2.4], [0.4, 2.4]])
    assert np.argwhere(pixels_inside(corners, 4, 4)).tolist() == [[1, 0], [1, 1], [1, 2]]


def test_an_area_outside_the_picture_holds_no_pixel() -> None:
    corners = np.array([[10.0, 10.0], [20.0, 10.0], [20.0, 20.0], [10.0, 20.0]])
    assert not pixels_inside(corners, 5, 5).any()
    assert pixels_inside(corners, 0, 0).shape == (0, 0)


def test_two_parts_of_a_patch_have_a_scatter_and_a_single_one_has_none() -> None:
    # A plane through two pixels leaves nothing over.
    assert measured(np.array([[0.2, 0.4]])).error == pytest.approx(0.0, abs=1e-12)
    assert math.isnan(measured(np.array([[0.2]])).error)
