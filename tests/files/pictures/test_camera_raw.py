"""Raw files of cameras: the cells of the mosaic become pixels, and nothing is developed. The mosaics are made here."""

import builtins
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.pictures.image import open_image
from curves.files.scans.light import light_of
from curves.files.scans.places import reference
from curves.files.scans.scan import Scan
from curves.sensitometry.scan.encoding import LINEAR
from tests.files.pictures.dng import write_dng

BLACK, WHITE = 256, 4095


def mosaic(red: int, green: int, other_green: int, blue: int) -> np.ndarray[tuple[int, int], np.dtype[np.uint16]]:
    """Return a mosaic of red, green / green, blue, each of one number above black."""
    found = np.full((64, 96), BLACK, np.uint16)
    found[0::2, 0::2] += red
    found[0::2, 1::2] += green
    found[1::2, 0::2] += other_green
    found[1::2, 1::2] += blue
    return found


def test_a_cell_is_a_pixel_and_its_greens_are_averaged(tmp_path: Path) -> None:
    with open_image(write_dng(tmp_path / "a.dng", mosaic(1000, 2000, 2002, 500))) as picture:
        assert (picture.facts.width, picture.facts.height) == (48, 32)
        values = picture.region(0, 0, 32, 48)
        assert picture.facts.dark == pytest.approx([BLACK / WHITE] * 3)
    above = values.reshape(-1, 3) / 65535 * WHITE - BLACK
    # Rounding to 16 bits errs by half of 4095 / 65535.
    assert np.abs(above - [1000, 2001, 500]).max() < 0.04


def test_blacks_that_differ_from_place_to_place_are_taken_out(tmp_path: Path) -> None:
    numbers = mosaic(1000, 2000, 2000, 500)
    numbers[1::2, 0::2] += 40
    black = (BLACK, BLACK, BLACK + 40, BLACK)
    with open_image(write_dng(tmp_path / "a.dng", numbers, black)) as picture:
        values, dark = picture.region(0, 0, 1, 1)[0, 0], picture.facts.dark
    assert (values / 65535 - dark) * WHITE == pytest.approx([1000, 2000, 500], abs=0.04)


def test_another_order_of_colours_gives_the_same_pixels(tmp_path: Path) -> None:
    numbers = mosaic(500, 2000, 2000, 1000)
    with open_image(write_dng(tmp_path / "a.dng", numbers, pattern=(2, 1, 1, 0))) as picture:
        values = picture.region(0, 0, 1, 1)[0, 0] / 65535 * WHITE - BLACK
    assert values == pytest.approx([1000, 2000, 500], abs=0.04)


def test_one_clipped_pixel_clips_its_cell_in_that_colour(tmp_path: Path) -> None:
    numbers = mosaic(1000, 2000, 2000, 500)
    numbers[1, 0] = WHITE
    with open_image(write_dng(tmp_path / "a.dng", numbers)) as picture:
        values = picture.region(0, 0, 1, 2)
    assert values[0, 0, 1] == 65535
    assert values[0, 1, 1] < 65535
    assert values[0, 0, 0] < 65535


def test_the_black_level_is_dark_and_the_numbers_are_in_proportion_to_light(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", mosaic(1000, 2000, 2000, 500))
    with Scan(path, LINEAR) as scan:
        assert scan.signs() == ""
        light = light_of(scan, reference("area:2,2,40,30", scan.facts, "clear"), None)
    assert not light.assumed_dark
    assert light.dark == pytest.approx([BLACK / WHITE] * 3)
    assert (light.clear - light.dark) * WHITE == pytest.approx([1000, 2000, 500], abs=0.1)


def test_a_raw_file_without_its_package_says_what_to_install(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", mosaic(1, 1, 1, 1))
    real = builtins.__import__

    def without(name: str, *others: Any) -> Any:
        if name == "rawpy":
            raise ImportError(name)
        return real(name, *others)

    with (
        mock.patch("curves.files.pictures.picture_file.importlib.import_module", side_effect=without),
        pytest.raises(RecordError) as refusal,
    ):
        open_image(path)
    assert "a.dng: this seems to be the raw file of a camera, and the package rawpy" in str(refusal.value)
    assert "pip install 'stepwedge-curves[raw]'; or make a linear 16-bit TIFF" in str(refusal.value)


@pytest.mark.parametrize(
    ("made", "why"),
    [
        ({"white": 200}, "its white level 200 is not above its black level 256"),
        ({"pattern": (0, 1, 0, 2)}, "mosaic is of another kind"),
    ],
)
def test_a_raw_file_that_holds_no_usual_mosaic_is_refused(tmp_path: Path, made: dict[str, Any], why: str) -> None:
    path = write_dng(tmp_path / "a.dng", mosaic(1000, 2000, 2000, 500), **made)
    with pytest.raises(RecordError, match=why):
        open_image(path)


def test_a_raw_file_cut_short_is_refused(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", mosaic(1000, 2000, 2000, 500))
    path.write_bytes(path.read_bytes()[:300])
    with pytest.raises(RecordError, match="nor a raw file that can be read"):
        open_image(path)
