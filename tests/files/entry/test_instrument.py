"""Lines as instruments print them."""

from __future__ import annotations

import pytest

from curves.errors import RecordError
from curves.files.entry.instrument import NUMBERS, numbers_in, pattern
from curves.sensitometry.core.units import Channel

RGB: tuple[Channel, ...] = ("red", "green", "blue")


@pytest.mark.parametrize(
    ("line", "wanted", "found"),
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
def test_the_numbers_of_a_line_are_found(line: str, wanted: str, found: str | None) -> None:
    assert numbers_in(line, pattern(wanted), RGB) == found


def test_what_is_no_pattern_is_told() -> None:
    with pytest.raises(RecordError) as refusal:
        pattern("(")
    assert str(refusal.value) == (
        "--pattern: '(' is no pattern: missing ), unterminated subpattern at position 0; needed: a regular expression"
        " with a group for each number, such as 'R=(.*?) G=(.*?) B=(.*?);'."
    )
