"""The selector of the filters page in a browser; run with ``pytest -m browser``."""

from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.support.ui import Select

from curves import Choices, analyse, load_strip
from curves.files.filters.drawer import read_drawer
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.views.pages.filters import filters_page
from tests.browser.chromium import size, wait
from tests.simulate import FOLDER

pytestmark = pytest.mark.browser


def shown(browser: Any, folder: Path) -> None:
    """Open the page of stacks of the demo strip, and wait for its figure."""
    choices = Choices(draws=100, most_draws=0)
    analysis = analyse(load_strip(FOLDER / "heron-reversal.toml"), choices)
    bare = BareStrip.of(analysis, choices, "net")
    found = find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=2)
    path = folder / "filters.html"
    path.write_text(filters_page(analysis, bare, ideal_pack(bare), found), encoding="utf-8")
    browser.get(path.as_uri())
    wait(browser)


def test_on_paper_the_table_of_stacks_keeps_all_its_columns(browser: Any, tmp_path: Path) -> None:
    shown(browser, tmp_path)
    # A4 less two margins of 10 mm, at 96 px to the inch; a phone keeps no room for a scroll bar.
    size(browser, 718, phone=True)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    table, room = browser.execute_script(
        "return [Math.max(...[...document.querySelectorAll('#filters table')].map(t => t.getBoundingClientRect()"
        ".right)), document.getElementById('filters').getBoundingClientRect().right]"
    )
    assert table <= room + 1


def test_choosing_a_stack_moves_the_curves_and_shows_its_numbers(browser: Any, tmp_path: Path) -> None:
    shown(browser, tmp_path)
    first = "return document.getElementById('filters-curve').data[4].x[0]"
    cards = "return [...document.querySelectorAll('[data-stack]')].filter(d => !d.hidden).map(d => d.innerText)"
    before = browser.execute_script(first)
    chooser = Select(browser.find_element("id", "stack"))
    chooser.select_by_index(len(chooser.options) - 1)
    assert browser.execute_script(first) != before
    assert browser.execute_script(first) == browser.execute_script(first.replace("[4]", "[0]"))
    (card,) = browser.execute_script(cards)
    assert card.startswith("no filter")
    assert not [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"]
