"""``curves ei --together`` as its user runs it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.commands.run import run
from tests.files.results.schema import unpublished
from tests.simulate import FOLDER

HERON, FRAMES, SHORT, WREN = (
    str(FOLDER / f"{name}.toml") for name in ("heron-reversal", "heron-frames", "heron-short", "wren-reversal")
)


def test_strips_that_agree_say_so_before_their_index(tmp_path: Path) -> None:
    result = run(tmp_path, "ei", HERON, FRAMES, SHORT, "--together")
    assert result.returncode == 0
    assert result.stderr == ""
    assert result.stdout.startswith("The 2 strips agree")
    text = " ".join(result.stdout.split())
    assert "Set 10. Before rounding" in text
    assert "% of the common index" in text
    assert "left out; EI below" in text
    assert "counted once: " in text


def test_the_json_holds_every_strip_and_their_common_index(tmp_path: Path) -> None:
    result = run(tmp_path, "ei", HERON, FRAMES, "--together", "--json")
    found = json.loads(result.stdout)
    assert len(found["strips"]) == 2
    common = found["together"]
    assert unpublished(found, "together") == []
    assert common["nominal"] == 10.0
    assert not common["agreement"]["contradict"]
    assert sum(share["weight"] for share in common["shares"]) == pytest.approx(1.0)
    assert common["recommended"]["low"] < common["recommended"]["value"] < common["recommended"]["high"]


def copy_of(name: str, folder: Path, old: str, new: str) -> str:
    """Return a copy of a demo record, beside its readings, with some of its text changed."""
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    assert old in text
    (folder / f"{name}.toml").write_text(text.replace(old, new), encoding="utf-8")
    (folder / f"{name}.csv").write_bytes((FOLDER / f"{name}.csv").read_bytes())
    return str(folder / f"{name}.toml")


def test_a_strip_planned_after_another_says_whether_their_common_index_is_the_expected(tmp_path: Path) -> None:
    plan = """
[plan]
after = "Heron 80, reversal, grey card bracketed in whole stops"
number = "ei"
films = 19
both_value = [6.0, 10.0, 16.0]
both_half_width = [0.2, 0.4, 0.8]
"""
    planned = copy_of("heron-reversal", tmp_path, "[reader]", f"{plan}\n[reader]")
    (tmp_path / "wedge-21.csv").write_bytes((FOLDER / "wedge-21.csv").read_bytes())
    text = " ".join(run(tmp_path, "ei", planned, FRAMES, "--together").stdout.split())
    assert "grey card bracketed in whole stops held. It expected of both strips together EI 6 to 16" in text
    content = json.loads(run(tmp_path, "ei", planned, FRAMES, "--together", "--json").stdout)
    assert unpublished(content, "together") == []
    found = content["together"]["plans"]
    assert [(each["value_held"], each["width_held"], each["chance"]) for each in found] == [(True, True, 0.9)]
    # Of three strips no plan said anything.
    assert "The plan after" not in run(tmp_path, "ei", planned, FRAMES, HERON, "--together").stdout


def test_strips_that_contradict_each_other_say_so_first(tmp_path: Path) -> None:
    wrong = copy_of("heron-reversal", tmp_path, "lux = 2000.0", "lux = 250.0")
    result = run(tmp_path, "ei", wrong, FRAMES, "--together")
    text = " ".join(result.stdout.split())
    assert text.startswith("THE STRIPS CONTRADICT EACH OTHER")
    assert "of two strips nothing tells which is off" in text
    assert "Usual reasons (common practice)" in text
    # The record states an eighth of the light: three stops.
    assert re.search(r"Where their curves overlap, Heron 80, reversal, first developer 7:00 got [23]\.\d stops", text)


def test_of_two_strips_the_one_that_failed_is_named_and_not_the_one_that_is_left(tmp_path: Path) -> None:
    wrong = copy_of("heron-reversal", tmp_path, "lux = 2000.0", "lux = -3.0")
    result = run(tmp_path, "ei", wrong, FRAMES, "--together")
    assert result.returncode == 1
    assert "1 of 2 strips failed" in result.stderr
    assert "lux" in result.stderr
    assert "nothing to be combined" not in result.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((HERON, FRAMES), "2 strips are named, and an index is that of one"),
        ((str(FOLDER / "control"),), "this is a folder"),
        ((HERON, WREN, "--together"), "film is Wren 25, but Heron 80"),
        ((HERON, "--together"), "one strip has nothing to be combined with"),
        ((HERON, FRAMES, "--together", "--at", "20"), "--at: it goes with one strip"),
        ((HERON, FRAMES, "--together", "--scene-seconds", "8"), "--scene-seconds: it goes with one strip"),
        ((HERON, FRAMES, "--together", "--full"), "--full: it goes with one strip"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(words: tuple[str, ...], told: str, tmp_path: Path) -> None:
    result = run(tmp_path, "ei", *words)
    assert result.returncode == 1
    assert result.stdout == ""
    assert told in result.stderr
