"""Wedges as a person writes them: in a few signs, or by their table."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.strips.wedges import parse_wedge, wedge_named


@pytest.mark.parametrize(
    ("text", "first", "last"), [("21x0.15", 0.05, 3.05), ("11 x 0.3 @ 0", 0.0, 3.0), ("31×.1@.1", 0.1, 3.1)]
)
def test_a_wedge_is_described_in_a_few_signs(text: str, first: float, last: float) -> None:
    wedge = parse_wedge(text)
    assert wedge.density[0] == pytest.approx(first)
    assert wedge.density[-1] == pytest.approx(last)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("21", "'21' does not describe a wedge"),
        ("21x0.1.5", "'21x0.1.5' does not describe a wedge"),
        ("1x0.15", "'1x0.15' is not a wedge"),
        ("21x0", "'21x0' is not a wedge"),
        ("1001x0.01", "no wedge has so many steps"),
        ("21x15", "the wedge would end at density 300.05"),
    ],
)
def test_what_is_not_a_wedge_is_refused_by_the_setting_that_it_came_from(text: str, fault: str) -> None:
    with pytest.raises(RecordError) as refusal:
        parse_wedge(text, "known")
    assert str(refusal.value).startswith(f"known: {fault}; needed: ")
    assert refusal.value.settings == ("known",)


def test_a_wedge_is_named_by_its_table_or_in_a_few_signs(tmp_path: Path) -> None:
    (tmp_path / "wedge.CSV").write_text("step;density\n1;0,06\n2;0,19\n3;0,37\n", encoding="utf-8")
    assert list(wedge_named("wedge.CSV", tmp_path).density) == [0.06, 0.19, 0.37]
    assert wedge_named("3x0.3", tmp_path).density[-1] == pytest.approx(0.65)
