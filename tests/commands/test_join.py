"""``curves join`` as its user runs it: two strips in, one record out that loads like any other."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from curves import Choices, GivenExposure, load_strip
from curves.sensitometry.combining.joining import join
from tests.commands.run import run
from tests.files.results.schema import unpublished
from tests.simulate import FOLDER

HERON, SHORT, FRAMES, WREN = (
    str(FOLDER / f"{name}.toml") for name in ("heron-reversal", "heron-short", "heron-frames", "wren-reversal")
)


def test_two_strips_become_one_record_that_every_command_takes(tmp_path: Path) -> None:
    result = run(tmp_path, "join", HERON, SHORT, "--into", "both", "--draws", "250")
    assert result.returncode == 0
    assert result.stderr == ""
    text = " ".join(result.stdout.split())
    assert "this agrees with them" in text
    assert "Written: both.toml, both.csv Now: curves ei both.toml" in text
    answer = run(tmp_path, "ei", "both.toml")
    assert answer.returncode == 0
    assert "Set       10 on any meter" in answer.stdout
    assert run(tmp_path, "check", "both.toml").returncode == 0


def test_the_record_holds_what_the_library_makes(tmp_path: Path) -> None:
    run(tmp_path, "join", HERON, SHORT, "--into", "both", "--draws", "250", "--title", "Both")
    few = Choices(draws=250, most_draws=250)
    made = join(
        load_strip(HERON), load_strip(SHORT), names=["heron-reversal", "heron-short"], title="Both", choices=few
    )
    read = load_strip(tmp_path / "both.toml")
    assert read.exposure == made.strip.exposure
    assert read.position == pytest.approx(made.strip.position)
    for channel, values in made.strip.readings.items():
        assert np.array_equal(read.readings[channel], values, equal_nan=True)
    for name in (
        "title",
        "kind",
        "density",
        "film",
        "process",
        "repeatability",
        "patches",
        "labels",
        "notes",
        "sample",
    ):
        assert getattr(read, name) == getattr(made.strip, name)


def test_the_json_holds_what_was_moved_and_what_the_curves_show(tmp_path: Path) -> None:
    done = run(tmp_path, "join", HERON, SHORT, "--into", "both", "--draws", "250", "--json")
    found = json.loads(done.stdout)
    assert unpublished(found, "joined") == []
    assert [each["name"] for each in found["exposures"]] == ["heron-reversal", "heron-short"]
    made = join(load_strip(HERON), load_strip(SHORT), choices=Choices(draws=250))
    moved = [each["moved_stops"]["value"] for each in found["exposures"]]
    assert moved == pytest.approx([moved.value for moved in made.moved], rel=1e-5)
    assert min(moved) < 0.0 < max(moved)
    assert found["readings"] == 42
    (overlap,) = found["overlaps"]
    # Both demo strips were given what their records state.
    assert overlap["offset_stops"]["low"] < 0.0 < overlap["offset_stops"]["high"]
    assert not overlap["contradicts"]
    assert (tmp_path / found["files"]["record"]).exists()


def test_what_a_record_does_not_state_is_laid_by_its_curve(tmp_path: Path) -> None:
    short = load_strip(SHORT)
    rows = [f"{x + 1.0:.3f},{d:.2f}" for x, d in zip(short.log_h, short.readings["visual"], strict=True)]
    (tmp_path / "loose.csv").write_text("log_h,visual\n" + "\n".join(rows) + "\n", encoding="utf-8")
    (tmp_path / "loose.toml").write_text(
        'kind = "reversal"\ndensity = "status A"\nreadings = "loose.csv"\n[exposure]\nmethod = "given"\n',
        encoding="utf-8",
    )
    result = run(tmp_path, "join", HERON, "loose.toml", "--into", "both", "--draws", "250")
    text = " ".join(result.stdout.split())
    assert result.returncode == 0
    assert "laid where its curve fits" in text
    assert "are laid on each other" in text
    exposure = load_strip(tmp_path / "both.toml").exposure
    assert isinstance(exposure, GivenExposure)
    assert exposure.unit == "lux-seconds"


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "both.csv").write_text("mine", encoding="utf-8")
    result = run(tmp_path, "join", HERON, SHORT, "--into", "both", "--draws", "250")
    assert result.returncode == 1
    assert "both.csv: there is already such a file" in result.stderr
    assert (tmp_path / "both.csv").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "both.toml").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((HERON, FRAMES), "log H is relative to metered mid-grey, but in lux-seconds"),
        ((HERON, WREN), "film is Wren 25, but Heron 80"),
        ((HERON,), "one strip has nothing to be joined with"),
    ],
)
def test_what_cannot_be_joined_is_refused_in_words(words: tuple[str, ...], told: str, tmp_path: Path) -> None:
    result = run(tmp_path, "join", *words, "--into", "both", "--draws", "250")
    assert result.returncode == 1
    assert result.stdout == ""
    assert told in result.stderr
    assert not list(tmp_path.iterdir())
