"""Pictures in a page: what a decoder of its own reads back, pixel for pixel."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
import pytest
from skimage.io import imread

from curves.views.page.frame import png, png_uri


@pytest.mark.parametrize("shape", [(7, 5), (1, 1), (64, 3), (6, 9, 3)])
def test_a_decoder_of_its_own_reads_the_same_pixels(shape: tuple[int, ...], tmp_path_factory: object) -> None:
    # Oracle: the PNG reader that scikit-image carries.
    pixels = np.random.default_rng(1).integers(0, 256, shape, dtype=np.uint8)
    assert isinstance(tmp_path_factory, pytest.TempPathFactory)
    path = tmp_path_factory.mktemp("png") / "picture.png"
    path.write_bytes(png(pixels))
    assert (imread(path) == pixels).all()


def test_the_file_begins_and_ends_as_the_standard_has_it() -> None:
    # ISO/IEC 15948: signature, header of 13 bytes (here 5 columns, 7 rows, 8 bits, grey), and an empty last chunk.
    made = png(np.zeros((7, 5), dtype=np.uint8))
    assert made[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])
    assert made[8:29] == struct.pack(">I4sIIBBBBB", 13, b"IHDR", 5, 7, 8, 0, 0, 0, 0)
    assert made[-12:] == struct.pack(">I4sI", 0, b"IEND", zlib.crc32(b"IEND"))


def test_a_page_gets_it_as_a_data_uri() -> None:
    pixels = np.arange(12, dtype=np.uint8).reshape(3, 4)
    uri = png_uri(pixels)
    assert uri.startswith("data:image/png;base64,")
    assert base64.b64decode(uri.split(",")[1]) == png(pixels)


@pytest.mark.parametrize(
    "pixels",
    [np.zeros((3, 4)), np.zeros((3, 4, 2), dtype=np.uint8), np.zeros(5, dtype=np.uint8), np.zeros((3, 4), np.uint16)],
)
def test_what_is_no_picture_of_eight_bits_is_refused(pixels: np.ndarray) -> None:
    with pytest.raises(ValueError, match="not a picture of 8 bits"):
        png(pixels)


def test_a_picture_without_pixels_is_refused() -> None:
    with pytest.raises(ValueError, match="a picture without pixels"):
        png(np.zeros((0, 4), dtype=np.uint8))
