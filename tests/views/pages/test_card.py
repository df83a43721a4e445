"""The card: what it says, and the bracket that it asks for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from curves.sensitometry.core.quantity import Quantity
from curves.views.pages.card import bracket, card
from curves.views.words.answers import range_words
from tests.views import sample

CASES = [sample.colour_reversal, sample.relative_reversal, sample.too_short, sample.negative]


@pytest.mark.parametrize("case", CASES)
def test_a_card_says_what_the_report_says_and_asks_no_network(case: object) -> None:
    assert callable(case)
    analysis = case()
    page = card(analysis, "heron")
    assert range_words(analysis.working_ei) in page
    assert not re.search(r"https?://|nan|None|<script", page)
    if analysis.working_ei.nominal is not None:
        assert f"EI {analysis.working_ei.nominal:g}" in page
        assert f"<b>{analysis.working_ei.nominal:g}</b>" in page
    else:
        assert "no index to bracket" in page


def test_a_bracket_holds_the_index_to_set_and_the_ends_of_its_interval_in_thirds_of_a_stop() -> None:
    # The usual series by thirds of a stop: 6 8 10 12 16 (ISO speeds, common practice); a lower index gives more light.
    assert bracket(Quantity(10.0, 6.5, 12.6), 10.0) == [(6.0, 2), (10.0, 0), (12.0, -1)]
    assert bracket(Quantity(10.0), 10.0) == [(10.0, 0)]
    assert bracket(Quantity(10.0, 9.8, 10.2), 10.0) == [(10.0, 0)]


def test_words_of_a_record_are_escaped_on_a_card_and_cut_where_they_do_not_end() -> None:
    analysis = sample.negative()
    strip = replace(analysis.strip, film="<b>film</b>", title="W" * 5000)
    page = card(replace(analysis, strip=strip), "<i>")
    assert "<b>film" not in page
    assert "<i>" not in page
    assert "W" * 200 not in page.split("</title>")[1]
