"""The page as a browser shows and prints it. Needs Chromium and its driver; run with ``pytest -m browser``."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from curves.sensitometry.uncertainty.results import Analysis, Notice
from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
from curves.views.pages.report import report_page
from tests.browser.chromium import luminance, paper, size, visit
from tests.views import sample

pytestmark = pytest.mark.browser

CASES = {
    "colour": sample.colour_reversal,
    "black-and-white": sample.relative_reversal,
    "short": sample.too_short,
    "negative": sample.negative,
}


def fits(browser: Any, width: int) -> None:
    """Fail if the page scrolls sideways with all its parts open."""
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    scroll, inner = browser.execute_script("return [document.documentElement.scrollWidth, window.innerWidth]")
    assert inner == width
    assert scroll <= width


@pytest.mark.parametrize("name", CASES)
def test_the_page_draws_without_a_request_or_a_complaint_and_does_not_scroll_sideways(
    browser: Any, path: Path, name: str
) -> None:
    size(browser, 1280)
    requested = visit(browser, path, report_page([CASES[name]()]))
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    drawn = browser.execute_script(
        "return [...document.querySelectorAll('.plot')].map(p => p.querySelectorAll('.scatterlayer .trace').length)"
    )
    assert len(drawn) == (4 if name in ("colour", "short") else 3)
    assert min(drawn) >= 1
    fits(browser, 1280)


@pytest.mark.parametrize("name", CASES)
def test_the_page_does_not_scroll_sideways_on_a_phone(browser: Any, path: Path, name: str) -> None:
    size(browser, 390, phone=True)
    visit(browser, path, report_page([CASES[name]()]))
    fits(browser, 390)


def crowded() -> Analysis:
    """Return a strip about which there is far more to say than usual."""
    analysis = sample.too_short()
    words = "The reading of this step and of those beside it disagree by more than their scatter allows."
    return replace(analysis, warnings=(*analysis.warnings, *(Notice("many", f"{n}. {words}") for n in range(24))))


@pytest.mark.parametrize("name", [*CASES, "crowded"])
def test_paper_is_a4_and_no_word_on_it_is_smaller_than_7_points(browser: Any, path: Path, name: str) -> None:
    visit(browser, path, report_page([crowded() if name == "crowded" else CASES[name]()]))
    pdf = paper(browser)
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf)
    assert box
    # A4 is 210 mm x 297 mm (ISO 216), in points of 1/72 inch.
    assert [float(side) for side in box.groups()] == pytest.approx([595.3, 841.9], abs=1.0)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    small = browser.execute_script(
        "const found = [], walk = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);"
        "while (walk.nextNode()) { const e = walk.currentNode.parentElement;"
        " if (['SCRIPT', 'STYLE'].includes(e.tagName) || !walk.currentNode.textContent.trim()) continue;"
        " if (!e.getClientRects().length) continue;"
        " const size = parseFloat(getComputedStyle(e).fontSize) * 0.75;"
        " if (size < 7) found.push([size, walk.currentNode.textContent]) } return found"
    )
    assert small == []


def test_every_reading_is_printed(browser: Any, path: Path) -> None:
    visit(browser, path, report_page([sample.colour_reversal()]))
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    shown = "return [...document.querySelectorAll('.steps tbody tr')].filter(r => r.checkVisibility()).length"
    assert browser.execute_script(shown) >= 21
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")
    assert browser.execute_script(shown) == 0


HOSTILE = {
    "script": "</script></title><script>document.title = 'taken'</script>",
    "quotes": "\"'`<img src=x onerror=\"document.title='taken'\">",
    "right to left": "\u202e\u2067Heron\u2069",
    "long": "W" * 10_000,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_no_title_takes_the_page_over_or_makes_it_scroll(browser: Any, path: Path, name: str) -> None:
    analysis = sample.negative()
    strip = replace(analysis.strip, title=HOSTILE[name], film=HOSTILE[name], reader=HOSTILE[name])
    size(browser, 390, phone=True)
    html = report_page([replace(analysis, strip=strip)], records=[HOSTILE[name]])
    requested = visit(browser, path, html)
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    assert browser.execute_script("return document.documentElement.scrollWidth") <= 390
    assert browser.execute_script("return document.title") != "taken"


def test_the_page_is_itself_again_after_printing(browser: Any, path: Path) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.colour_reversal()]))
    measure = "const r = document.querySelector('.plot .main-svg').getBoundingClientRect(); return [r.width, r.height]"
    before = browser.execute_script(measure)
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    during = browser.execute_script(measure)
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")
    assert during != before
    assert browser.execute_script(measure) == before


def test_a_channel_can_be_hidden_in_all_figures_at_once(browser: Any, path: Path) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.colour_reversal()]))
    button = browser.find_element("css selector", "button[data-channel=red]")
    count = (
        "return [...document.querySelectorAll('.plot')].map("
        "p => p.data.filter(t => t.meta === 'red' && t.visible !== false).length)"
    )
    assert min(browser.execute_script(count)) > 0
    button.click()
    assert button.get_attribute("aria-pressed") == "false"
    assert browser.execute_script(count) == [0, 0, 0, 0]
    button.click()
    assert min(browser.execute_script(count)) > 0


def test_a_page_with_the_plotting_library_beside_it_draws_too(browser: Any, tmp_path: Path) -> None:
    size(browser, 1280)
    (tmp_path / PLOTLY_BESIDE).write_text(plotly_library(), encoding="utf-8")
    requested = visit(browser, tmp_path / "page.html", report_page([sample.negative()], plotly="beside"))
    assert {url.rsplit("/", 1)[-1] for url in requested if not url.startswith("data:")} == {"page.html", PLOTLY_BESIDE}


def test_a_page_whose_library_is_missing_says_so_and_shows_the_curve_at_rest(browser: Any, tmp_path: Path) -> None:
    size(browser, 1280)
    path = tmp_path / "page.html"
    path.write_text(report_page([sample.negative()], plotly="beside"), encoding="utf-8")
    browser.get(path.as_uri())
    said = browser.find_element("css selector", ".without-library")
    assert said.is_displayed()
    assert PLOTLY_BESIDE in said.text
    assert browser.find_element("css selector", ".still svg").is_displayed()
    assert not browser.find_element("id", "strip-1-curve").is_displayed()
    assert browser.find_element("css selector", ".landing tbody").text.startswith("white")


@pytest.mark.parametrize("setting", ["dark", "light"])
def test_words_keep_their_contrast_in_either_theme(browser: Any, path: Path, setting: str) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.colour_reversal()]))
    theme = [{"name": "prefers-color-scheme", "value": setting}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "screen", "features": theme})
    pairs = browser.execute_script(
        "const ground = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;"
        " if (!/, 0\\)$/.test(c) && c !== 'transparent') return c } return 'rgb(255, 255, 255)' };"
        "const found = new Map(), main = document.querySelector('main');"
        "const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);"
        "while (walk.nextNode()) { const e = walk.currentNode.parentElement;"
        " if (e.closest('svg, script, .plot') || !walk.currentNode.textContent.trim()) continue;"
        " if (!e.checkVisibility()) continue;"
        " found.set([getComputedStyle(e).color, ground(e)].join('|'), walk.currentNode.textContent.trim()) }"
        "return [...found]"
    )
    assert len(pairs) > 3
    for colours, text in pairs:
        ink, paper_ = (luminance(colour) for colour in colours.split("|"))
        bright, dim = max(ink, paper_), min(ink, paper_)
        # Contrast of text, level AA: Web Content Accessibility Guidelines 2.2, 1.4.3.
        assert (bright + 0.05) / (dim + 0.05) >= 4.5, (colours, text)
