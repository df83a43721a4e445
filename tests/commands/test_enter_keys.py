"""The keys that every question of `curves enter` takes: ? explains, b goes back, q stops; and the review of answers."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from curves.files.base.record_edits import record_content
from curves.files.strips.record import load_strip, read_setup
from curves.sensitometry.strip.exposure import Camera
from tests.commands.test_enter import LINES, RECORD, WHOLE, enter, in_folder, names, table

ABOUT = [
    "Heron 80, test",
    "Heron 80",
    "as always",
    "2026-03-14",
    "r",
    "A",
    "density",
    "contact",
    "21x0.15",
    "25",
    "1.6",
]
"""Answers to the questions of a new strip, in their order."""

CAMERA = [*ABOUT[:7], "camera", "21x0.15", "80", "11", "0"]


def asked(stdout: str) -> list[str]:
    """Return the beginnings of the prompts shown, one word each."""
    return [line.split()[0].rstrip(",:") for line in stdout.splitlines() if line.rstrip().endswith(" >")]


def review(folder: Path, name: str, typed: list[str]) -> tuple[list[str], str, str]:
    """Return the prompts, the answers to be reviewed, and all that is shown, where a person types some lines."""
    shown = enter(folder, name, typed=typed).stdout
    (folder / f"{name}.entry").unlink()
    return asked(shown), shown.partition("So:")[2].partition("Enter takes")[0], shown


@pytest.mark.parametrize("answers", [ABOUT, CAMERA])
def test_a_question_mark_explains_every_question_and_asks_it_again(tmp_path: Path, answers: list[str]) -> None:
    plain = review(tmp_path, "heron", answers)
    often = review(tmp_path, "heron", [word for answer in answers for word in ("?", "??", answer)])
    # Each question three times: for ?, for ?? and for the answer; then the review.
    assert often[0] == [prompt for prompt in plain[0][:-1] for _ in range(3)] + plain[0][-1:]
    assert often[1] == plain[1] != ""
    assert often[2].count("  Example: ") == 2 * len(answers)
    assert max(len(line) for line in often[2].splitlines()) < 80


@pytest.mark.parametrize("key", ["q", "Q", " q ", "b", "B", "?", " ? "])
@pytest.mark.parametrize("at", range(len(ABOUT)))
def test_no_answer_that_is_a_key_alone_is_taken_for_a_value(tmp_path: Path, key: str, at: int) -> None:
    done = enter(tmp_path, "heron", typed=[*ABOUT[:at], key])
    assert (done.returncode, done.stderr) == (0, "")
    state = tmp_path / "heron.entry"
    assert state.exists() == (at > 0)
    assert f'"{key}"' not in (state.read_text(encoding="utf-8") if at else "")
    assert names(tmp_path) == ["heron.entry"] * (at > 0)


def test_a_stop_at_any_question_says_how_to_go_on_and_goes_on_there(tmp_path: Path) -> None:
    for count, answer in enumerate(ABOUT, start=1):
        done = enter(tmp_path, "heron", typed=[answer, "q"])
        assert done.stdout.endswith("Stopped; the answers are safe in heron.entry.\nGo on with: curves enter heron\n")
        assert len(asked(done.stdout)) == 2, count
    assert enter(tmp_path, "heron", typed=["", LINES[0]]).returncode == 0
    assert table(tmp_path / "heron.csv") == WHOLE[:2]
    assert record_content(tmp_path / "heron.toml")["process"] == "as always"


def test_b_goes_back_question_by_question_and_offers_the_earlier_answer(tmp_path: Path) -> None:
    done = enter(tmp_path, "heron", typed=[*ABOUT[:9], "b", "b", "camera", "", "80", "11", "", "b", "b", "12", "", ""])
    told = " ".join(done.stdout.split())
    assert (
        "Wedge: steps x increment, or its table, Enter for 21x0.15 > Exposed by (contact, camera, frames), Enter for"
        in told
    )
    assert "Step that the meter read, Enter for 11 > Stops" in told
    assert read_setup(tmp_path / "heron.toml").exposure == Camera(80.0, 12)
    assert enter(tmp_path, "other", typed=["c", "b", "c", "b", ""]).stdout.count("So:\n") == 2


def test_nothing_is_before_the_first_question(tmp_path: Path) -> None:
    assert enter(tmp_path, "heron", typed=["b"]).stdout.count("  This is the first question.\n") == 1
    in_folder(tmp_path, record=RECORD.replace("lux = 25.0\n", "").replace("seconds = 1.6", "# seconds"))
    done = enter(tmp_path, "heron", typed=["b", "25", "b", "", "1.6", LINES[0], "q"])
    assert done.stdout.count("  This is the first question.\n") == 1
    assert "Light on the wedge [lux], Enter for 25, - for none > " in done.stdout
    assert table(tmp_path / "heron.csv") == WHOLE[:2]
    other = enter(tmp_path, "other", typed=["b"]).stdout
    assert other.count("  This is the first question.\n") == 1


@pytest.mark.parametrize("reply", ["y", "yes", "n", "C'est bon", "0.32 0.48 0.71", "x", "-"])
def test_enter_alone_is_a_yes_to_the_review(tmp_path: Path, reply: str) -> None:
    done = enter(tmp_path, "heron", typed=[*ABOUT, reply])
    assert "  Not taken: Enter or c is expected.\n" in done.stdout
    assert names(tmp_path) == ["heron.entry"]


def test_after_c_the_earlier_answers_are_the_suggestions(tmp_path: Path) -> None:
    more = 'light = "lamp 2"\nseconds = 0.033333333'
    in_folder(tmp_path, "heron-0410", RECORD.replace("seconds = 1.6", more) + "\n[reader]\nrepeatability = 0.02\n")
    done = enter(tmp_path, "heron-0411", typed=["c", "", "", "", "", "", "", "", "", "", "30", "", "", "q"])
    told = " ".join(done.stdout.split())
    assert "exposure, light lamp 2" in told
    assert "reader, repeatability 0.02" in told
    for text in (
        "Kind (negative, reversal), Enter for reversal > ",
        "[lux], Enter for 25, - for none > ",
        "[seconds], Enter for 0.0333333 >",
    ):
        assert text in told
    content = record_content(tmp_path / "heron-0411.toml")
    # A suggestion that is taken keeps the digits that it did not show.
    assert content["exposure"] == {"method": "contact", "lux": 30.0, "light": "lamp 2", "seconds": 0.033333333}
    assert content["reader"] == {"repeatability": 0.02}


def test_before_the_first_reading_b_leads_back_to_the_answers_and_after_it_the_record_stands(tmp_path: Path) -> None:
    done = enter(tmp_path, "heron", typed=[*ABOUT, "", "b", "b", "0.8", "", LINES[0], "b", "b", "", "q"])
    told = " ".join(done.stdout.split())
    assert "1 > So: Title" in told
    assert (
        "Step 1 has 0.32 0.48 0.71: a new line replaces it, Enter keeps it, r 1 adds a repeat. 1 > This is the" in told
    )
    assert "heron.toml can be changed with an editor. 1 > 2 > Stopped with 1 of 21 lines read" in told
    assert record_content(tmp_path / "heron.toml")["exposure"]["seconds"] == 0.8


def test_b_goes_back_through_patches_and_readings_and_enter_keeps_them(tmp_path: Path) -> None:
    in_folder(tmp_path)
    base, after = "0.16 0.25 0.32", ["0.29 0.48 0.72", "dust"]
    typed = [*LINES, base, "b", "b", "?", "", "b", "0.17 0.25 0.32", "", *after]
    done = enter(tmp_path, "heron", typed=typed)
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "no fog), Enter keeps 0.16 0.25 0.32 > Step 21 has" in told
    strip = load_strip(tmp_path / "heron.toml")
    assert strip.patches.base == {"red": 0.17, "green": 0.25, "blue": 0.32}
    assert strip.patches.fully_exposed == {"red": 0.29, "green": 0.48, "blue": 0.72}
    assert strip.notes == "dust"
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_key_at_the_notes_is_a_command_and_s_leaves_a_patch_out(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = [*LINES, "0.16 0.25 0.32", "b", "s", "", "", "?", "b", "", "g 2", "0.33 0.50 0.71", "q"]
    done = enter(tmp_path, "heron", typed=typed)
    assert "Example: dust on step 9." in done.stdout
    assert "Stopped with 21 of 21 lines read" in done.stdout
    assert table(tmp_path / "heron.csv")[2] == ["2", "0.33", "0.50", "0.71"]
    assert "notes" not in record_content(tmp_path / "heron.toml")
    assert enter(tmp_path, "heron", typed=["-"]).returncode == 0
    assert {"notes", "patches"}.isdisjoint(record_content(tmp_path / "heron.toml"))


def test_a_questioned_reading_and_the_point_are_explained_and_gone_back_from(tmp_path: Path) -> None:
    in_folder(tmp_path)
    slip = LINES[5].replace("0.62", "2.62")
    done = enter(tmp_path, "heron", typed=["32 48 71", "?", "b", *LINES[:5], slip, "?", "b", LINES[5], "q"])
    told = " ".join(done.stdout.split())
    assert "291 is 2.91." in told
    assert "y keeps it as it stands; a new line replaces it" in told
    assert table(tmp_path / "heron.csv") == WHOLE[:7]


def test_the_frames_of_a_bracket_are_explained_and_gone_back_from(tmp_path: Path) -> None:
    typed = [*ABOUT[:7], "frames", "80", "", "?", "b", "b", "50", "", "-2 2 1", "q"]
    done = enter(tmp_path, "heron", typed=typed)
    assert "seven frames, from three stops under" in " ".join(done.stdout.split())
    assert "   -2 > " in done.stdout
    assert record_content(tmp_path / "heron.toml")["exposure"] == {"method": "frames", "ei": 50.0}


def test_a_control_character_is_not_part_of_an_answer(tmp_path: Path) -> None:
    done = enter(tmp_path, "heron", typed=["\x1b[A", "Heron 80"])
    assert "Not taken: the line holds a control character, such as an arrow key; type it again." in done.stdout
    assert "Film, Enter for none" in done.stdout


@pytest.mark.parametrize(
    ("stream", "words", "told"),
    [
        ("<&-", "enter heron", "Standard input is closed: nobody can answer.\nStopped. Nothing was entered yet.\n"),
        ("</dev/null", "enter heron", "Stopped. Nothing was entered yet.\n"),
        ("</dev/null >&-", "enter heron", ""),
        (
            "<&-",
            "enter heron --stream",
            "curves: --stream: standard input is closed; needed: the lines of an instrument there.\n",
        ),
    ],
)
def test_a_closed_standard_input_is_told_in_words(tmp_path: Path, stream: str, words: str, told: str) -> None:
    command = f"{sys.executable} -m curves {words} {stream}"
    done = subprocess.run(command, shell=True, cwd=tmp_path, capture_output=True, encoding="utf-8", check=False)
    assert (done.stdout + done.stderr).endswith(told)
    assert "Traceback" not in done.stdout + done.stderr
    assert done.returncode == ("--stream" in words)
    assert names(tmp_path) == []
