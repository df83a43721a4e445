"""Consoles that lack signs, homes that are not there and clocks that go backwards: every command ends in words."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path
from unittest import mock

import pytest

from tests.commands.run import run
from tests.fuzz.test_command_lines import COMMANDS
from tests.simulate import FOLDER

STRIP = str(FOLDER / "heron-reversal.toml")
CHAPTERS = sorted(path.name.removesuffix(".md") for path in files("curves").joinpath("manual").iterdir())
TEXTS = (
    *(("manual", chapter) for chapter in CHAPTERS if chapter.isidentifier()),
    *((command, "--help") for command in COMMANDS),
    ("ei", STRIP),
    ("measure", STRIP, "--full"),
    ("explain", "gamma"),
)


@pytest.mark.parametrize("encoding", ["cp1252", "cp850", "ascii"])
def test_a_console_that_lacks_a_sign_shows_a_readable_one(tmp_path: Path, encoding: str) -> None:
    for words in TEXTS:
        usual, here = run(tmp_path, *words), run(tmp_path, *words, encoding=encoding)
        assert here.returncode == usual.returncode == 0, words
        assert here.stdout.count("?") == usual.stdout.count("?"), words


def test_a_plus_or_minus_and_an_arrow_are_spelled_in_ascii(tmp_path: Path) -> None:
    assert "+-" in run(tmp_path, "manual", "joining", encoding="ascii").stdout
    assert "?" in run(tmp_path, "explain", "\u0436", encoding="ascii").stderr


def test_no_home_folder_is_needed(tmp_path: Path) -> None:
    nowhere = dict.fromkeys(("HOME", "TMPDIR", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"), "/proc/nowhere")
    with mock.patch.dict(os.environ, nowhere):
        done = run(tmp_path, "report", STRIP)
    assert done.returncode == 0, done.stderr
    bare = {key: value for key, value in os.environ.items() if key not in nowhere}
    with mock.patch.dict(os.environ, bare, clear=True):
        assert run(tmp_path, "report", STRIP).stdout == done.stdout


def test_a_clock_that_goes_backwards_changes_nothing(tmp_path: Path) -> None:
    first = run(tmp_path, "report", STRIP)
    written = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    for path in written:
        # In the year 2100, and before the first run.
        os.utime(path, (4102444800, 4102444800) if path.suffix == ".html" else (0, 0))
    again = run(tmp_path, "report", STRIP)
    assert (again.returncode, again.stdout) == (first.returncode, first.stdout)
    assert {path: path.read_bytes() for path in written} == written
