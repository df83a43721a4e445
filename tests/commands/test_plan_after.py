"""`curves plan --after` as a person calls it."""

import json
import math
import re
import tomllib
from pathlib import Path

import pytest

from curves.sensitometry.next_exposure import expected_gain
from tests.commands.run import run
from tests.simulate import FOLDER

WREN, SHORT = (str(FOLDER / f"{name}.toml") for name in ("wren-reversal", "heron-short"))
FILMS = 3
"""Possible films that a plan is tried on here, for each takes a fifth of a second."""


@pytest.fixture(autouse=True)
def few_films(monkeypatch: pytest.MonkeyPatch) -> None:
    """Try plans on few films."""
    monkeypatch.setattr(expected_gain, "FILMS", FILMS)


def test_what_tells_most_stands_first_and_what_nothing_here_shrinks_is_named(tmp_path: Path) -> None:
    done = run(tmp_path, "plan", "--after", WREN, "--frames", "5")
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert "What tells most: the wedge, lit from behind, in the camera: meter at EI" in text
    assert "--together" in text
    assert re.search(r"gain \d+ % at most: the meter in use is 6\d % of it", text)
    # Cautions: heat, the sun, chemistry.
    for words in ("hot", "Never look at the sun", "Processing chemistry"):
        assert words in text
    rows = [line for line in done.stdout.splitlines() if "±" in line and line.startswith("  ")]
    widths = [float(re.findall(r"±(\d\.\d\d)", row)[0]) for row in rows[1:]]
    assert widths == sorted(widths)
    assert all(len(line) <= 79 for line in done.stdout.splitlines())


def test_a_strip_that_ended_early_is_told_which_exposure_finishes_it(tmp_path: Path) -> None:
    done = run(tmp_path, "plan", "--after", SHORT)
    text = " ".join(done.stdout.split())
    assert re.search(r"the strip again, [34] stops more", text)
    assert re.search(rf"on \d+ of {FILMS} films that this strip leaves possible", text)
    assert "curves join" in text


def test_a_plan_after_a_strip_is_json(tmp_path: Path) -> None:
    done = run(tmp_path, "plan", "--after", WREN, "--frames", "3", "--json", "--write", "second")
    found = json.loads(done.stdout)
    assert found["number"] == "ei"
    assert found["unit"] == "stops"
    again = next(p for p in found["proposals"] if p["key"] == "again +1")
    assert again["film_cm"] == 10.5
    assert again["chance"] == 1.0
    least, middle, greatest = again["after"]["half_width"]
    assert least <= middle == again["half_width"] <= greatest
    assert found["budget"][0]["share"] > 0.1
    # The record holds what is expected of the strip that tells most, and asks for its densities alone.
    best = found["proposals"][0]
    record = tomllib.loads((tmp_path / "second.toml").read_text(encoding="utf-8"))
    assert record["exposure"]["method"] == "camera"
    assert record["exposure"]["ei"] == best["indexes"][0]
    assert record["plan"]["after"] == "Wren 25, reversal"
    assert record["plan"]["both_half_width"] == pytest.approx(best["after"]["half_width"], abs=5e-4)
    assert [math.log2(x) for x in record["plan"]["own_value"]] == pytest.approx(best["alone"]["value"], abs=1e-3)
    assert (tmp_path / record["wedge"]["table"]).exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--after", WREN, "--for", "gama"), "--for: the strip has no number 'gama'"),
        (("--after", WREN, "--box", "80"), "--box: a strip shows its own film, wedge and light"),
        (("--after", WREN, "--method", "camera"), "--method: it chooses which of the strips proposed is written"),
        (("--after", "readings.csv"), "readings.csv: a table alone does not say how its strip was exposed"),
    ],
)
def test_a_plan_that_cannot_be_made_says_why(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = run(tmp_path, "plan", *words)
    assert done.returncode == 1
    assert said in done.stderr


def test_an_index_for_a_filter_asks_for_the_strip_with_and_without_it(tmp_path: Path) -> None:
    done = run(
        tmp_path, "plan", "--after", WREN, "--stack", "orange", "--metered", "through", "--frames", "3", "--json"
    )
    found = json.loads(done.stdout)
    assert found["proposals"][0]["key"] == "filter"
    assert found["proposals"][0]["gain"] > 0.2
