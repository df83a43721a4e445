"""The page of a scan's patches in a browser; run with ``pytest -m browser``."""

from pathlib import Path
from typing import Any

import pytest

from tests.browser.chromium import size
from tests.commands.run import run
from tests.commands.test_scan import KNOWN, LAMP, LIGHT, PICTURE, WHERE

pytestmark = pytest.mark.browser


def shown(browser: Any, folder: Path) -> None:
    """Open the page of the demo scan."""
    done = run(folder, "scan", PICTURE, "wren", *LIGHT, *KNOWN, *WHERE, *LAMP, "--yes")
    assert done.returncode == 0, done.stderr
    browser.get((folder / "outputs" / "wren-patches.html").as_uri())


def test_every_frame_lies_on_the_picture_with_its_letters_inside(browser: Any, tmp_path: Path) -> None:
    shown(browser, tmp_path)
    for width in (1280, 390):
        size(browser, width, phone=width < 500)
        outside, frames, room = browser.execute_script(
            "const picture = document.querySelector('.overlay image').getBoundingClientRect();"
            "const inside = (a, b) => a.left >= b.left - 1 && a.right <= b.right + 1 && a.top >= b.top - 1"
            " && a.bottom <= b.bottom + 1;"
            "const groups = [...document.querySelectorAll('.overlay g')];"
            "const bad = groups.filter(g => !inside(g.querySelector('polygon').getBoundingClientRect(), picture)"
            " || [...g.querySelectorAll('text')].some(t => !inside(t.getBoundingClientRect(),"
            " g.querySelector('polygon').getBoundingClientRect())));"
            "return [bad.map(g => g.textContent), groups.length, document.documentElement.scrollWidth]"
        )
        assert frames == 43  # the steps, those of the calibration wedge, and the area of clear
        assert not outside
        assert room <= width


def test_the_page_needs_no_script_and_no_network(browser: Any, tmp_path: Path) -> None:
    shown(browser, tmp_path)
    asked = browser.execute_script("return performance.getEntriesByType('resource').map(r => r.name)")
    assert not [name for name in asked if not name.startswith("data:")]
    assert browser.execute_script("return typeof Plotly") == "undefined"
    assert not [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"]
