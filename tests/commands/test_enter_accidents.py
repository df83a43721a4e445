"""Kills, closed terminals, two terminals, full disks: the readings are safe, and the person is told where."""

from __future__ import annotations

import contextlib
import math
import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from curves.files.strips.record import load_strip
from tests.commands.test_enter import LAYERS, LINES, WHOLE, enter, in_folder, names, table
from tests.commands.typist import Person, Typed, Typist
from tests.files.entry.test_entry import full

SMOOTH = [f"{0.3 + 2.4 / (1 + math.exp(0.35 * (11 - step))):.2f}" for step in range(1, 22)]
BY_CHANNEL = [(step, channel, SMOOTH[step - 1]) for channel in LAYERS for step in range(1, 22)]


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
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"\0" * 4096)
    return filler


def on_disk(path: Path) -> list[tuple[int, str, str]]:
    """Return the readings that a table holds, channel by channel."""
    header, *rows = table(path) if path.exists() else [[]]
    cells = [(int(row[0]), channel, cell) for row in rows for channel, cell in zip(header[1:], row[1:], strict=True)]
    return sorted((cell for cell in cells if cell[2]), key=lambda cell: LAYERS.index(cell[1]))


def test_killed_at_any_moment_it_loses_at_most_the_line_being_typed(tmp_path: Path) -> None:
    in_folder(tmp_path)
    kept = 0
    for lines in (0, 2, 6):
        person = Typist(tmp_path, "heron", "--by", "channel")
        # It goes on exactly where the disk says.
        for step, channel, density in BY_CHANNEL[kept : kept + lines]:
            person.answer(f"\n{step:>5} {channel} > ", density)
        step, channel, density = BY_CHANNEL[kept + lines]
        person.wait(f"\n{step:>5} {channel} > ")
        person.type(density)
        # Whatever it is about now: `tests.files.entry.kills` goes through all of it.
        os.kill(person.pid, signal.SIGKILL)
        person.close_terminal()
        found = on_disk(tmp_path / "heron.csv")
        assert found in (BY_CHANNEL[: kept + lines], BY_CHANNEL[: kept + lines + 1])
        kept = len(found)
        if kept > 3:
            assert load_strip(tmp_path / "heron.toml").position.size == min(kept, 21)
    # It can still be brought to its end.
    done = enter(tmp_path, "heron", typed=[*(density for _, _, density in BY_CHANNEL[kept:]), "", "", "", ""])
    assert "Written: heron.toml and heron.csv" in done.stdout
    assert table(tmp_path / "heron.csv") == [WHOLE[0], *([str(n), d, d, d] for n, d in enumerate(SMOOTH, start=1))]
    assert names(tmp_path) == ["heron.csv", "heron.toml"]


def test_ctrl_c_a_second_terminal_and_a_closed_one_keep_every_accepted_line(tmp_path: Path) -> None:
    in_folder(tmp_path)
    person = Typist(tmp_path, "heron")
    person.answer("\n    1 > ", LINES[0])
    shown = person.wait("\n    2 > ")
    # The line stands where the prompt stood.
    assert shown.endswith("    1   0.32   0.48   0.71 |    r g  b")
    second = enter(tmp_path, "heron", typed=["1 1 1"])
    assert (second.returncode, second.stdout) == (1, "")
    assert second.stderr == (
        "curves: heron.entry: this strip is being entered in another terminal.\n"
        "Try: go on there, or stop there with q and come back.\n"
    )
    person.press_ctrl("c")
    assert "Stopped with 1 of 21 lines read" in person.end()
    assert person.status == 0
    person = Typist(tmp_path, "heron")
    person.answer("\n    2 > ", LINES[1])
    person.wait("\n    3 > ")
    person.close_terminal()
    assert "Stopped with 2 of 21 lines read" in enter(tmp_path, "heron", typed=["q"]).stdout
    assert table(tmp_path / "heron.csv") == WHOLE[:3]


def test_a_disk_that_fills_up_loses_nothing_that_was_accepted(small_disk: Path) -> None:
    in_folder(small_disk)
    filler = small_disk / "other people's pictures"
    full: list[list[list[str]]] = []
    typed: Typed = [
        *LINES[:3],
        lambda: fill(small_disk),
        *(LINES[3], "g 1", "u"),
        lambda: full.append(table(small_disk / "heron.csv")),
        filler.unlink,
        *(LINES[3], "q"),
    ]
    done = enter(small_disk, "heron", person=Person(typed))
    told = " ".join(done.stdout.split())
    assert (
        "4 > Not taken: heron.entry: it could not be written: No space left on device; what was there before is"
        " unchanged. Try: check that the folder exists, may be written to and has room. The lines before it are safe;"
        " type it again. 4 > Not taken: heron.entry:"
    ) in told
    assert told.count("Not taken:") == 3
    assert "Stopped with 4 of 21 lines read; all are safe in heron.csv." in told
    assert full == [WHOLE[:4]]
    assert table(small_disk / "heron.csv") == WHOLE[:5]


def test_a_record_that_cannot_be_written_at_the_end_keeps_the_state_and_says_so(tmp_path: Path) -> None:
    in_folder(tmp_path)
    enter(tmp_path, "heron", typed=[*LINES, "q"])
    with full("heron.toml"):
        done = enter(tmp_path, "heron", typed=["0.16 0.25 0.32", "", "", "dust"])
    assert done.returncode == 1
    assert done.stderr == (
        "curves: heron.toml: it could not be written: No space left on device; what was there before is unchanged; all"
        " readings are safe in heron.csv, the rest in heron.entry.\n"
        "Try: make room or mend the folder, then run the same command again.\n"
    )
    assert "heron.toml: good" in enter(tmp_path, "heron", typed=[""]).stdout
    assert load_strip(tmp_path / "heron.toml").notes == "dust"
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_disk_that_turned_read_only_is_told(small_disk: Path) -> None:
    in_folder(small_disk)
    enter(small_disk, "heron", typed=[LINES[0], "q"])
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    refused = enter(small_disk, "heron", typed=[LINES[1]])
    assert refused.returncode == 1
    assert refused.stderr == (
        "curves: heron.entry: no entry can be kept there: Read-only file system; what it holds is safe; needed: a"
        " folder that may be written to.\n"
        "Try: name the strip in another folder.\n"
    )
    assert table(small_disk / "heron.csv") == WHOLE[:2]


def test_a_folder_that_cannot_be_written_to_is_told_before_anything_is_typed(tmp_path: Path) -> None:
    # A file where the folder should be: not even root can write into it.
    (tmp_path / "strips").write_text("", encoding="utf-8")
    done = enter(tmp_path, "strips/heron", typed=["Heron 80"])
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        "curves: strips/heron.entry: no entry can be kept there: Not a directory; nothing was typed yet; needed: a"
        " folder that may be written to.\nTry: name the strip in another folder.\n"
    )
