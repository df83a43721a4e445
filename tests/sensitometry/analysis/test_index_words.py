"""The reasons for an index say nothing that rounding contradicts."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Literal

import pytest

from curves.sensitometry.analysis.index_words import Background, explained, loss_words
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.uncertainty.results import Basis, Shortfall, WorkingEI
from tests.views import sample

ANSWER = sample.relative_reversal().working_ei
BACKGROUND = Background(None, None, latitude=2.0, dmins=None, dmin_indexes=None, inside=True, hardly_an_image=False)


def reason(ei: float, basis: Basis, background: Background) -> str:
    """Return the reason for an index that a part of the rule decided."""
    return explained(replace(ANSWER, recommended=Quantity(ei), basis=basis), background).reason


def moved(ei: float, alone: float, basis: Basis) -> str:
    return reason(ei, basis, replace(BACKGROUND, mixed=alone, mixed_net=0.9))


@pytest.mark.parametrize(
    ("basis", "kept"),
    [
        ("shadow", "at which the shadow just keeps its texture"),
        ("cleared", "at which white just keeps its detail"),
        ("grey", "at which mid-grey just keeps its place as a grey"),
    ],
)
def test_an_index_that_rounds_to_what_highlight_and_middle_ask_for_is_not_taken_instead(
    basis: Basis, kept: str
) -> None:
    text = moved(50.2, 49.8, basis)
    assert f"Highlight and middle together ask for 50, {kept}." in text
    assert "instead" not in text


@pytest.mark.parametrize("basis", ["shadow", "cleared", "grey"])
def test_an_index_that_was_moved_names_both_numbers(basis: Literal["shadow", "cleared", "grey"]) -> None:
    text = moved(40.0, 50.0, basis)
    assert "Highlight and middle alone would give 50," in text
    assert "is taken instead" in text


@pytest.mark.parametrize(
    ("indexes", "said"), [((11.8, 12.2), "with either the index is 12."), ((8.0, 12.0), "the other 12")]
)
def test_a_dmin_that_is_not_known_names_two_indexes_only_where_they_differ(
    indexes: tuple[float, float], said: str
) -> None:
    both = replace(BACKGROUND, dmins=(0.08, 0.12), dmin_indexes=indexes)
    text = reason(10.0, "middle", both)
    assert said in text
    # No two numbers in the sentence that are called one and the other are the same.
    for one, other in re.findall(r"with the one the index is ([\d.]+), with the other ([\d.]+)", text):
        assert one != other


def too_long(keeps: tuple[float, float], stops: float) -> WorkingEI:
    short = Shortfall(Quantity(stops), ("white", "the textured shadow"), keeps, (stops / 2, stops / 2))
    return replace(ANSWER, shortfall=short)


def test_a_scene_too_long_names_what_keeps_either_end_only_where_the_numbers_differ() -> None:
    assert loss_words(ANSWER) is None
    told = loss_words(too_long((30.0, 20.0), 0.6)) or ""
    assert "30 keeps white and 20 keeps the textured shadow" in told
    # 25.4 and 24.6 are 0.05 stops apart, and both 25.
    assert "keeps" not in (loss_words(too_long((25.4, 24.6), 0.06)) or "keeps")
