"""Which of the files that a person names are strips, and what the others are."""

import shutil
from pathlib import Path

import pytest

from curves.app.strip_files import kind_of_file, strips_among
from curves.errors import RecordError
from tests.simulate import FOLDER


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """Return a folder of demo files, one strip in a folder below and one in a hidden folder."""
    for name in ("heron-reversal", "heron-short"):
        for ending in (".toml", ".csv"):
            for folder in ("", "2026", ".old"):
                (tmp_path / folder).mkdir(exist_ok=True)
                shutil.copy(FOLDER / f"{name}{ending}", tmp_path / folder)
    for name in ("wedge-21.csv", "drawer.csv", "wren-scan-calibration.toml", "wren-scan-patches.csv"):
        shutil.copy(FOLDER / name, tmp_path)
    (tmp_path / "late.entry").write_text("", encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("heron-reversal.toml", "record"),
        ("heron-reversal.csv", "readings"),
        ("wedge-21.csv", "wedge"),
        ("drawer.csv", "drawer"),
        ("wren-scan-patches.csv", "patches"),
        ("wren-scan-calibration.toml", "calibration"),
        ("wren-scan.tif", "picture"),
        ("heron-exchange.txt", "readings"),
        ("not-there.csv", "readings"),
    ],
)
def test_a_file_is_known_by_its_content(name: str, kind: str) -> None:
    assert kind_of_file(FOLDER / name) == kind


def test_a_folder_stands_for_the_records_in_it_and_below(shelf: Path) -> None:
    found = strips_among([shelf])
    assert [strip.path.relative_to(shelf).as_posix() for strip in found.strips] == [
        "2026/heron-reversal.toml", "2026/heron-short.toml", "heron-reversal.toml", "heron-short.toml",
    ]  # fmt: skip
    assert [strip.name.as_posix() for strip in found.strips] == [
        "2026/heron-reversal", "2026/heron-short", "heron-reversal", "heron-short",
    ]  # fmt: skip
    assert found.others == ((shelf / "wren-scan-calibration.toml", "the calibration of a scan"),)


def test_readings_of_a_record_are_not_a_strip_of_their_own(shelf: Path) -> None:
    found = strips_among([shelf / "heron-reversal.csv", shelf / "heron-reversal.toml", shelf / "heron-short.csv"])
    assert [strip.path for strip in found.strips] == [shelf / "heron-reversal.toml", shelf / "heron-short.csv"]
    assert found.others == ((shelf / "heron-reversal.csv", "the readings of heron-reversal.toml"),)


def test_a_file_named_twice_counts_once(shelf: Path) -> None:
    record = shelf / "heron-short.toml"
    assert strips_among([record, shelf / "2026", record]).strips[0].path == record
    assert len(strips_among([record, shelf / "2026", record]).strips) == 3


def test_files_without_a_strip_are_refused_by_what_they_are(shelf: Path) -> None:
    with pytest.raises(RecordError) as caught:
        strips_among([shelf / "drawer.csv", shelf / "wedge-21.csv"])
    assert "drawer.csv is a table of filters; wedge-21.csv is a calibrated wedge; needed: a strip" in str(caught.value)


def test_a_folder_without_a_record_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=r"the folder holds no record \(.toml\)"):
        strips_among([tmp_path])
