"""The checklist of a roll: one box for each judgement, frames in their order, nothing loaded."""

from __future__ import annotations

import html
import re

import pytest

from curves.sensitometry.brackets.roll import Candidate, plan_roll
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Kind
from curves.sensitometry.strip.exposure import Eye
from curves.views.plans.checklist import checklist
from curves.views.plans.roll import Roll, looks, roll_text

FACTS = {"title": "Heron 80 <bracket>", "film": "Heron 80", "process": "reversal", "kind": "reversal"}


def roll(kind: Kind = "reversal", *stacks: str) -> Roll:
    """Return a roll of twelve frames at most for stacks by name."""
    index = Quantity(12.6, 3.0, 50.0)
    candidates = tuple(Candidate(name, index, 2.5 if name else 1.0) for name in stacks or ("",))
    return Roll(plan_roll(candidates, kind, 12, Eye()), kind, "without", "status A")


def text_of(page: str) -> str:
    """Return the words of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.partition("</style>")[2])).split())


@pytest.mark.parametrize("small", [False, True], ids=["A4", "A6"])
def test_every_frame_has_a_box_for_each_judgement(small: bool) -> None:
    page = checklist(roll("reversal", "", "orange"), FACTS, "roll-1", small=small)
    assert page.count('class="tick"') == 3 * 10
    assert "Heron 80 <bracket>" in text_of(page)
    assert "size: A4" in page or small
    assert "size: 105mm 148mm" in page or not small
    assert not re.search(r"(src|href)=", page)
    assert "Then: curves ei roll-1.toml" in text_of(page)
    # Cautions: the sun on either sheet, heat and chemistry where there is room.
    assert "Never look at the sun" in text_of(page)
    assert ("Processing chemistry" in text_of(page)) != small


def test_both_settings_stand_there_where_there_is_a_filter_and_one_where_there_is_none() -> None:
    assert "hand-held EI EI through stops" in text_of(
        checklist(roll("reversal", "", "orange"), FACTS, "r", small=False)
    )
    alone = text_of(checklist(roll(), FACTS, "r", small=False))
    assert "frame EI stops too dark right too light notes 1 100 −3" in alone


def test_a_stack_begins_with_a_line_of_its_own() -> None:
    page = checklist(roll("reversal", "", "orange"), FACTS, "r", small=False)
    assert [text_of("</style>" + row)[:1] for row in page.split('<tr class="group">')[1:]] == ["1", "6"]


def test_the_words_go_with_the_film() -> None:
    assert "has no more density than the film between the frames" in next(looks(roll("negative")))
    assert "lost white looks like it, not clear" in " ".join(looks(roll()))
    assert "Between stacks" not in " ".join(looks(roll()))
    assert "Between stacks" in " ".join(looks(roll("reversal", "", "orange")))


def test_the_text_fits_a_terminal_and_cautions() -> None:
    text = roll_text(roll("reversal", "", "an orange conversion of a long name"))
    assert max(map(len, text.splitlines())) < 80
    assert "gloves" in text
    assert "Never look at the sun" in text
