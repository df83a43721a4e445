"""The guard in front of every reader of text: ordinary files of a bounded size, and records that parse in bounds."""

import os
from pathlib import Path

import pytest

from curves import load_strip
from curves.errors import RecordError
from curves.files.base.grids import MOST_OF_RECORD, read_text
from curves.files.base.record_edits import last_record, record_content
from tests.commands.run import run
from tests.simulate import FOLDER


@pytest.mark.parametrize("made", ["device", "link to it", "pipe"])
def test_what_is_not_an_ordinary_file_is_refused_before_it_is_read(tmp_path: Path, made: str) -> None:
    path = tmp_path / "endless.csv"
    if made == "device":
        path = Path("/dev/zero")
    elif made == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(RecordError, match="this is not an ordinary file; needed: a file on a disk"):
        read_text(path)


def test_a_file_of_more_than_its_bound_is_refused_and_one_of_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "long.toml"
    path.write_text("# " + "x" * (MOST_OF_RECORD - 3) + "\n", encoding="utf-8")
    assert record_content(path) == {}
    path.write_text("# " + "x" * (MOST_OF_RECORD - 2) + "\n", encoding="utf-8")
    with pytest.raises(RecordError, match="the file has 1 MB; needed: at most 1 MB"):
        record_content(path)


def test_a_record_nested_without_end_is_refused_in_words_and_hides_no_other(tmp_path: Path) -> None:
    deep = tmp_path / "deep.toml"
    deep.write_text("a = " + "[" * 5000 + "]" * 5000, encoding="utf-8")
    for read in (record_content, load_strip):
        with pytest.raises(RecordError, match="this is not TOML"):
            read(deep)
    whole = tmp_path / "heron.toml"
    whole.write_bytes((FOLDER / "heron-reversal.toml").read_bytes())
    assert last_record(tmp_path, but=tmp_path / "new.toml") == whole
    (tmp_path / "heron-reversal.csv").write_bytes((FOLDER / "heron-reversal.csv").read_bytes())
    checked = run(tmp_path, "check", ".")
    assert "heron.toml: good" in checked.stdout
    assert "deep.toml" in checked.stdout
    assert checked.returncode == 1
