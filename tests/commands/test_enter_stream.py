"""`curves enter --stream`: lines as an instrument prints them, with and without a person at the terminal."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from curves.files.strips.record import load_strip, read_setup
from tests.commands.test_enter import LAYERS, STRIP, in_folder, run, table
from tests.commands.typist import Typist

PRINTED = [f"#{n:03} R {r} G {g} B {b}" for n, (r, g, b) in enumerate(STRIP, start=1)]
PATTERN = ("--pattern", r"R\s*(\S+)\s+G\s*(\S+)\s+B\s*(\S+)")
WHOLE = [["step", *LAYERS], *([str(n), *d] for n, d in enumerate(STRIP, start=1))]


def test_a_strip_comes_from_an_instrument_with_nobody_there(tmp_path: Path) -> None:
    in_folder(tmp_path)
    lines = ["INSTRUMENT READY", "", *PRINTED[:5], "#006 R 0.4x ERR", *PRINTED[5:], "#022 R 9.99 G 9.99 B 9.99"]
    done = run(tmp_path, "heron", "--stream", *PATTERN, typed="\n".join(lines) + "\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "  passed over: INSTRUMENT READY\n" in done.stdout
    assert (
        "  Not understood: '#006 R 0.4x ERR' (holds no reading).\n  Passed over; step 6 is still to be read.\n"
        in done.stdout
    )
    assert table(tmp_path / "heron.csv") == WHOLE
    assert load_strip(tmp_path / "heron.toml").position.size == 21


def test_numbers_are_found_without_a_pattern(tmp_path: Path) -> None:
    in_folder(tmp_path)
    done = run(tmp_path, "heron", "--stream", typed="".join("  ".join(d).replace(".", ",") + "\r\n" for d in STRIP))
    assert done.returncode == 0, done.stderr
    assert table(tmp_path / "heron.csv") == WHOLE


def test_an_instrument_without_a_point_is_taken_at_its_word_alone(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = "".join(" ".join(f"{float(v) * 100:03.0f}" for v in d) + "\n" for d in STRIP)
    done = run(tmp_path, "heron", "--stream", typed=typed)
    told = " ".join(done.stdout.split())
    assert "whole numbers; --no-point says that the instrument shows hundredths without a point" in told
    assert "Stopped with 0 of 21 lines read" in told
    assert run(tmp_path, "heron", "--stream", "--no-point", typed=typed).returncode == 0
    assert table(tmp_path / "heron.csv") == WHOLE


def test_each_line_is_on_the_disk_as_it_comes(tmp_path: Path) -> None:
    in_folder(tmp_path)
    with subprocess.Popen(
        [sys.executable, "-m", "curves", "enter", "heron", "--stream", *PATTERN],
        cwd=tmp_path,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        encoding="utf-8",
        start_new_session=True,
    ) as instrument:
        assert instrument.stdin is not None
        for count, line in enumerate(PRINTED[:3], start=1):
            instrument.stdin.write(line + "\n")
            instrument.stdin.flush()
            wait_until(partial(has_rows, tmp_path / "heron.csv", count))
        instrument.kill()
    assert table(tmp_path / "heron.csv") == WHOLE[:4]


def has_rows(path: Path, count: int) -> bool:
    """Return whether a table is there and has so many rows under its header."""
    return path.exists() and len(table(path)) > count


def wait_until(holds: Callable[[], bool]) -> None:
    """Wait until something holds, for half a minute at most."""
    end = time.monotonic() + 30
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_a_stream_that_ends_early_is_gone_on_with(tmp_path: Path) -> None:
    in_folder(tmp_path)
    done = run(tmp_path, "heron", "--stream", *PATTERN, typed="\n".join(PRINTED[:9]) + "\n")
    assert "Stopped with 9 of 21 lines read; all are safe in heron.entry." in done.stdout
    assert run(tmp_path, "heron", "--stream", *PATTERN, typed="\n".join(PRINTED[9:]) + "\n").returncode == 0
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_doubtful_reading_is_kept_and_told_where_nobody_can_say_otherwise(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = "\n".join([*PRINTED[:5], PRINTED[5].replace("R 0.40", "R 2.40"), *PRINTED[6:]]) + "\n"
    done = run(tmp_path, "heron", "--stream", *PATTERN, typed=typed)
    assert "Kept: nobody is at the terminal to say otherwise." in done.stdout
    assert table(tmp_path / "heron.csv")[6] == ["6", "2.40", *STRIP[5][1:]]


def test_an_unreadable_line_is_a_question_to_the_person_at_the_terminal(tmp_path: Path) -> None:
    in_folder(tmp_path)
    feed = tmp_path / "port"
    feed.write_text("\n".join([*PRINTED[:5], "#006 R 0.4x ERR", *PRINTED[6:]]) + "\n", encoding="utf-8")
    person = Typist(tmp_path, "heron", "--stream", *PATTERN, feed=feed)
    asked = person.answer("    6 > type it, or Enter for the next line > ", " ".join(STRIP[5]))
    assert "Not understood: '#006 R 0.4x ERR' (holds no reading)." in asked
    for _ in range(3):
        person.answer("Enter if not read\n      > ", "")
    person.answer("notes, Enter for none\n      > ", "")
    assert "heron.toml: good" in person.end()
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_stream_needs_a_record_or_a_person(tmp_path: Path) -> None:
    done = run(tmp_path, "heron", "--stream", typed="1 2 3\n")
    assert done.returncode == 1
    assert done.stderr == (
        "curves: heron.toml: the record does not say: kind; needed: an answer.\n"
        "Try: run curves enter heron once at a terminal, or write heron.toml by hand.\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_new_strip_takes_over_the_last_ones_record(tmp_path: Path) -> None:
    in_folder(tmp_path, "heron-0410")
    done = run(tmp_path, "heron-0411", "--stream", typed="".join(" ".join(d) + "\n" for d in STRIP))
    assert done.returncode == 0, done.stderr
    assert read_setup(tmp_path / "heron-0411.toml").exposure == read_setup(tmp_path / "heron-0410.toml").exposure


def test_a_pattern_without_a_stream_is_a_slip(tmp_path: Path) -> None:
    done = run(tmp_path, "heron", "--pattern", "x")
    assert done.returncode == 1
    assert done.stderr == (
        "curves: --pattern: a pattern finds numbers in an instrument's lines; needed: --stream too.\n"
    )
