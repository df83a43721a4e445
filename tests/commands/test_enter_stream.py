"""`curves enter --stream`: lines as an instrument prints them, with and without a person at the terminal."""

from __future__ import annotations

from pathlib import Path

from curves.files.strips.record import load_strip, read_setup
from tests.commands.test_enter import LINES, STRIP, WHOLE, enter, in_folder, names, table
from tests.commands.typist import Person, Typist

PRINTED = [f"#{n:03} R {r} G {g} B {b}" for n, (r, g, b) in enumerate(STRIP, start=1)]
PATTERN = ("--pattern", r"R\s*(\S+)\s+G\s*(\S+)\s+B\s*(\S+)")


def test_a_strip_comes_from_an_instrument_with_nobody_there(tmp_path: Path) -> None:
    in_folder(tmp_path)
    lines = ["INSTRUMENT READY", "", *PRINTED[:5], "#006 R 0.4x ERR", *PRINTED[5:], "#022 R 9.99 G 9.99 B 9.99"]
    done = enter(tmp_path, "heron", "--stream", *PATTERN, typed=lines)
    assert (done.returncode, done.stderr) == (0, "")
    assert "  passed over: INSTRUMENT READY\n" in done.stdout
    assert (
        "  Not understood: '#006 R 0.4x ERR' (it has no reading).\n  Passed over; step 6 is still to be read.\n"
        in done.stdout
    )
    assert table(tmp_path / "heron.csv") == WHOLE
    assert load_strip(tmp_path / "heron.toml").position.size == 21


def test_control_characters_of_an_instrument_command_no_terminal(tmp_path: Path) -> None:
    in_folder(tmp_path)
    told = enter(tmp_path, "heron", "--stream", *PATTERN, typed=["\x1b[2J", "R 0.4x\x16"]).stdout
    assert "passed over: ␛[2J" in told or "Not understood: '␛[2J'" in told
    assert "Not understood: 'R 0.4x␖'" in told
    assert not {"\x1b", "\x16"} & set(told)


def test_numbers_are_found_without_a_pattern(tmp_path: Path) -> None:
    in_folder(tmp_path)
    done = enter(tmp_path, "heron", "--stream", typed=["  ".join(d).replace(".", ",") + "\r" for d in STRIP])
    assert done.returncode == 0, done.stderr
    assert table(tmp_path / "heron.csv") == WHOLE


def test_an_instrument_without_a_point_is_taken_at_its_word_alone(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = [" ".join(f"{float(v) * 100:03.0f}" for v in d) for d in STRIP]
    told = " ".join(enter(tmp_path, "heron", "--stream", typed=typed).stdout.split())
    assert "whole numbers; --no-point says that the instrument shows hundredths without a point" in told
    assert "Stopped with 0 of 21 lines read. Go on" in told
    assert enter(tmp_path, "heron", "--stream", "--no-point", typed=typed).returncode == 0
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_stream_that_ends_early_is_gone_on_with(tmp_path: Path) -> None:
    in_folder(tmp_path)
    done = enter(tmp_path, "heron", "--stream", *PATTERN, typed=PRINTED[:9])
    assert "Stopped with 9 of 21 lines read; all are safe in heron.csv." in done.stdout
    assert enter(tmp_path, "heron", "--stream", *PATTERN, typed=PRINTED[9:]).returncode == 0
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_doubtful_reading_is_kept_and_told_where_nobody_can_say_otherwise(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = [*PRINTED[:5], PRINTED[5].replace("R 0.40", "R 2.40"), *PRINTED[6:]]
    done = enter(tmp_path, "heron", "--stream", *PATTERN, typed=typed)
    assert "Kept: nobody is at the terminal to say otherwise." in done.stdout
    assert table(tmp_path / "heron.csv")[6] == ["6", "2.40", *STRIP[5][1:]]


def test_an_unreadable_line_is_a_question_to_the_person_at_the_terminal(tmp_path: Path) -> None:
    in_folder(tmp_path)
    feed = tmp_path / "port"
    feed.write_text("\n".join([*PRINTED[:5], "#006 R 0.4x ERR", *PRINTED[6:]]) + "\n", encoding="utf-8")
    person = Typist(tmp_path, "heron", "--stream", *PATTERN, feed=feed)
    asked = person.answer("    6 > type it, or Enter for the next line > ", LINES[5])
    assert "Not understood: '#006 R 0.4x ERR' (it has no reading)." in asked
    for _ in range(3):
        person.answer("Enter if not read\n      > ", "")
    person.answer("notes, Enter for none\n      > ", "")
    assert "heron.toml: good" in person.end()
    assert table(tmp_path / "heron.csv") == WHOLE


def test_a_person_can_send_the_instruments_next_line_to_another_step(tmp_path: Path) -> None:
    in_folder(tmp_path)
    typed = [*PRINTED[:3], "#003 ?", PRINTED[1].replace("0.32", "0.33"), "#003 ?", "#004 ?", PRINTED[3]]
    person = Person(["r 2", "", "g 5"])
    done = enter(tmp_path, "heron", "--stream", *PATTERN, typed=typed, person=person)
    assert "Stopped with 4 of 21 lines read" in done.stdout
    assert table(tmp_path / "heron.csv") == [*WHOLE[:3], ["2", "0.33", *STRIP[1][1:]], WHOLE[3], ["5", *STRIP[3]]]


def test_a_stream_needs_a_record_or_a_person(tmp_path: Path) -> None:
    done = enter(tmp_path, "heron", "--stream", typed=["1 2 3"])
    assert done.returncode == 1
    assert done.stderr == (
        "curves: heron.toml: the record does not state: kind; needed: an answer.\n"
        "Try: run curves enter heron once at a terminal, or write heron.toml by hand.\n"
    )
    assert names(tmp_path) == []


def test_a_new_strip_takes_over_the_last_ones_record(tmp_path: Path) -> None:
    in_folder(tmp_path, "heron-0410")
    done = enter(tmp_path, "heron-0411", "--stream", typed=LINES)
    assert done.returncode == 0, done.stderr
    assert read_setup(tmp_path / "heron-0411.toml").exposure == read_setup(tmp_path / "heron-0410.toml").exposure


def test_a_pattern_without_a_stream_is_a_slip(tmp_path: Path) -> None:
    done = enter(tmp_path, "heron", "--pattern", "x")
    assert done.returncode == 1
    assert done.stderr == (
        "curves: --pattern: a pattern finds numbers in an instrument's lines; needed: --stream too.\n"
    )
