"""A roll of frames: planned, printed, filled in, and read back, as a person does it."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from tests.commands.run import run
from tests.simulate import FOLDER

STRIP, DRAWER = str(FOLDER / "heron-reversal.toml"), str(FOLDER / "drawer.csv")
GUESS = ("plan", "--bracket", "--box", "12", "--off", "2", "--kind", "reversal")


def filled(table: Path, judge: dict[str, list[str]]) -> None:
    """Fill in the judgements of a table, stack by stack, in the order of the frames."""
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    left = {stack: list(words) for stack, words in judge.items()}
    for row in rows:
        row["judgement"] = left[row["stack"]].pop(0)
    lines = [",".join(rows[0]), *(",".join(row.values()) for row in rows)]
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_a_roll_is_planned_from_a_strip_and_a_drawer(tmp_path: Path) -> None:
    done = run(tmp_path, "plan", STRIP, "--bracket", "--drawer", DRAWER)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Expose 10 frames of one scene")
    assert "This film does not clear: white that is lost is not clear" in " ".join(done.stdout.split())
    assert "expected to leave a cast of" in done.stdout
    assert max(map(len, done.stdout.splitlines())) < 80


def test_a_roll_goes_its_whole_way_from_the_plan_to_the_index(tmp_path: Path) -> None:
    words = (*GUESS, "--stack", "none", "--stack", "orange=2.5", "--film", "Heron 80", "--write", "roll-1")
    done = run(tmp_path, *words)
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith(
        "Print roll-1.html, judge the frames, and fill in roll-1.csv.\nThen: curves ei roll-1.toml\n"
    )
    assert (tmp_path / "roll-1.csv").read_text(encoding="utf-8").splitlines()[:2] == [
        "frame,stack,ei,judgement,red,green,blue",
        "1,none,50,,,,",
    ]
    empty = run(tmp_path, "ei", "roll-1.toml")
    assert empty.returncode == 1
    assert "its 10 frames are still to be filled in" in empty.stderr
    unfilled = run(tmp_path, "check", "roll-1.toml")
    assert unfilled.returncode == 0
    assert unfilled.stdout.startswith("roll-1.toml: has no readings yet")
    assert "its 10 frames are still to be filled in" in unfilled.stdout
    five = ["too dark", "too dark", "right", "too light", "too light"]
    filled(tmp_path / "roll-1.csv", {"none": five, "orange": [*five[1:], "too light"]})
    found = run(tmp_path, "ei", "roll-1.toml")
    assert found.returncode == 0, found.stderr
    assert "Heron 80, bracket, behind no filter" in found.stdout
    assert "12 on any meter: no filter was used." in found.stdout
    # Right is one frame earlier: EI 10 in front of the filter, 25 through it.
    assert "10 on a hand-held meter, 25 on a meter that looks" in found.stdout
    assert run(tmp_path, "check", "roll-1.toml").stdout.startswith("roll-1.toml: good")
    strips = json.loads(run(tmp_path, "ei", "roll-1.toml", "--json").stdout)["strips"]
    assert [strip["working_ei"]["nominal"] for strip in strips] == [12, 10]
    assert strips[0]["working_ei"]["by_eye"]["frames"] == {"too dark": 2, "right": 1, "too light": 2}


def test_what_needs_a_curve_says_that_there_is_none(tmp_path: Path) -> None:
    run(tmp_path, *GUESS, "--write", "roll")
    filled(tmp_path / "roll.csv", {"none": ["too dark", "too dark", "too dark", "right", *["too light"] * 3]})
    for command in ("measure", "report"):
        done = run(tmp_path, command, "roll.toml")
        assert done.returncode == 1
        assert "the frames were judged by eye, and no density was read" in done.stderr
    at = run(tmp_path, "ei", "roll.toml", "--at", "25")
    assert at.returncode == 1
    assert "the scene has no place on this strip at EI 25: no density was read" in at.stderr
    assert "half of that variance the same in every frame" in " ".join(
        run(tmp_path, "ei", "roll.toml", "--full").stdout.split()
    )


def test_judgements_beside_densities_are_told_by_every_command(tmp_path: Path) -> None:
    folder = tmp_path
    table = (FOLDER / "heron-frames.csv").read_text(encoding="utf-8").splitlines()
    judged = ["", "too dark", "too dark", "too dark", "right", "too light", "too light", "", ""]
    lines = [f"{table[0]},judgement", *(f"{line},{word}" for line, word in zip(table[1:], judged, strict=True))]
    (folder / "heron-frames.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "heron-frames.toml").write_text(
        (FOLDER / "heron-frames.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    for command in (("ei",), ("ei", "--full"), ("measure",), ("measure", "--full")):
        done = run(folder, command[0], "heron-frames.toml", *command[1:])
        assert "6 frames by eye (3 too dark, 1 right, 2 too light)" in " ".join(done.stdout.split()), command
    content = json.loads(run(folder, "measure", "heron-frames.toml", "--json").stdout)["strips"][0]
    told = content["working_ei"]["by_eye"]
    assert told["without"]["value"] != content["working_ei"]["recommended"]["value"]
    assert any(source["name"] == "the eye's judgement" for source in content["sources"])
    assert any(line["name"] == "the eye's judgement" for line in content["working_ei"]["budget"])
    run(folder, "report", "heron-frames.toml")
    assert "6 frames by eye" in (folder / "outputs" / "heron-frames.html").read_text(encoding="utf-8")


def test_a_meter_s_reading_turns_into_settings_of_the_camera(tmp_path: Path) -> None:
    done = run(tmp_path, *GUESS, "--reflected", "12")
    # By the definition of EV: 12 at ISO 100 is EV 9 at EI 12.6, and N^2 / t = 2^9 at f/4 and 1/30 s.
    assert "    4  12      0   f/4 1/30 s" in done.stdout


def test_frames_that_no_click_gives_their_exposure_are_named(tmp_path: Path) -> None:
    guess = ("plan", "--bracket", "--box", "12", "--off", "0.5", "--kind", "reversal", "--frames", "5")
    text = " ".join(run(tmp_path, *guess, "--reflected", "12").stdout.split())
    # By the definition of EV: EI 12 at EV 9 is f/4 at 1/30 s; a third of a stop off lies between whole clicks.
    assert re.search(r"another exposure than planned, in stops: .*frame \d 0\.3 (more|less)", text)
    assert "another exposure" not in run(tmp_path, *guess, "--reflected", "12", "--clicks", "third").stdout
    # At the end of the dial even thirds do not help: EV 3 at ISO 100 asks of EI 12 for f/2.8 at 8 s.
    assert "frame 3 4.0 less" in " ".join(run(tmp_path, *guess, "--reflected", "3", "--clicks", "third").stdout.split())


def test_a_roll_is_json(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, *GUESS, "--stack", "orange=2.5", "--frames", "7", "--json").stdout)
    (stack,) = found["stacks"]
    assert stack["stack"] == "orange"
    assert [frame["ei_hand_held"] for frame in stack["frames"]] == [40, 20, 10, 5, 2.5, 1.2, 0.6]
    assert stack["frames"][3]["ei_through"] == 12


def test_the_table_holds_what_the_meter_in_use_is_set_to(tmp_path: Path) -> None:
    run(tmp_path, *GUESS, "--stack", "orange=2.5", "--metered", "through", "--write", "roll")
    assert (tmp_path / "roll.csv").read_text(encoding="utf-8").splitlines()[4] == "4,orange,12,,,,"
    assert 'metered = "through"' in (tmp_path / "roll.toml").read_text(encoding="utf-8")


def test_nothing_that_was_judged_is_written_over(tmp_path: Path) -> None:
    run(tmp_path, *GUESS, "--write", "roll")
    (tmp_path / "roll.toml").unlink()
    # As a killed run leaves the files: the same plan goes on.
    assert run(tmp_path, *GUESS, "--write", "roll").returncode == 0
    (tmp_path / "roll.toml").unlink()
    judged = (tmp_path / "roll.csv").read_text(encoding="utf-8").replace(",,", ",right,", 1)
    (tmp_path / "roll.csv").write_text(judged, encoding="utf-8")
    done = run(tmp_path, *GUESS, "--write", "roll")
    assert done.returncode == 1
    assert (
        "roll.csv: there is already such a file; needed: a name that is free, so that no judgement is lost."
        in done.stderr
    )
    assert not (tmp_path / "roll.toml").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "--bracket", "--box", "12"), "--kind: the kind of film is not given"),
        (("plan", "--bracket", "--kind", "reversal"), "--box: the box speed is not given; needed: a strip, or a guess"),
        ((*GUESS, "--stack", "orange"), "the factor of 'orange' is not known"),
        ((*GUESS, "--stack", "orange=0.5"), "the factor of 'orange' is not known"),
        ((*GUESS, "--stack", "cyan CC2", "--drawer", DRAWER), "'cyan CC2' is not in the drawer"),
        ((*GUESS, "--wedge", "21x0.15"), "--wedge: a roll of frames does not take it"),
        (("plan", STRIP, "--bracket", "--box", "80"), "--box: a strip is given too, which tells it"),
        (("plan", "--bracket", "--kind", "reversal", "--box", "-3"), "--box: -3 is out of range"),
        ((*GUESS, "--frames", "5", "--stack", "none", "--stack", "a=2"), "5 frames are too few for 2 stacks"),
    ],
)
def test_what_lacks_is_named(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = run(tmp_path, *words)
    assert done.returncode == 1
    assert said in done.stderr


def test_a_strip_without_bracket_is_a_usage_error(tmp_path: Path) -> None:
    assert run(tmp_path, "plan", STRIP).returncode == 2


def test_entry_does_not_take_a_roll_for_a_strip_and_loses_no_judgement(tmp_path: Path) -> None:
    run(tmp_path, *GUESS, "--write", "roll")
    before = (tmp_path / "roll.csv").read_text(encoding="utf-8")
    done = run(tmp_path, "enter", "roll")
    assert done.returncode == 1
    assert "the table has columns of frames (frame, stack, judgement), which an entry would lose" in done.stderr
    assert (tmp_path / "roll.csv").read_text(encoding="utf-8") == before


def test_a_table_of_several_stacks_is_checked_stack_by_stack(tmp_path: Path) -> None:
    run(tmp_path, *GUESS, "--stack", "none", "--stack", "orange=2.5", "--write", "roll")
    five = ["too dark", "too dark", "right", "too light", "too light"]
    filled(tmp_path / "roll.csv", {"none": five, "orange": five})
    assert run(tmp_path, "check", "roll.csv").stdout.startswith("roll.csv: good")


def test_a_roll_that_was_only_judged_joins_strips_of_its_film(tmp_path: Path) -> None:
    words = (*GUESS, "--film", "Heron 80", "--process", "colour reversal, first developer 7 min at 38 C")
    run(tmp_path, *words, "--write", "roll")
    filled(tmp_path / "roll.csv", {"none": ["too dark", "too dark", "too dark", "right", *["too light"] * 3]})
    done = run(tmp_path, "ei", "roll.toml", STRIP, "--together")
    assert done.returncode == 0, done.stderr
    assert "Heron 80, bracket: EI 13" in done.stdout
