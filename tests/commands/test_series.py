"""``curves series``: what it prints and writes, and what it refuses in which words."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.commands.run import run
from tests.simulate import FOLDER

TIMES = str(FOLDER / "times")
BY = ("--by", "first_developer_minutes")
QUICK = ("--draws", "250")


def test_a_value_that_no_setting_gives_is_a_bound_and_says_what_the_strips_show(tmp_path: Path) -> None:
    result = run(tmp_path, "series", TIMES, *BY, *QUICK, "--for", "ei=500")
    assert result.returncode == 0, result.stderr
    first, second = result.stdout.splitlines()[:2]
    assert first == "Working EI 500: first developer longer than 10 min."
    assert second.startswith("  No setting of the series gives it; the strips show ")
    found = json.loads((tmp_path / "outputs" / "by-first_developer_minutes.json").read_text(encoding="utf-8"))
    setting = found["wanted"][0]["setting"]
    assert setting == {"value": None, "low": 10.0, "high": None, "why": "no setting of the series gives it"}


def test_json_is_printed_alone_and_is_what_the_file_holds(tmp_path: Path) -> None:
    result = run(tmp_path, "series", TIMES, *BY, *QUICK, "--for", "dmin.red=0.3", "--json")
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout == (tmp_path / "outputs" / "by-first_developer_minutes.json").read_text(encoding="utf-8")
    (wanted,) = json.loads(result.stdout)["wanted"]
    assert (wanted["number"], wanted["channel"], wanted["value"]) == ("dmin", "red", 0.3)
    assert 5.0 < wanted["setting"]["low"] < wanted["setting"]["value"] < wanted["setting"]["high"] < 10.0


def test_a_channel_is_followed_by_its_own_numbers(tmp_path: Path) -> None:
    result = run(tmp_path, "series", TIMES, *BY, *QUICK, "--channel", "blue")
    assert result.stdout.splitlines()[2].startswith("blue channel ")
    assert result.stdout.rstrip().endswith("The curves and trends: outputs/by-first_developer_minutes.html")


def test_the_page_loads_nothing_and_shows_every_wanted_value(tmp_path: Path) -> None:
    run(tmp_path, "series", TIMES, *BY, *QUICK, "--for", "ei=10", "--for", "gamma=1.25")
    page = (tmp_path / "outputs" / "by-first_developer_minutes.html").read_text(encoding="utf-8")
    assert "Content-Security-Policy" in page
    assert "wanted 10<" in page
    assert "wanted 1.25<" in page
    assert page.count("Heron 80, first developer 5:00") >= 1


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        ((*BY, *QUICK, "--for", "gama=2"), 1, "--for: 'gama' is not a number of these strips.\nTry: write 'gamma'."),
        ((*BY, "--for", "ei"), 2, "'ei' is not a number and its value; write ei=50 or gamma=1.8"),
        ((*BY, "--for", "ei=abc"), 2, "'ei=abc' is not a number and its value; write ei=50 or gamma=1.8"),
        (("--by", "minutes", *QUICK), 1, "--by: no strip states 'minutes'; needed: a number under [conditions]"),
        ((*BY, "--draws", "0"), 1, "too few for the band of a trend; needed: at least 100."),
        ((*BY, "--table", "all.txt"), 1, "--table: all.txt is not the name of a table; needed: a name in .csv"),
    ],
)
def test_what_cannot_be_followed_is_refused_and_nothing_is_written(
    tmp_path: Path, words: tuple[str, ...], status: int, said: str
) -> None:
    result = run(tmp_path, "series", TIMES, *words)
    assert (result.returncode, result.stdout) == (status, "")
    assert said in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_strips_that_all_fail_are_named_each_with_its_error(tmp_path: Path) -> None:
    result = run(tmp_path, "series", "one.toml", "two.toml", *BY)
    assert (result.returncode, result.stdout) == (1, "")
    assert "2 of 2 strips failed:\ncurves: one.toml" in result.stderr
    assert "curves: two.toml" in result.stderr
    assert "no strip states" not in result.stderr


def test_a_strip_that_fails_is_named_and_the_others_are_followed(tmp_path: Path) -> None:
    shutil.copytree(TIMES, tmp_path / "times")
    (tmp_path / "times" / "first-600.csv").unlink()
    result = run(tmp_path, "series", "times", *BY, *QUICK)
    assert result.returncode == 1
    assert "1 of 5 strips failed:\ncurves: times/first-600.toml" in result.stderr
    assert "first developer from 5 to 10 min, 4 strips." in result.stdout


def test_a_series_whose_condition_is_not_given_names_the_conditions_that_differ(tmp_path: Path) -> None:
    refused = run(tmp_path, "series", str(FOLDER / "times"))
    assert refused.returncode == 1
    assert refused.stderr == (
        "curves: --by: what was varied is not given; needed: a key that the records have under [conditions].\n"
        "Try: give --by first_developer_minutes.\n"
    )
