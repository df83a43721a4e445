"""Names of columns in a few languages, never guessed between two."""

from __future__ import annotations

import pytest

from curves.errors import RecordError
from curves.files.imports.columns import columns, meaning


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("D_RED", "red"), ("D_VIS", "visual"), ("D_VISUAL", "visual"), ("Rot", "red"), ("Grün", "green"),
        ("GRUEN", "green"), ("bleu", "blue"), ("Dichte Rot", "red"), ("Density (visual)", "visual"), ("DR", "red"),
        ("Red density, status A".replace(",", ""), "red"), ("Stufe", "step"), ("Step No.", "step"), ("échelon", None),
        ("Escalón", "step"), ("log H", "log_h"), ("LOG_E", "log_h"), ("SAMPLE_ID", "sample"), ("SampleID", "sample"),
        ("b*", None), ("LAB_B", None), ("RGB_R", None), ("red 2", None), ("density", None), ("", None),
    ],
)  # fmt: skip
def test_a_name_means_one_thing_or_nothing(name: str, meant: str | None) -> None:
    assert meaning(name) == meant


def test_two_candidates_are_refused_with_the_option_that_decides() -> None:
    with pytest.raises(RecordError) as refusal:
        columns(["step", "D_VIS", "Visual"], {}, "a.csv, line 1")
    assert str(refusal.value) == (
        "a.csv, line 1: 'D_VIS' (column 2) and 'Visual' (column 3) could both be visual; needed: one of them.\n"
        "Try: say which column it is (columns=visual=2)."
    )
    assert columns(["step", "D_VIS", "Visual"], {"visual": "Visual"}, "") == {"visual": 2, "step": 0}


def test_single_letters_are_layers_only_all_three_together() -> None:
    assert columns(["No", "R", "G", "B"], {}, "") == {"step": 0, "red": 1, "green": 2, "blue": 3}
    assert columns(["L", "a", "b"], {}, "") == {}


def test_a_column_that_is_not_there_is_named() -> None:
    with pytest.raises(RecordError) as refusal:
        columns(["step", "x"], {"red": "y"}, "a.csv, line 1")
    assert str(refusal.value) == (
        "a.csv, line 1: no column has the name 'y'; needed: for red, the name of a column, or its number from 1 to 2."
    )
