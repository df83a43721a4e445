"""Typed lines: one meaning is taken, two are refused, whole numbers are asked about."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.files.entry.typed import Asked, Refused, Taken, Told, understand

DENSITY = st.integers(0, 450).map(lambda n: n / 100)


@pytest.mark.parametrize(
    "text",
    [
        "2.91 3.05 3.12", "2,91 3,05 3,12", "2.91,3.05,3.12", "2.91, 3.05, 3.12", "2.91; 3.05; 3.12",
        "2,91;3,05;3,12", "  2.91\t3.05  3.12 ", "2.91 3.05, 3.12",
    ],
)  # fmt: skip
def test_one_line_takes_a_step_however_it_is_typed(text: str) -> None:
    assert understand(text, 3) == Taken((2.91, 3.05, 3.12))


@pytest.mark.parametrize("text", [".05 .06 .07", ",05 ,06 ,07", ".05,.06,.07"])
def test_a_leading_zero_may_be_left_out(text: str) -> None:
    assert understand(text, 3) == Taken((0.05, 0.06, 0.07))


def test_a_dash_stands_for_a_channel_that_was_not_read() -> None:
    assert understand("2.91 - 3.12", 3) == Taken((2.91, None, 3.12))


def test_whole_numbers_are_asked_about_once() -> None:
    assert understand("291 305 312", 3) == Asked((2.91, 3.05, 3.12))
    assert understand("3 4 5", 3) == Asked((0.03, 0.04, 0.05), (3.0, 4.0, 5.0))
    assert understand("291 5 12", 3, pointless=True) == Taken((2.91, 0.05, 0.12))
    assert understand("3 4 5", 3, pointless=False) == Taken((3.0, 4.0, 5.0))
    assert understand("0 0 0", 3) == Taken((0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("text", "count", "why"),
    [
        ("", 3, "Enter alone takes nothing and repeats nothing"),
        ("  ", 3, "Enter alone takes nothing and repeats nothing"),
        ("2 ,3", 2, "it can be read as 2.00 3.00 or as 2.00 0.30; write points for the decimals"),
        ("1,2 3", 3, "commas and spaces are mixed; write points for the decimals"),
        ("2.91 3.05", 3, "3 numbers wanted, 2 found (- stands for one not read)"),
        ("2.91 3.05", 1, "one number wanted, 2 found (- stands for one not read)"),
        ("2.9l 3.05 3.12", 3, "'2.9l' is not a number; ? lists the commands"),
        ("1e5", 1, "'1e5' is not a number; ? lists the commands"),
        ("٣", 1, "'٣' is not a number; ? lists the commands"),
        ("2.91 305 3.12", 3, "305 is no density; its point may be missing"),
        ("-0.30 1.00 1.00", 3, "-0.3 is below zero; zero the instrument on an empty gate"),
        ("-", 1, "no channel was read; s leaves the step out"),
        ("x", 3, "'x' is no command; ? lists them"),
        ("g", 3, "g needs a step, such as g 12"),
        ("u 3", 3, "'u' takes no number; ? lists the commands"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_words(text: str, count: int, why: str) -> None:
    assert understand(text, count) == Refused(why)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("u", Told("back")), ("r", Told("repeat")), ("r 5", Told("repeat", 5)), ("s", Told("skip")),
        ("g 12", Told("go", 12)), ("g12", Told("go", 12)), ("G 12", Told("go", 12)), ("?", Told("help")),
        ("q", Told("quit")), ("g 12 red", Told("go", 12, "red")), ("e", Told("end")), ("l", Told("list")),
    ],
)  # fmt: skip
def test_commands_are_single_letters(text: str, told: Told) -> None:
    assert understand(text, 3) == told


@given(
    st.lists(DENSITY, min_size=1, max_size=4),
    st.sampled_from([".", ","]),
    st.sampled_from([" ", ",", ", ", " , ", ";", "\t"]),
)
def test_a_typed_line_is_its_numbers_or_is_not_taken(values: list[float], point: str, parted: str) -> None:
    text = parted.join(f"{v:.2f}".replace(".", point) for v in values)
    line = understand(text, len(values))
    if isinstance(line, Taken):
        assert line.values == tuple(values)
    else:
        # Commas for both: nobody can tell.
        assert isinstance(line, Refused)
        assert point == "," in parted


@given(st.text(alphabet="0123456789.,;- ugrs?\t", max_size=20), st.integers(1, 4))
def test_any_line_is_answered(text: str, count: int) -> None:
    line = understand(text, count)
    if isinstance(line, Taken):
        assert len(line.values) == count
        assert all(v is None or -0.05 <= v <= 15.0 for v in line.values)
