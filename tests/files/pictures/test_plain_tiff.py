"""Pictures written some rows at a time, read back by another package."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
import tifffile

from curves.errors import OutputError
from curves.files.pictures import plain_tiff
from curves.files.pictures.image import open_image
from curves.files.pictures.plain_tiff import TiffHeader, write_tiff

PROFILE = bytes(range(256)) * 2


def picture(height: int, width: int, samples: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint16]]:
    return np.random.default_rng(3).integers(0, 65536, (height, width, samples)).astype(np.uint16)


@pytest.mark.parametrize("classic", [4_000_000_000, 1000], ids=["TIFF", "BigTIFF"])
@pytest.mark.parametrize("samples", [1, 3])
def test_another_reader_finds_every_number_the_profile_and_the_resolution(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, classic: int, samples: int
) -> None:
    monkeypatch.setattr(plain_tiff, "_CLASSIC", classic)
    monkeypatch.setattr(plain_tiff, "_STRIP", 5000)
    values = picture(67, 41, samples)
    path, header = tmp_path / "one.tif", TiffHeader(41, 67, samples, 2400.0, PROFILE)
    write_tiff(path, header, (values[top : top + header.rows] for top in range(0, 67, header.rows)))
    # libtiff, which shares no code with the package that writes.
    read = imagecodecs.tiff_decode(path.read_bytes())
    assert read.dtype == np.uint16
    assert np.array_equal(read.reshape(values.shape), values)
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert file.is_bigtiff == (classic == 1000)
        assert page.bitspersample == 16
        assert len(page.dataoffsets) > 1
        assert page.tags["XResolution"].value == (2400, 1)
        assert page.tags["ResolutionUnit"].value == 2
        assert page.tags["InterColorProfile"].value == PROFILE
        assert not {"Software", "ImageDescription"} & {tag.name for tag in page.tags}


def test_a_picture_without_profile_and_resolution_states_none(tmp_path: Path) -> None:
    values = picture(5, 4, 3)
    path = tmp_path / "one.tif"
    write_tiff(path, TiffHeader(4, 5, 3, None, b""), iter([values]))
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert page.asarray().tolist() == values.tolist()
        assert "InterColorProfile" not in {tag.name for tag in page.tags}
        # TIFF 6.0: a resolution without a unit says how wide a pixel is for its height, and no more.
        assert page.tags["ResolutionUnit"].value == 1
    with open_image(path) as read:
        assert read.facts.dpi is None


def test_a_picture_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    def broken() -> Iterator[np.ndarray[tuple[int, ...], np.dtype[np.uint16]]]:
        yield picture(2, 4, 3)
        raise OutputError("the picture ends")

    with pytest.raises(OutputError):
        write_tiff(tmp_path / "one.tif", TiffHeader(4, 5, 3, None, b""), broken())
    assert not list(tmp_path.iterdir())


def test_too_few_rows_are_refused_and_leave_nothing(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="wrong number of bytes"):
        write_tiff(tmp_path / "one.tif", TiffHeader(4, 5, 3, None, b""), iter([picture(4, 4, 3)]))
    assert not list(tmp_path.iterdir())


def test_a_picture_that_a_killed_run_left_whole_is_taken_for_its_own_and_no_other(tmp_path: Path) -> None:
    values, path, header = picture(5, 4, 3), tmp_path / "one.tif", TiffHeader(4, 5, 3, None, b"")
    write_tiff(path, header, iter([values]))
    left = path.read_bytes()
    write_tiff(path, header, iter([values]))
    assert path.read_bytes() == left
    for other in (left[:-1], left[:-1] + bytes([left[-1] ^ 1]), b""):
        path.write_bytes(other)
        with pytest.raises(OutputError, match="there is already such a file"):
            write_tiff(path, header, iter([values]))
        assert path.read_bytes() == other
