"""The words of help and of usage errors: a photographer's, not a programmer's."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import curves
from curves.cli import COMMANDS
from tests.commands.run import run

MANUAL = Path(curves.__file__).parent / "manual"


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_help_names_no_type_of_a_program(command: str, tmp_path: Path) -> None:
    shown = run(tmp_path, command, "--help").stdout
    assert "Usage:" in shown
    assert not re.search(r"<(float|int|str|path|list)|FLOAT|INTEGER|<=x|x>=", shown)


def test_the_list_of_commands_shows_whole_sentences(tmp_path: Path) -> None:
    listed = run(tmp_path, "--help").stdout.partition("Commands:")[2].strip().splitlines()
    assert len(listed) == len(COMMANDS)
    assert [line for line in listed if not re.search(r"[a-z]\.$", line) or len(line) > 79] == []


def test_every_option_has_its_place_in_the_manual(tmp_path: Path) -> None:
    manual = " ".join(path.read_text(encoding="utf-8") for path in MANUAL.glob("*.md"))
    told = set(re.findall(r"--[a-z][a-z-]*", manual)) | {"--help"}
    shown = {name: run(tmp_path, name, "--help").stdout for name in COMMANDS}
    options = {name: set(re.findall(r"^  (?:--[a-z-]+ / )?(--[a-z-]+)", text, re.M)) for name, text in shown.items()}
    assert {name: missing for name, found in options.items() if (missing := found - told)} == {}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("ei", "x.toml", "--at", "twelve"), "it is not a number; write it with a point, such as 12.5"),
        (("measure", "x.csv", "--lux", "25,5"), "it is not a number; write it with a point, such as 12.5"),
        (("measure", "x.csv", "--metered-step", "1.5"), "it is not a whole number"),
        (("filters", "x.toml", "--most", "9"), "it is more than 6"),
        (("control", ".", "--first", "0"), "it is less than 1"),
        (("measure", "x.csv", "--kind", "slide"), "'slide' is not one of 'negative', 'reversal'"),
    ],
)
def test_a_value_that_cannot_be_taken_is_refused_in_plain_words(
    words: tuple[str, ...], told: str, tmp_path: Path
) -> None:
    refused = run(tmp_path, *words)
    assert refused.returncode == 2
    last = refused.stderr.strip().splitlines()[-1]
    option = next(word for word in words if word.startswith("--"))
    assert last.removesuffix(".") == f"Error: Invalid value for '{option}': {told}"


@pytest.mark.parametrize("words", [("log", "H"), ("log H",), ("LOG_H",)])
def test_a_term_of_two_words_needs_no_quotes(words: tuple[str, ...], tmp_path: Path) -> None:
    assert run(tmp_path, "explain", *words).stdout.startswith("log H\n")


@pytest.mark.parametrize("number", ["2.5", "8x", "1/60", "0,3"])
def test_a_bare_number_is_asked_what_it_is(number: str, tmp_path: Path) -> None:
    told = run(tmp_path, "explain", number).stderr
    assert f"'{number}' alone may be a factor, stops or a density" in told
    assert "Try: factor 4, 2 stops or density 0.60." in told


@pytest.mark.parametrize("command", ["ei", "measure", "balance"])
def test_a_file_that_is_not_there_is_told_before_all_that_it_would_lack(command: str, tmp_path: Path) -> None:
    (tmp_path / "heron.toml").write_text("", encoding="utf-8")
    told = run(tmp_path, command, "heron.tml").stderr
    assert "heron.tml: there is no such file." in told
    assert "Try: check the name; beside it there is heron.toml." in told


def test_a_picture_named_as_a_strip_is_told_the_command_that_reads_it(tmp_path: Path) -> None:
    (tmp_path / "strip.tif").write_bytes(b"")
    for command in ("ei", "measure", "balance"):
        told = run(tmp_path, command, "strip.tif").stderr
        assert "strip.tif is a picture; needed: a strip: a record (.toml), or a table of readings." in told
        assert "Try: make a record of the picture: curves scan." in told
