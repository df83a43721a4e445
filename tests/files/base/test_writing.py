import os
from pathlib import Path

import pytest

from curves.errors import OutputError, RecordError
from curves.files.base import writing
from curves.files.base.locking import take
from curves.files.base.writing import all_or_none, write_atomically, write_new


def test_the_text_arrives_as_it_is(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.txt", "γ\r\nline\n")
    assert (tmp_path / "a.txt").read_bytes() == "γ\r\nline\n".encode()


def test_nothing_but_the_file_is_left(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.txt", "one")
    write_atomically(tmp_path / "a.txt", "two")
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_missing_folder_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="could not be written: No such file or directory"):
        write_atomically(tmp_path / "nowhere" / "a.txt", "one")


def test_a_full_disk_leaves_the_old_file_and_no_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_atomically(tmp_path / "a.txt", "old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left on device; what was there before is unchanged"):
        write_atomically(tmp_path / "a.txt", "new")
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_several_files_are_written_all_or_none(tmp_path: Path) -> None:
    one, other = tmp_path / "one.csv", tmp_path / "other.csv"

    def write_both() -> None:
        with all_or_none(one, other):
            write_atomically(one, "1")
            write_atomically(tmp_path / "missing" / "x.csv", "2")

    with pytest.raises(OutputError):
        write_both()
    assert not list(tmp_path.iterdir())


def test_what_a_killed_run_left_is_removed_and_what_another_run_writes_is_not(tmp_path: Path) -> None:
    left, busy, other, foreign = (
        tmp_path / name
        for name in (".a.txt.abcdefg1.part", ".a.txt.abcdefg2.part", ".b.txt.abcdefg1.part", ".a.txt.part")
    )
    for path in (left, busy, other, foreign):
        path.touch()
    with busy.open("rb") as file:
        assert take(file.fileno())
        write_atomically(tmp_path / "a.txt", "one")
    assert sorted(p.name for p in tmp_path.iterdir()) == [busy.name, foreign.name, other.name, "a.txt"]
    write_atomically(tmp_path / "a.txt", "two")
    assert not busy.exists()


def test_a_file_beside_that_another_run_takes_for_a_left_over_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken_late(file: int) -> bool:
        # The other run removes the file between its making and its locking, once.
        monkeypatch.setattr(writing, "take", take)
        for path in tmp_path.glob(".a.txt.*.part"):
            path.unlink()
        return take(file)

    monkeypatch.setattr(writing, "take", taken_late)
    write_atomically(tmp_path / "a.txt", "one")
    assert [(p.name, p.read_text(encoding="utf-8")) for p in tmp_path.iterdir()] == [("a.txt", "one")]


def test_a_new_file_takes_no_other_ones_place(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    for _ in range(2):
        write_new(path, "one", Path.touch)
    with pytest.raises(OutputError, match="there is already such a file"):
        write_new(path, "two", Path.touch)
    assert path.read_text(encoding="utf-8") == "one"


def test_a_text_that_is_not_read_back_as_meant_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old", encoding="utf-8")

    def check(new: Path) -> None:
        assert new.read_text(encoding="utf-8") == "new"
        raise RecordError("a row is lost")

    with pytest.raises(
        OutputError, match=r"read back as it was meant .a row is lost.; what was there before is unchang"
    ):
        write_atomically(path, "new", check)
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]
