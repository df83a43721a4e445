"""The page of grain in a browser; run with ``pytest -m browser``."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from curves.sensitometry.grain.comparison import compare_films
from curves.views.pictures.grain import grain_page
from tests.browser.chromium import pages, paper, size, visit
from tests.grain_demo import film

pytestmark = pytest.mark.browser


@cache
def page() -> str:
    """Return the page of three films of two resolutions."""
    films = [
        film("Heron", 10.0, seed=1, samples=3, side=200),
        film("Stork", 14.0, seed=2, samples=3, side=200),
        film("Crane", 10.0, seed=3, samples=3, side=100, dpi=2400.0, frames=False),
    ]
    return grain_page(films, compare_films(films))


@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_of_grain_never_scrolls_sideways_and_asks_for_nothing(browser: Any, path: Path, width: int) -> None:
    size(browser, width, phone=width < 600)
    requested = visit(browser, path, page())
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [390, 1280])
def test_pieces_lie_side_by_side_at_one_scale(browser: Any, path: Path, width: int) -> None:
    size(browser, width, phone=width < 600)
    visit(browser, path, page())
    boxes = browser.execute_script(
        "return [...document.querySelectorAll('.crop img')].map(i => { const r = i.getBoundingClientRect();"
        " return [r.width, r.height, r.top, i.naturalWidth, getComputedStyle(i).imageRendering] })"
    )
    assert boxes[0][2] == boxes[1][2]
    assert [b[3] for b in boxes] == [189, 189, 94]
    # Screen pixels for each micrometre, the same to half a pixel of the coarsest scan.
    scales = [b[0] / (b[3] * p) for b, p in zip(boxes, (5.2917, 5.2917, 10.5833), strict=True)]
    assert scales == pytest.approx([scales[0]] * 3, rel=0.003)
    for box in boxes:
        assert box[0] == pytest.approx(box[1], abs=0.5)
        assert box[4] == "pixelated"


def test_the_page_of_grain_prints_on_few_sheets_and_shrinks_nothing(browser: Any, path: Path) -> None:
    visit(browser, path, page())
    assert pages(paper(browser)) <= 3
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    zooms = "return [...document.querySelectorAll('*')].filter(e => getComputedStyle(e).zoom !== '1').length"
    assert browser.execute_script(zooms) == 0
