"""Files that no reader may follow: devices, pipes, sockets, texts too large, TOML nested too deeply."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path

import pytest

from curves.errors import CurvesError, RecordError
from curves.files.base.fields import MOST_OF_RECORD
from curves.files.base.grids import read_text
from curves.files.base.record_edits import last_record, record_content
from curves.files.filters.drawer import read_drawer
from curves.files.strips.calibration import read_calibration
from curves.files.strips.record import read_setup

ENDLESS = pytest.mark.parametrize("kind", ["device", "link", "pipe", "socket"])


def endless(folder: Path, kind: str) -> Path:
    """Return a path at which something lies that is not an ordinary file."""
    path = folder / "heron.toml"
    match kind:
        case "device":
            return Path("/dev/zero")
        case "link":
            path.symlink_to("/dev/zero")
        case "pipe":
            os.mkfifo(path)
        case _:
            with socket.socket(socket.AF_UNIX) as end:
                end.bind(str(path))
    return path


@ENDLESS
@pytest.mark.parametrize("read", [read_text, read_setup, read_drawer, read_calibration, record_content])
def test_reader_refuses_what_never_ends(kind: str, read: object, tmp_path: Path) -> None:
    assert callable(read)
    with pytest.raises(RecordError, match="a device, a pipe or a socket"):
        read(endless(tmp_path, kind))


def test_record_over_a_megabyte_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    path.write_text("#" * (MOST_OF_RECORD + 1), encoding="utf-8")
    with pytest.raises(RecordError, match=r"1\.0 MB; needed: 1 MB at most"):
        read_setup(path)


@pytest.mark.parametrize(
    "text",
    [
        "notes = " + "[" * 2000 + "]" * 2000,
        "notes = " + "{a=" * 2000 + "1" + "}" * 2000,
        "a." * 100_000 + "a = 1",
        '"a" . ' * 30_000 + "a = 1",
        "[" + "a." * 100_000 + "a]",
    ],
    ids=["arrays", "tables", "dotted key", "quoted dotted key", "dotted section"],
)
def test_deep_nesting_is_words_and_hides_no_other_record(text: str, tmp_path: Path) -> None:
    (tmp_path / "deep.toml").write_text(text, encoding="utf-8")
    good = tmp_path / "good.toml"
    good.write_text('kind = "negative"\n[exposure]\nmethod = "log-h"\n', encoding="utf-8")
    began = time.process_time()
    with pytest.raises(CurvesError, match="nested too deeply"):
        read_setup(tmp_path / "deep.toml")
    assert last_record(tmp_path, but=tmp_path / "new.toml") == good
    assert time.process_time() - began < 2


def test_long_notes_are_not_a_deep_key(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    path.write_text('notes = "' + "First dip, 3.5 min. " * 500 + "." * 500 + '"\n', encoding="utf-8")
    assert len(record_content(path)["notes"]) == 10_500


@pytest.mark.parametrize("name", ["x.**b", "x.[", "x.?", "n" * 300, "x\0"])
def test_missing_file_with_any_name_is_words(name: str, tmp_path: Path) -> None:
    with pytest.raises(RecordError):
        read_text(tmp_path / name)
