"""Lines of input: one meaning is taken, two are refused, whole numbers are asked about."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.entry.input import (
    NUMBERS,
    Command,
    Reading,
    Refusal,
    WholeNumbers,
    compile_pattern,
    find_numbers,
    line_text,
    parse_line,
)
from curves.sensitometry.core.reader_units import ReaderScale, ReaderUnit

DENSITY = st.integers(0, 450).map(lambda n: n / 100)


@pytest.mark.parametrize(
    "text",
    [
        "2.91 3.05 3.12", "2,91 3,05 3,12", "2.91,3.05,3.12", "2.91, 3.05, 3.12", "2.91; 3.05; 3.12",
        "2,91;3,05;3,12", "  2.91\t3.05  3.12 ", "2.91 3.05, 3.12",
    ],
)  # fmt: skip
def test_one_line_takes_a_step_however_it_is_typed(text: str) -> None:
    assert parse_line(text, 3) == Reading((2.91, 3.05, 3.12))


@pytest.mark.parametrize("text", [".05 .06 .07", ",05 ,06 ,07", ".05,.06,.07"])
def test_a_leading_zero_may_be_left_out(text: str) -> None:
    assert parse_line(text, 3) == Reading((0.05, 0.06, 0.07))


def test_a_dash_stands_for_a_channel_that_was_not_read() -> None:
    assert parse_line("2.91 - 3.12", 3) == Reading((2.91, None, 3.12))


def test_whole_numbers_are_asked_about_once() -> None:
    assert parse_line("291 305 312", 3) == WholeNumbers((2.91, 3.05, 3.12))
    assert parse_line("3 4 5", 3) == WholeNumbers((0.03, 0.04, 0.05), (3.0, 4.0, 5.0))
    assert parse_line("3 0 5", 3) == WholeNumbers((0.03, 0.0, 0.05), (3.0, 0.0, 5.0))
    assert parse_line("3 4.0 5", 3) == Reading((3.0, 4.0, 5.0))
    assert parse_line("291 5 12", 3, no_point=True) == Reading((2.91, 0.05, 0.12))
    assert parse_line("3 4 5", 3, no_point=False) == Reading((3.0, 4.0, 5.0))
    assert parse_line("0 0 0", 3) == Reading((0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("text", "count", "why"),
    [
        ("", 3, "Enter alone takes nothing and repeats nothing"),
        ("  ", 3, "Enter alone takes nothing and repeats nothing"),
        ("2 ,3", 2, "the line can be read as 2.00 3.00 or as 2.00 0.30; write points for the decimals"),
        ("1,2 3", 3, "commas and spaces are mixed; write points for the decimals"),
        ("2.91 3.05", 3, "the line has 2 numbers; 3 expected (- stands for a channel not read)"),
        ("2.91", 3, "the line has 1 number; 3 expected (- stands for a channel not read)"),
        ("2.9l 3.05 3.12", 3, "'2.9l' is not a number; ? lists the commands"),
        ("1e5", 1, "'1e5' is not a number; ? lists the commands"),
        ("٣", 1, "'٣' is not a number; ? lists the commands"),
        ("1234567890", 1, "'1234567890' is not a number; ? lists the commands"),
        ("2.91 305 3.12", 3, "305 is not a density; its decimal point may be missing"),
        ("15.01", 1, "15.01 is not a density; its decimal point may be missing"),
        ("-0.06", 1, "-0.06 is below zero; zero the instrument on an empty gate"),
        ("-", 1, "the line has no reading; s leaves the step out"),
        ("x", 3, "'x' is not a command; ? lists the commands"),
        ("g", 3, "g needs a step, such as g 12"),
        ("u 3", 3, "'u' takes no number; ? lists the commands"),
        ("q", 3, "'q' stands alone; ? lists the commands"),
        ("b 3", 3, "'b' stands alone; ? lists the commands"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_words(text: str, count: int, why: str) -> None:
    assert parse_line(text, count) == Refusal(why)


def test_the_ends_of_the_range_are_taken() -> None:
    assert parse_line("-0.05 15.0", 2) == Reading((-0.05, 15.0))


@pytest.mark.parametrize(
    ("text", "command"),
    [
        ("u", Command("undo")), ("r", Command("repeat")), ("r 5", Command("repeat", 5)), ("s", Command("skip")),
        ("g 12", Command("go", 12)), ("g12", Command("go", 12)), ("G 12", Command("go", 12)),
        ("g 12 red", Command("go", 12, "red")), ("e", Command("end")), ("l", Command("list")),
    ],
)  # fmt: skip
def test_commands_are_single_letters(text: str, command: Command) -> None:
    assert parse_line(text, 3) == command


@given(
    st.lists(DENSITY, min_size=1, max_size=4),
    st.sampled_from([".", ","]),
    st.sampled_from([" ", ",", ", ", " , ", ";", "\t"]),
)
def test_a_typed_line_is_its_numbers_or_is_not_taken(values: list[float], point: str, between: str) -> None:
    text = between.join(f"{v:.2f}".replace(".", point) for v in values)
    line = parse_line(text, len(values))
    if isinstance(line, Reading):
        assert line.values == tuple(values)
    else:
        # Commas for both: nobody can tell.
        assert isinstance(line, Refusal)
        assert point == "," in between


@given(st.text(alphabet="0123456789.,;- ugrs?\t", max_size=20), st.integers(1, 4))
def test_any_line_is_answered(text: str, count: int) -> None:
    line = parse_line(text, count)
    if isinstance(line, Reading):
        assert len(line.values) == count
        assert all(v is None or -0.05 <= v <= 15.0 for v in line.values)


@pytest.mark.parametrize(
    ("line", "pattern", "found"),
    [
        ("R 2.91 G 3.05 B 3.12", NUMBERS, "2.91  3.05  3.12"),
        ("2,91\t3,05\t3,12", NUMBERS, "2,91  3,05  3,12"),
        ("D65 .31 .40 .46", NUMBERS, ".31  .40  .46"),
        ("ready", NUMBERS, None),
        ("#012 R=2.91;G=3.05;B=3.12;", "R=(.*?);G=(.*?);B=(.*?);", "2.91  3.05  3.12"),
        ("B3.12R2.91G3.05", "B(?P<blue>.{4})R(?P<red>.{4})G(?P<green>.{4})", "2.91  3.05  3.12"),
        ("ERR", "R=(.*?);G=(.*?);B=(.*?);", None),
    ],
)
def test_the_numbers_of_an_instruments_line_are_found(line: str, pattern: str, found: str | None) -> None:
    assert find_numbers(line, compile_pattern(pattern), ("red", "green", "blue")) == found


def test_a_pattern_that_is_not_a_regular_expression_is_refused() -> None:
    with pytest.raises(RecordError) as refusal:
        compile_pattern("(")
    assert str(refusal.value) == (
        "pattern: '(' is not a pattern: missing ), unterminated subpattern at position 0; needed: a regular"
        " expression with a group for each number, such as 'R=(.*?) G=(.*?) B=(.*?);'."
    )


@pytest.mark.parametrize(
    ("unit", "gate", "line", "values"),
    [
        ("stops", None, "6.4 3.1", (6.4, 3.1)),
        ("stops", None, "6 3", (6.0, 3.0)),
        ("ev", 14.0, "12.4 -", (12.4, None)),
        ("seconds", 1 / 1000, "1/125 2", (1 / 125, 2.0)),
        ("seconds", 1 / 1000, "1/60s 0,5", (1 / 60, 0.5)),
        ("percent", None, "48 3.3", (48.0, 3.3)),
    ],
)
def test_readings_of_a_meter_are_taken_in_its_unit(
    unit: ReaderUnit, gate: float | None, line: str, values: tuple[float | None, ...]
) -> None:
    assert parse_line(line, 2, scale=ReaderScale(unit, gate)) == Reading(values)


@pytest.mark.parametrize(
    ("unit", "gate", "line", "why"),
    [
        ("ev", 14.0, "15.2", "would be a density of -0.36"),
        ("seconds", 1 / 1000, "60", "times under a second are typed 1/60"),
        ("seconds", 1 / 1000, "1/x", "not a number"),
        ("percent", None, "0", "out of range"),
    ],
)
def test_readings_that_no_patch_gives_a_meter_are_refused(unit: ReaderUnit, gate: float, line: str, why: str) -> None:
    refused = parse_line(line, 1, scale=ReaderScale(unit, gate))
    assert isinstance(refused, Refusal)
    assert why in refused.why


def test_a_line_of_times_is_shown_as_the_shutter_marks_them() -> None:
    assert line_text([1 / 125, None, 2.0], ReaderScale("seconds", 1 / 1000)) == "1/125 - 2"
