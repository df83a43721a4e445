"""The blank sheet on paper: the A4 that it says it takes, with rows high enough to write in and nothing cut."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from curves.app.blank_sheet import blank_sheet
from curves.sensitometry.core.units import CHANNELS
from curves.views.pages.card import card
from curves.views.pages.reading_sheet import reading_sheet
from tests.browser.chromium import forget, pages, paper
from tests.commands.test_enter import RECORD, in_folder
from tests.views import sample

pytestmark = pytest.mark.browser

_CUT = """
const far = (e, box) => { const r = e.getBoundingClientRect();
  return r.bottom > box.bottom + 1 || r.right > box.right + 1; };
return [...document.querySelectorAll(".sheet")].flatMap(s => [...s.querySelectorAll("th, td, h1, dt, dd, footer")]
  .filter(e => far(e, s.getBoundingClientRect()) || e.scrollWidth > e.clientWidth + 1).map(e => e.textContent));
"""
_HEIGHTS = "return [...document.querySelectorAll('tbody tr')].map(e => e.getBoundingClientRect().height)"
_MILLIMETRE = 96 / 25.4
"""Of a page's own length [px]."""


@pytest.mark.parametrize(
    ("steps", "title", "sheets"),
    [(21, "Heron 80", 1), (22, "Heron 80", 2), (41, "Heron 80", 2), (100, "Heron 80", 4), (21, "Heron 80 " * 30, 2)],
)
def test_the_sheet_prints_on_the_a4_that_it_says(
    browser: Any, tmp_path: Path, steps: int, title: str, sheets: int
) -> None:
    text = RECORD.replace("Heron 80, second roll", title).replace("steps = 21", f"steps = {steps}")
    record = in_folder(tmp_path, record=text.replace("increment = 0.15", "increment = 0.03"))
    page = tmp_path / "sheet.html"
    page.write_text(reading_sheet(blank_sheet(record, CHANNELS, None), "heron"), encoding="utf-8")
    browser.get(page.as_uri())
    assert f"sheet {sheets} of {sheets}" in browser.page_source
    assert pages(paper(browser)) == sheets
    assert browser.execute_script(_CUT) == []
    assert min(browser.execute_script(_HEIGHTS)) >= 8.0 * _MILLIMETRE - 0.5
    assert browser.get_log("browser") == []
    forget(browser)


@pytest.mark.parametrize("title", ["Heron 80", "W" * 3000])
def test_a_card_is_one_a6(browser: Any, tmp_path: Path, title: str) -> None:
    analysis = sample.colour_reversal()
    strip = replace(analysis.strip, title=title, film=title, process=title)
    path = tmp_path / "card.html"
    path.write_text(card(replace(analysis, strip=strip), "heron"), encoding="utf-8")
    browser.get(path.as_uri())
    assert browser.get_log("browser") == []
    pdf = paper(browser)
    assert pages(pdf) == 1
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf)
    assert box
    # A6 is 105 mm x 148 mm (ISO 216), in points of 1/72 inch.
    assert [float(side) for side in box.groups()] == pytest.approx([297.6, 419.5], abs=1.0)
