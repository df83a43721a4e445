"""Pictures written some rows at a time, read back by another package."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile

from curves.errors import OutputError
from curves.files.balance import plain_tiff
from curves.files.balance.plain_tiff import TiffHeader, write_tiff

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
    path = tmp_path / "one.tif"
    write_tiff(path, TiffHeader(41, 67, samples, 2400.0, PROFILE), (values[t : t + 10] for t in range(0, 67, 10)))
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert file.is_bigtiff == (classic == 1000)
        assert page.asarray().reshape(values.shape).tolist() == values.tolist()
        assert page.bitspersample == 16
        assert len(page.dataoffsets) > 1
        assert page.tags["XResolution"].value == (2400, 1)
        assert page.tags["ResolutionUnit"].value == 2
        assert page.tags["InterColorProfile"].value == PROFILE


def test_a_picture_without_profile_and_resolution_states_none(tmp_path: Path) -> None:
    values = picture(5, 4, 3)
    path = tmp_path / "one.tif"
    write_tiff(path, TiffHeader(4, 5, 3, None, b""), iter([values]))
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert page.asarray().tolist() == values.tolist()
        assert not {"XResolution", "InterColorProfile"} & {tag.name for tag in page.tags}


def test_a_picture_that_breaks_off_leaves_nothing(tmp_path: Path) -> None:
    def broken() -> Iterator[np.ndarray[tuple[int, ...], np.dtype[np.uint16]]]:
        yield picture(2, 4, 3)
        raise OutputError("the picture ends")

    with pytest.raises(OutputError):
        write_tiff(tmp_path / "one.tif", TiffHeader(4, 5, 3, None, b""), broken())
    assert not list(tmp_path.iterdir())


def test_a_picture_that_a_killed_run_left_whole_is_taken_for_its_own_and_no_other(tmp_path: Path) -> None:
    values, path, header = picture(5, 4, 3), tmp_path / "one.tif", TiffHeader(4, 5, 3, None, b"")
    write_tiff(path, header, iter([values]))
    left = path.read_bytes()
    write_tiff(path, header, iter([values[:2], values[2:]]))
    for other in (left[:-1], left + b"\0", left[:-1] + bytes([left[-1] ^ 1]), b""):
        path.write_bytes(other)
        with pytest.raises(OutputError, match="there is already such a file"):
            write_tiff(path, header, iter([values]))
        assert path.read_bytes() == other
