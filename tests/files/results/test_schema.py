"""Every JSON that a command prints is valid against the schema that the manual publishes, and holds nothing else."""

from __future__ import annotations

import copy
import json
import shutil
from pathlib import Path

import pytest

from curves import cli
from curves.sensitometry.next_exposure import expected_gain
from tests import scan_demo
from tests.commands.run import run
from tests.files.results.schema import faults, schema, unpublished
from tests.simulate import FOLDER

REVERSAL, FILTERED = "heron-reversal.toml", "heron-filtered.toml"
FEW = ("--draws", "250")
DRAWER = ("--drawer", "drawer.csv", "--json", *FEW)
PIECES = ("--patch", scan_demo.PATCH_AREA, "--clear", f"area:{scan_demo.GATE_AREA}", "--dark", "131")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK), "--area", scan_demo.AREA)
LAMP = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02")
RECORDS = ("heron-frames", "heron-negative", "heron-reversal", "heron-short", "wren-reversal", "wren-scan")
COMMANDS = {
    "strips": ("measure", *(f"{name}.toml" for name in RECORDS), "--json", *FEW),
    "strips of ei": ("ei", REVERSAL, "--at", "20", "--scene-seconds", "8", "--json", *FEW),
    "strips of report": ("report", REVERSAL, "--json", *FEW),
    "budgets": ("measure", REVERSAL, "--budget", "T", "--json", *FEW),
    "together": ("ei", REVERSAL, "heron-frames.toml", "heron-short.toml", "--together", "--json", *FEW),
    "joined": ("join", REVERSAL, "heron-short.toml", "--into", "new", "--json", *FEW),
    "comparisons": ("compare", REVERSAL, FILTERED, "--json", *FEW),
    "control": ("control", "control", "--json"),
    "series": (
        "series", "times", "--by", "first_developer_minutes", "--for", "ei=10", "--for", "dmin=0.1", "--json", *FEW,
    ),
    "stacks": ("filters", REVERSAL, *DRAWER),
    "measured filter": ("filters", "--from", REVERSAL, FILTERED, "--name", "x", *DRAWER),
    "checked prediction": (
        "filters", "--verify", REVERSAL, FILTERED, "--stack", "pale blue 40 mired + cyan CC05", *DRAWER,
    ),
    "grain": ("grain", "heron-patch.tif", "wren-patch.tif", *PIECES, "--json"),
    "balance": ("balance", REVERSAL, "--json"),
    "scan": ("scan", "wren-scan.tif", "new", *LIGHT, *LAMP, "--json"),
    "first plan": ("plan", "--box", "80", "--kind", "reversal", "--wedge", "21x0.15", "--lux", "25", "--json"),
    "next exposure": ("plan", "--after", "wren-reversal.toml", "--frames", "3", "--json"),
    "roll": ("plan", REVERSAL, "--bracket", "--drawer", "drawer.csv", "--json"),
    "check": ("check", REVERSAL, "drawer.csv", "none.toml", "--json"),
}  # fmt: skip


ELSEWHERE = {"photographed filter"}
"""Definitions that are tried where the pictures for them are made."""


@pytest.mark.parametrize("name", COMMANDS)
def test_what_a_command_prints_is_what_the_schema_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    # Two films are enough for the layout of a plan.
    monkeypatch.setattr(expected_gain, "FILMS", 2)
    folder = Path(shutil.copytree(FOLDER, tmp_path / "data"))
    done = run(folder, *COMMANDS[name])
    assert unpublished(json.loads(done.stdout), name.partition(" of ")[0]) == []


def test_every_definition_is_tried_and_every_command_that_prints_json_has_one() -> None:
    tried = {name.partition(" of ")[0] for name in COMMANDS} | ELSEWHERE
    assert tried == {way["$ref"].removeprefix("#/$defs/") for way in schema()["anyOf"]}
    with_json = {name for name in cli.COMMANDS if "--json" in run(FOLDER, name, "--help").stdout}
    assert {words[0] for words in COMMANDS.values()} == with_json


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 3),
        (("strips", 0, "kind"), "slide"),
        (("strips", 0, "channels", "visual", "dmin"), {"value": None, "bound": ["=", 1.0], "why": "x"}),
        (("strips", 0, "channels", "visual", "dmin"), {"value": None, "bound": None}),
        (("strips", 0, "channels", "visual", "dmin", "value"), True),
        (("strips", 0, "working_ei", "nominal"), "12"),
        (("strips", 0, "warnings"), {}),
    ],
)
def test_what_is_not_as_the_schema_says_is_found(path: tuple[str | int, ...], value: object) -> None:
    whole = schema()
    content = json.loads(run(FOLDER, "measure", "wren-reversal.toml", "--json").stdout)
    changed = copy.deepcopy(content)
    inner = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    assert list(faults(changed, whole["$defs"]["strips"], whole))
