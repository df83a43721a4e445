"""Full disks and folders that cannot be written to: a clear message, and the readings safe in a file that is named."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands.test_enter import LONG, LONG_LINES, RECORD, STRIP, asks, in_folder, on_disk, run, table
from tests.commands.typist import Typist


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 128 kB: real, so that it can really be full. Needs the right to mount one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(disk)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("mounting a small disk needs root")
    try:
        yield disk
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def fill(disk: Path) -> Path:
    """Fill a disk to its last byte."""
    filler = disk / "other people's pictures"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError:
            pass
    return filler


def test_a_disk_that_fills_up_loses_nothing_that_was_accepted(small_disk: Path) -> None:
    in_folder(small_disk, record=LONG)
    journal = small_disk / "heron.entry"
    person = Typist(small_disk, "heron", "--by", "channel")
    for line in LONG_LINES[:3]:
        person.answer(asks(line), line[2])
    person.wait(asks(LONG_LINES[3]))
    filler = fill(small_disk)
    # The table cannot follow; then the journal itself finds no room.
    taken, told = 3, ""
    while "the line was not taken" not in told:
        assert taken < len(LONG_LINES)
        person.type(LONG_LINES[taken][2])
        told = " ".join(person.wait(" > ").split())
        if "the line was not taken" not in told:
            taken += 1
            assert "it could not be written: No space left on device; what was there before is unchanged." in told
            assert "The line is taken, and safe in heron.entry." in told
    assert (
        "heron.entry: the line was not taken: No space left on device; all lines before it are safe in this file."
        in told
    )
    assert "Try: make room and type the line again." in told
    assert taken > 3
    assert on_disk(journal) == LONG_LINES[:taken]
    # Room again: the same line is taken, and the table follows.
    filler.unlink()
    person.type(LONG_LINES[taken][2])
    person.answer(asks(LONG_LINES[taken + 1]), "q")
    assert f"Stopped with {taken + 1} of {len(LONG_LINES)} lines read" in person.end()
    assert on_disk(journal) == LONG_LINES[: taken + 1]
    assert len(table(small_disk / "heron.csv")) == 1 + min(41, taken + 1)


def test_a_disk_full_at_the_end_keeps_the_journal_and_says_so(small_disk: Path) -> None:
    in_folder(small_disk)
    run(small_disk, "heron", typed="".join(" ".join(d) + "\n" for d in STRIP) + "q\n")
    assert (small_disk / "heron.entry").exists()
    filler = fill(small_disk)
    done = run(small_disk, "heron", typed="\n\n\n\n")
    assert done.returncode == 1
    assert done.stderr == (
        "curves: heron.csv: it could not be written: No space left on device; what was there before is unchanged;"
        " all readings are safe in heron.entry.\n"
        "Try: make room or mend the folder, then run the same command again.\n"
    )
    filler.unlink()
    assert "heron.toml: good" in run(small_disk, "heron", typed="\n").stdout
    assert table(small_disk / "heron.csv")[21] == ["21", *STRIP[20]]


def test_a_disk_that_turns_read_only_is_told(small_disk: Path) -> None:
    in_folder(small_disk)
    person = Typist(small_disk, "heron")
    person.answer("\n    1 > ", " ".join(STRIP[0]))
    person.wait("\n    2 > ")
    # The terminal's own file must be closed for writing before a disk can turn read-only.
    done = subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], capture_output=True, check=False)
    assert done.returncode != 0
    person.answer("", "q")
    person.end()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    refused = run(small_disk, "heron", typed=" ".join(STRIP[1]) + "\n")
    assert refused.returncode == 1
    assert refused.stderr == (
        "curves: heron.entry: no entry can be kept there: Read-only file system; what it holds is safe; needed: a"
        " folder that may be written to.\n"
        "Try: name the strip in another folder.\n"
    )
    assert len(on_disk(small_disk / "heron.entry")) == 3


def test_a_folder_that_cannot_be_written_to_is_told_before_anything_is_typed(tmp_path: Path) -> None:
    # A file where the folder should be: not even root can write into it.
    (tmp_path / "strips").write_text("", encoding="utf-8")
    done = run(tmp_path, "strips/heron", typed="Heron 80\n")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        "curves: strips/heron.entry: no entry can be kept there: Not a directory; nothing was typed yet; needed: a"
        " folder that may be written to.\nTry: name the strip in another folder.\n"
    )


def test_a_folder_that_is_gone_half_way_is_told_and_the_line_is_safe(tmp_path: Path) -> None:
    folder = tmp_path / "strips"
    folder.mkdir()
    in_folder(folder, record=RECORD.replace("[wedge]", 'readings = "tables/heron.csv"\n\n[wedge]'))
    (folder / "tables").mkdir()
    person = Typist(folder, "heron")
    person.answer("\n    1 > ", " ".join(STRIP[0]))
    person.wait("\n    2 > ")
    (folder / "tables" / "heron.csv").unlink()
    (folder / "tables").rmdir()
    (folder / "tables").write_text("", encoding="utf-8")
    person.type(" ".join(STRIP[1]))
    told = " ".join(person.answer("\n    3 > ", "q").split())
    assert "tables/heron.csv: it could not be written: Not a directory; what was there before is unchanged." in told
    assert "The line is taken, and safe in heron.entry." in told
    assert len(on_disk(folder / "heron.entry")) == 6
