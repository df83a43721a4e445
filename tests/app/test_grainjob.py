"""Films cut from scans: what of a strip's patches lies inside the picture, and what is refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile

from curves.app.pictures.grain_job import GrainJob, film_of, one_each
from curves.errors import RecordError
from curves.sensitometry.scan.encoding import LINEAR, SRGB
from tests.simulate import FOLDER


def strip(folder: Path, old: str, new: str) -> Path:
    """Return the record of the demo scan, its first patch's corners changed."""
    for path in FOLDER.glob("wren-scan*"):
        shutil.copy(path, folder)
    shutil.copy(FOLDER / "wedge-21.csv", folder)
    table = folder / "wren-scan-patches.csv"
    text = table.read_text(encoding="utf-8")
    assert old in text
    table.write_text(text.replace(old, new), encoding="utf-8")
    return folder / "wren-scan.toml"


FIRST = "90.25,183.82,92.33,234.78,109.15,234.09,107.07,183.13"


def test_a_patch_that_reaches_out_of_the_picture_is_cut_at_its_side(tmp_path: Path) -> None:
    record = strip(tmp_path, FIRST, "-90.5,183,-90.5,234,19.5,234,19.5,183")
    assert film_of(GrainJob(record, None, LINEAR)).patches[0].shape == (51, 19, 1)


def test_a_patch_outside_the_picture_is_refused(tmp_path: Path) -> None:
    record = strip(tmp_path, FIRST, "5000,183,5000,234,5019,234,5019,183")
    with pytest.raises(RecordError) as refusal:
        film_of(GrainJob(record, None, LINEAR))
    assert str(refusal.value) == "wren-scan.tif: a patch has no area; needed: a patch of many pixels."


def test_an_option_is_given_once_for_all_films_or_once_for_each() -> None:
    assert one_each([], 2, "dpi") == [None, None]
    assert one_each([4000], 2, "dpi") == [4000, 4000]
    assert one_each([4000, 2400], 2, "dpi") == [4000, 2400]
    with pytest.raises(RecordError) as refusal:
        one_each([1, 2], 3, "dpi")
    assert str(refusal.value) == "dpi: 2 values are given; needed: one, or one for each of 3 films."


def test_a_picture_that_looks_encoded_needs_its_encoding(tmp_path: Path) -> None:
    path = tmp_path / "eight.tif"
    tifffile.imwrite(path, np.random.default_rng(1).integers(60, 90, (300, 300)).astype(np.uint8))
    with pytest.raises(RecordError) as refusal:
        film_of(GrainJob(path, 4000.0, None, clear="240"))
    assert refusal.value.settings == ("encoding=srgb",)
    assert film_of(GrainJob(path, 4000.0, SRGB, clear="240")).doubt == ""
    doubt = film_of(GrainJob(path, 4000.0, LINEAR, clear="240")).doubt
    assert doubt.startswith("The scan is read as linear, but it has 8 bits")
