"""`curves plan` before the first strip, as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.commands.run import run

REVERSAL = ("plan", "--box", "80", "--kind", "reversal", "--wedge", "21x0.15")


def test_a_plan_says_time_and_chance(tmp_path: Path) -> None:
    done = run(tmp_path, *REVERSAL, "--lux", "25", "--off", "1")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("One strip holds both ends of the curve with a chance of")
    assert "1/8 s" in done.stdout


def test_a_plan_is_json(tmp_path: Path) -> None:
    done = run(tmp_path, *REVERSAL, "--lux", "25", "--json")
    found = json.loads(done.stdout)
    assert found["way"] == "contact"
    assert set(found["ways"]) == {"contact", "camera", "frames"}
    assert found["ways"]["contact"]["strips"][0]["time"] == {"engraved": "1/8", "exact": 0.125}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "--kind", "reversal", "--wedge", "21x0.15"), "--box: the box is not given"),
        (("plan", "--box", "80", "--wedge", "21x0.15"), "--kind: the kind is not given"),
        (("plan", "--box", "80", "--kind", "reversal"), "--wedge: the wedge is not given"),
    ],
)
def test_what_lacks_is_named(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = run(tmp_path, *words)
    assert done.returncode == 1
    assert said in done.stderr
