"""`curves plan` before the first strip, as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.commands.run import run
from tests.commands.typist import Typist
from tests.simulate import FOLDER

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
        (("plan", "--kind", "reversal", "--wedge", "21x0.15"), "--box: the box speed is not given"),
        (("plan", "--box", "80", "--wedge", "21x0.15"), "--kind: the kind of film is not given"),
        (("plan",), "the box speed, the kind of film and the wedge are not given"),
        (("plan", "--box", "80"), "Try: give --kind reversal --wedge 21x0.15, --after STRIP or --bracket."),
        (("plan", "--method", "frames"), "the box speed and the kind of film are not given"),
        (("plan", "--box", "80", "--kind", "reversal"), "--wedge: the wedge is not given"),
        ((*REVERSAL, "--off", "12"), "--off: 12 is out of range"),
        ((*REVERSAL, "--chance", "95"), "--chance: 95 is out of range"),
        ((*REVERSAL, "--lux", "3", "--incident", "5"), "the light is given 2 times"),
        ((*REVERSAL, "--lux", "3", "--read-at", "60"), "one distance says nothing without the other"),
        (
            (*REVERSAL, "--read-at", "60", "--distance", "90"),
            "two distances say nothing without a reading of the light",
        ),
        ((*REVERSAL, "--method", "camera", "--lux", "3"), "--lux describes the light of a contact exposure"),
        ((*REVERSAL, "--card", "0.2"), "a card is read by a meter"),
        ((*REVERSAL, "--reflected", "bright"), "'bright' is not a meter's reading"),
        ((*REVERSAL, "--times", "fast"), "'fast' is not a range"),
        ((*REVERSAL, "--times", "1/500-fast"), "'1/500-fast' is not a range"),
        ((*REVERSAL, "--light-of", str(FOLDER / "heron-negative.toml")), "was not exposed in contact"),
        ((*REVERSAL, "--metered-step", "30"), "--metered-step: the wedge has 21 steps"),
        ((*REVERSAL[:-1], "5x0.15"), "the wedge spans 2.0 stops"),
    ],
)
def test_what_lacks_is_named(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = run(tmp_path, *words)
    assert done.returncode == 1
    assert said in done.stderr


@pytest.mark.parametrize(
    ("light", "lux"),
    [
        (("--lux", "25"), 25.0),
        # ISO 2720: C 2^EV / 100, and pi K 2^EV / (100 R), calculated.
        (("--incident", "3.0"), 20.0),
        (("--incident", "f/2.8 1/1.0204 100"), 20.0),
        (("--reflected", "4.0", "--meter-constant", "12.5"), 34.9),
        (("--reflected", "4.0", "--meter-constant", "12.5", "--card", "0.9"), 6.98),
        (("--lux", "100", "--read-at", "60", "--distance", "120"), 25.0),
        (("--light-of", str(FOLDER / "heron-reversal.toml")), 2000.0),
    ],
)
def test_the_light_is_known_in_several_ways(tmp_path: Path, light: tuple[str, ...], lux: float) -> None:
    found = json.loads(run(tmp_path, *REVERSAL, *light, "--json").stdout)
    assert found["ways"]["contact"]["light"]["lux"] == pytest.approx(lux, rel=2e-3)


def test_a_bracket_needs_no_wedge(tmp_path: Path) -> None:
    done = run(tmp_path, "plan", "--box", "80", "--kind", "negative", "--method", "frames", "--reflected", "12")
    assert "frames in whole stops" in done.stdout
    assert "f/" in done.stdout


def test_a_planned_strip_is_entered_by_its_densities_alone(tmp_path: Path) -> None:
    wedge = ("--wedge", "11x0.30", "--lux", "25", "--density", "visual")
    planned = run(tmp_path, "plan", "--box", "25", "--kind", "reversal", *wedge, "--write", "wren")
    assert planned.returncode == 0, planned.stderr
    assert planned.stdout.endswith("Written: wren.toml\nAfter the process: curves enter wren\n")
    person = Typist(tmp_path, "wren")
    for step, density in enumerate(
        ("0.32", "0.33", "0.37", "0.48", "0.74", "1.13", "1.62", "2.11", "2.48", "2.66", "2.71")
    ):
        before = person.answer(f"{step + 1:>5} > ", density)
        assert "[lux]" not in before
        assert "Kind" not in before
    for _ in range(3):
        person.answer("      > ", "")
    assert "Written: wren.toml and wren.csv" in person.end()
    assert run(tmp_path, "check", "wren.toml").returncode == 0


@pytest.mark.parametrize(
    ("words", "goes_with"),
    [
        (("strip.toml",), "a strip goes with --bracket"),
        (("--sheet", "A6"), "--sheet goes with --bracket"),
        (("--metered", "through"), "--metered goes with --bracket or --after"),
        (("--frames", "5"), "--frames goes with --bracket or --after"),
        (("--for", "gamma"), "--for goes with --after"),
        (("--after", "strip.toml", "--drawer", "d.csv"), "--drawer goes with --bracket"),
    ],
)
def test_an_option_of_another_way_of_planning_is_refused(
    words: tuple[str, ...], goes_with: str, tmp_path: Path
) -> None:
    result = run(tmp_path, "plan", *words)
    assert result.returncode == 2
    assert goes_with in " ".join(result.stderr.split())
