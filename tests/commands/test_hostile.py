"""What a command line, a name or a stream can bring upon a command: words and exit status 1 or 2, no traceback."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands.run import run
from tests.simulate import FOLDER

STRIP = "heron-negative.toml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with the demonstration data."""
    return Path(shutil.copytree(FOLDER, tmp_path / "data"))


@pytest.mark.parametrize(
    "words",
    [
        ("report", STRIP, "--seed", "-1"),
        ("ei", STRIP, "--white", "inf"),
        ("report", "n" * 300),
        ("check", "n" * 300),
        ("report", "x.**b"),
        ("report", "x.[b"),
        ("check", "x.**b"),
        ("report", "/dev/zero"),
        ("check", "/dev/zero"),
        ("import", "/dev/zero"),
    ],
    ids=lambda words: " ".join(words)[:40],
)
def test_hostile_words_are_refused_in_words(words: tuple[str, ...], folder: Path) -> None:
    # `run` raises whatever the user would see as a traceback.
    done = run(folder, *words)
    assert done.returncode in (1, 2)
    assert done.stdout + done.stderr


def test_control_characters_of_a_title_reach_no_terminal(folder: Path) -> None:
    record = folder / STRIP
    text = record.read_text(encoding="utf-8")
    assert 'title = "' in text
    record.write_text(text.replace('title = "', 'title = "\\u001b[2J\\u0007\\u009b', 1), encoding="utf-8")
    done = run(folder, "measure", STRIP)
    assert done.returncode == 0
    assert not {"\x1b", "\x07", "\x9b"} & set(done.stdout + done.stderr)


@pytest.mark.parametrize("words", [("measure", "strips", "--draws", "0"), ("check", "strips")])
def test_control_characters_of_a_files_name_reach_no_terminal(folder: Path, words: tuple[str, ...]) -> None:
    signs = "\x1b[2J\x9b\u202e"
    (folder / "strips").mkdir()
    for name in ("heron-negative.csv", "wedge-21.csv", STRIP):
        shutil.copy(folder / name, folder / "strips")
    shutil.copy(folder / STRIP, folder / "strips" / f"x{signs}y.toml")
    done = run(folder, *words)
    assert "left out, a file whose name holds a control character" in done.stderr or words[0] == "check"
    typed = run(folder, words[0], f"strips/x{signs}y.toml")
    assert typed.returncode == 1
    assert ": the word holds a control character; needed: names and texts of characters that can be seen" in (
        typed.stderr
    )
    assert not set("\x1b\x9b\u202e") & set(done.stdout + done.stderr + typed.stdout + typed.stderr)


@pytest.mark.parametrize("words", [("measure", STRIP), ("manual",), ("--help",)])
def test_full_disk_under_standard_output_is_words(words: tuple[str, ...], folder: Path) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "curves", *words],
            cwd=folder, stdout=full, stderr=subprocess.PIPE, encoding="utf-8", check=False, env=dict(os.environ),
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.startswith("curves: standard output: it cannot be read or written: No space left")
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
