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


@pytest.mark.parametrize(
    "names",
    [["step", "u'", "v'"], ["step", "u\u2032", "v\u2032"], ["step", "Y", "u", "v"], ["step", "h", "s", "v"]],
)
def test_a_coordinate_of_colour_is_not_visual_density(names: list[str]) -> None:
    assert columns(names, {}, "") == {"step": 0}


def test_a_lone_v_beside_the_layers_is_visual_density() -> None:
    assert columns(["step", "r", "g", "b", "v"], {}, "")["visual"] == 4


def test_the_identity_of_a_sample_wins_over_its_name_which_is_kept() -> None:
    assert columns(["SAMPLE_NAME", "SAMPLE_ID", "D_VIS"], {}, "") == {"name": 0, "sample": 1, "visual": 2}
    assert columns(["SAMPLE_NAME", "SAMPLE_ID", "D_VIS"], {"sample": "1"}, "") == {"sample": 0, "visual": 2}
    assert columns(["SAMPLE_NAME", "D_VIS"], {}, "") == {"sample": 0, "visual": 1}


def test_a_number_of_thousands_of_digits_is_not_a_column() -> None:
    with pytest.raises(RecordError, match="no column has the name '9999"):
        columns(["step", "red"], {"red": "9" * 5000}, "")
