"""The selector of the filters page in a browser; run with ``pytest -m browser``."""

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from curves import Choices, analyse, load_strip
from curves.files.filters.drawer import read_drawer
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.views.pages.filters import filters_page
from tests.browser.chromium import size, until, visit, wait
from tests.simulate import FOLDER

pytestmark = pytest.mark.browser


@cache
def page() -> str:
    """Return the page of stacks of the demo strip."""
    choices = Choices(draws=100, most_draws=0)
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), choices)
    bare = BareStrip.of(analysis, choices, "net")
    found = find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=2)
    return filters_page(analysis, bare, ideal_pack(bare), found)


def test_on_paper_the_table_of_stacks_keeps_all_its_columns(browser: Any, path: Path) -> None:
    visit(browser, path, page())
    # A4 less two margins of 10 mm, at 96 px to the inch; a phone keeps no room for a scroll bar.
    size(browser, 718, phone=True)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    table, room = browser.execute_script(
        "return [Math.max(...[...document.querySelectorAll('#filters table')].map(t => t.getBoundingClientRect()"
        ".right)), document.getElementById('filters').getBoundingClientRect().right]"
    )
    assert table <= room + 1


LINES = (
    "return ['curve', 'cast'].map(name => { const plot = document.getElementById('filters-' + name);"
    " const half = plot.data.length / 2; return plot.data.slice(half).map(t => [t.x0, t.y]) })"
)
BARE = LINES.replace("slice(half)", "slice(0, half)")
CARDS = "return [...document.querySelectorAll('[data-stack]')].filter(d => !d.hidden).map(d => d.innerText)"
ROWS = "return [...document.querySelectorAll('.chosen-row')].map(r => r.querySelector('input').value)"


def test_choosing_a_stack_moves_the_curves_and_shows_its_numbers(browser: Any, path: Path) -> None:
    visit(browser, path, page())
    before = browser.execute_script(LINES)
    chooser = Select(browser.find_element("id", "stack"))
    chooser.select_by_index(len(chooser.options) - 1)
    assert browser.execute_script(LINES) != before
    # The last stack has no filter: its curves and its casts are the bare ones.
    assert browser.execute_script(LINES) == browser.execute_script(BARE)
    # The best stack stands first, whatever is looked at.
    best, card = browser.execute_script(CARDS)
    assert "(best)" in best.split("\n")[0]
    assert card.split("\n")[0] == "no filter (looked at)"
    assert not [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"]


def test_a_row_chooses_its_stack_by_mouse_and_by_keys(browser: Any, path: Path) -> None:
    visit(browser, path, page())
    size(browser, 1280)
    names = [option.text for option in Select(browser.find_element("id", "stack")).options]
    for place in (1, 0):
        # Any cell of the row will do.
        browser.find_elements("css selector", "table.stacks tbody tr")[place].find_elements("css selector", "td")[
            4
        ].click()
        best, *others = browser.execute_script(CARDS)
        (card,) = others or [best]
        assert "(best)" in best.split("\n")[0]
        assert card.split("\n")[0] == names[place] + (" (looked at)" if others else "")
        assert browser.execute_script(ROWS) == [str(place)]
        for word in ("Meter through the filters: set", "hand-held", "1/125 s", "meter's part"):
            assert word in card
    radio = browser.find_element("css selector", "[name=stack-row]:checked")
    radio.send_keys(Keys.ARROW_DOWN, Keys.ARROW_DOWN)
    assert browser.execute_script(ROWS) == ["2"]
    assert Select(browser.find_element("id", "stack")).first_selected_option.text == names[2]
    until(browser, lambda b: b.execute_script("return location.hash") == "#stack=2")
    chosen = browser.execute_script(LINES)
    browser.refresh()
    wait(browser)
    assert browser.execute_script(ROWS) == ["2"]
    assert browser.execute_script(LINES) == chosen
    assert not [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"]
