"""What holds of every kind of page: widths, titles, landmarks, letters and sheets on paper; and what was looked at."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.support.ui import Select

from curves.views.pages.report import report_page
from tests.browser.chromium import letters_on, pages, paper, size, visit
from tests.browser.kinds import KINDS, page_of
from tests.browser.test_page_in_chromium import HOSTILE
from tests.views import sample

pytestmark = pytest.mark.browser

TITLE = "Heron 80, first developer 7:00"
AT_ONCE = '</script></title><script>document.title = "taken"</script>' + "".join(HOSTILE.values())
"""All hostile titles in one."""


WIDTHS = (
    "const past = e => e.getBoundingClientRect().right > innerWidth + 1;"
    "return [document.documentElement.scrollWidth,"
    " [...document.querySelectorAll('svg.drawing, caption')].filter(past).map(e => e.textContent)]"
)


@pytest.mark.parametrize("kind", KINDS)
def test_no_page_scrolls_sideways_or_asks_for_anything_at_any_width(browser: Any, path: Path, kind: str) -> None:
    requested = visit(browser, path, page_of(kind, TITLE))
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    # A page of paper keeps its own width; the others follow the window.
    narrowest = {"blank sheet": 1280}.get(kind, 360)
    for width in (1800, 1280, 768, 360):
        if width >= narrowest:
            size(browser, width, phone=width < 600)
            widest, cut = browser.execute_script(WIDTHS)
            assert widest <= width, width
            # Tables of many columns scroll within the page; what stands above them and figures are seen whole.
            assert cut == [], width


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_has_one_main_part_with_all_of_it_and_no_heading_without_words(
    browser: Any, path: Path, kind: str
) -> None:
    size(browser, 360, phone=True)
    visit(browser, path, page_of(kind, TITLE))
    outside, mains, mute, still = browser.execute_script(
        "const marks = 'main, header, footer, nav, noscript, script, style, svg';"
        "return [[...document.body.children].filter(e => !e.matches(marks)).map(e => e.tagName),"
        " document.querySelectorAll('main').length,"
        " [...document.querySelectorAll('th')].filter(e => !e.textContent.trim()).length,"
        " [...document.querySelectorAll('main *')].filter(e => ['auto', 'scroll'].includes("
        "getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0"
        " && !e.querySelector('a, button, input, select')).map(e => e.className || e.tagName)]"
    )
    assert (outside, mains, mute, still) == ([], 1, 0, [])


@pytest.mark.parametrize("kind", KINDS)
def test_no_title_takes_any_page_over(browser: Any, path: Path, kind: str) -> None:
    size(browser, 1280)
    requested = visit(browser, path, page_of(kind, AT_ONCE))
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    assert browser.execute_script("return document.title") != "taken"
    assert browser.execute_script("return document.documentElement.scrollWidth") <= 1280


@pytest.mark.parametrize("kind", KINDS)
def test_no_letter_of_any_page_on_paper_is_smaller_than_7_points(browser: Any, path: Path, kind: str) -> None:
    visit(browser, path, page_of(kind, TITLE))
    pdf = paper(browser)
    # The browser rounds what it writes to a thousandth.
    assert min(letters_on(pdf)) >= 6.99
    if kind in ("bracket", "bracket on A6", "card", "blank sheet"):
        assert pages(pdf) == 1


# What stands on the page for the eye, without what is hidden on paper.
PRINTED = (
    "const shown = selector => [...document.querySelectorAll(selector)].filter(e => e.checkVisibility())"
    ".map(e => e.innerText.trim());"
    "return [shown('.index')[0], shown('.looked-at'), shown('.said'), shown('.landing tbody tr'),"
    " document.querySelectorAll('.curve .over circle.tone').length,"
    " shown('.dial, .scene, .cursor, .scales, .take, .projected, .reading')]"
)


def test_what_was_looked_at_is_printed_under_its_own_heading_and_the_recommendation_stands(
    browser: Any, path: Path
) -> None:
    analysis = sample.colour_reversal()
    recommended = f"EI {analysis.working_ei.nominal:g}"
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    on_screen = browser.execute_script("return document.querySelector('.said').textContent")

    def printed() -> Any:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
        found = browser.execute_script(PRINTED)
        browser.execute_script("window.dispatchEvent(new Event('afterprint'))")
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "screen"})
        return found

    # Untouched: the report's own numbers, and nothing of the controls.
    index, looked, said, landing, _, controls = printed()
    assert index.split() == recommended.split()
    assert (looked, said, landing, controls) == ([], [], [], [])

    # Looked at: what the screen said, marked, below the recommendation, which stays.
    Select(browser.find_element("css selector", "[name=preset]")).select_by_visible_text("contrasty")
    dial = browser.find_element("css selector", ".dial input[type=range]")
    browser.execute_script(
        "arguments[0].value = Number(arguments[0].value) + 2; arguments[0].dispatchEvent(new Event('input'))", dial
    )
    typed = browser.find_element("css selector", "[name=typed]").get_attribute("value")
    now = browser.execute_script("return document.querySelector('.said').textContent")
    assert now != on_screen
    index, looked, said, landing, tones, controls = printed()
    assert index.split() == recommended.split()
    (heading,) = looked
    # The contrasty scene: white 0.9 and shadow -1.5 from mid-grey, in stops of log10 2.
    assert f"EI {typed} (recommended: {analysis.working_ei.nominal:g})" in heading
    assert "scene of white 3.0, shadow −5.0 stops from mid-grey (the report: white 2.3, shadow −3.0)" in heading
    assert said == [now]
    assert [row.split()[0] for row in landing] == ["white", "grey", "shadow"]
    assert tones >= 1
    assert controls == []
