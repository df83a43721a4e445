"""Pages for every reader: names of controls, contrast in each theme, and nothing lost where colours are forced."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from curves.files.filters.drawer import read_drawer
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.views.pages.filters import filters_page
from curves.views.pages.report import report_page
from tests.browser.chromium import luminance, size, visit
from tests.browser.test_grain_in_chromium import page as grain
from tests.simulate import FOLDER
from tests.views import sample

pytestmark = pytest.mark.browser


@cache
def filters() -> str:
    """Return the page of stacks of a strip."""
    analysis, choices = sample.colour_reversal(), Choices(draws=200)
    bare = BareStrip.of(analysis, choices, "net")
    return filters_page(analysis, bare, ideal_pack(bare), find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=1))


PAGES: dict[str, Callable[[], str]] = {
    "report": lambda: report_page([sample.colour_reversal()]),
    "filters": filters,
    "grain": grain,
}
ASKED = {"button", "slider", "textbox", "combobox", "checkbox", "radio", "link", "spinbutton", "figure", "table"}
"""Roles of which each element needs a name or words: Web Content Accessibility Guidelines 2.2, 4.1.2."""


def themed(browser: Any, theme: str, *, forced: bool = False) -> None:
    """Set what the reader's system asks of pages."""
    features = [{"name": "prefers-color-scheme", "value": theme}]
    features += [{"name": "forced-colors", "value": "active" if forced else "none"}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "screen", "features": features})


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [360, 1280])
def test_every_control_has_a_name_and_no_picture_holds_one(browser: Any, path: Path, name: str, width: int) -> None:
    size(browser, width, phone=width < 600)
    visit(browser, path, PAGES[name]())
    tree = browser.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    nodes = [node for node in tree if not node.get("ignored")]
    found = [(node["role"]["value"], node.get("name", {}).get("value", "").strip()) for node in nodes]
    asked = [(role, words) for role, words in found if role in ASKED - {"figure", "table"}]
    assert len(asked) >= {"report": 12, "filters": 5, "grain": 1}[name]
    assert [role for role, words in asked if not words] == []
    # Each part lies within a landmark, ids are unique, and nothing to press lies within a picture.
    outside, twice, nested = browser.execute_script(
        "const marks = 'main, header, footer, nav, noscript, script, style, svg';"
        "const ids = [...document.querySelectorAll('[id]')].map(e => e.id);"
        "return [[...document.body.children].filter(e => !e.matches(marks)).map(e => e.tagName),"
        " ids.filter((id, i) => ids.indexOf(id) !== i),"
        " [...document.querySelectorAll('[role=img]')].filter(e => e.querySelector('a, button, input, select'))"
        ".map(e => e.id)]"
    )
    assert (outside, twice, nested) == ([], [], [])
    # What scrolls sideways can be scrolled by keys.
    still = browser.execute_script(
        "return [...document.querySelectorAll('main *')].filter(e => ['auto', 'scroll'].includes("
        "getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0"
        " && !e.querySelector('a, button, input, select')).map(e => e.className || e.tagName)"
    )
    assert still == []


PAIRS = (
    "const ground = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;"
    " if (!/, 0\\)$/.test(c) && c !== 'transparent') return c } return 'rgb(255, 255, 255)' };"
    "const found = new Map(), walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);"
    "while (walk.nextNode()) { const e = walk.currentNode.parentElement;"
    " if (e.closest('svg, script, style, .plot, option, :disabled') || !walk.currentNode.textContent.trim()) continue;"
    " if (!e.checkVisibility()) continue;"
    " found.set([getComputedStyle(e).color, ground(e)].join('|'), walk.currentNode.textContent.trim()) }"
    "const edges = [...document.querySelectorAll('input:not([type=range]), select, .placing button')]"
    ".filter(e => e.checkVisibility() && !['checkbox', 'radio'].includes(e.type))"
    ".map(e => getComputedStyle(e).borderTopColor + '|' + ground(e.parentElement));"
    "return [[...found], edges]"
)


def contrast(pair: str) -> float:
    """Return the contrast of two colours (Web Content Accessibility Guidelines 2.2)."""
    bright, dim = sorted((luminance(colour) for colour in pair.split("|")), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_and_edges_of_controls_keep_their_contrast(browser: Any, path: Path, name: str, theme: str) -> None:
    size(browser, 1280)
    visit(browser, path, PAGES[name]())
    # By the switch against the reader's system, which asks for the other.
    themed(browser, "dark" if theme == "light" else "light")
    browser.execute_script(
        "const list = document.querySelector('.theme select'); list.value = arguments[0];"
        "list.dispatchEvent(new Event('change'))",
        theme,
    )
    words, edges = browser.execute_script(PAIRS)
    grounds = [luminance(pair.split("|")[1]) for pair, _ in words]
    assert max(grounds) < 0.1 if theme == "dark" else min(grounds) > 0.5
    # Text 4.5 (1.4.3), edges of controls 3 (1.4.11): Web Content Accessibility Guidelines 2.2, level AA.
    assert [(pair, text) for pair, text in words if contrast(pair) < 4.5] == []
    assert [pair for pair in edges if contrast(pair) < 3.0] == []


def test_forced_colours_keep_intervals_the_set_mark_the_range_and_the_bars_of_the_budget(
    browser: Any, path: Path
) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.relative_reversal()]))
    themed(browser, "light", forced=True)
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    drawn = browser.execute_script(
        "const edge = (e, side) => { const s = getComputedStyle(e); return parseFloat(s['border' + side + 'Width']) > 0"
        " && s['border' + side + 'Color'] !== getComputedStyle(document.body).backgroundColor };"
        "const every = (selector, side) => { const all = [...document.querySelectorAll(selector)];"
        " return all.length && all.every(e => edge(e, side)) };"
        "return [every('.ruler i.interval', 'Top'), every('.ruler i.set', 'Left'), every('.ruler i.usable', 'Top'),"
        " every('.ruler i.dot', 'Top'), every('td.bar i', 'Top')]"
    )
    assert drawn == [True] * 5
    # Swatches and figures keep their own colours.
    kept = browser.execute_script(
        "return [...document.querySelectorAll('.plot, .swatch, .projected td')].map(e =>"
        " getComputedStyle(e).forcedColorAdjust)"
    )
    assert set(kept) == {"none"}
