"""The page of a scan's patches in a browser; run with ``pytest -m browser``."""

from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.browser.chromium import luminance, size
from tests.commands.run import run
from tests.commands.test_scan import KNOWN, LAMP, LIGHT, PICTURE, WHERE

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo scan."""
    folder = tmp_path_factory.mktemp("scan")
    done = run(folder, "scan", PICTURE, "wren", *LIGHT, *KNOWN, *WHERE, *LAMP, "--yes")
    assert done.returncode == 0, done.stderr
    return folder / "outputs" / "wren-patches.html"


@pytest.fixture
def shown(browser: Any, scanned: Path) -> Any:
    """The browser with the page of the demo scan, opened anew."""
    browser.get(scanned.as_uri())
    return browser


def test_every_frame_lies_on_the_picture_with_its_letters_inside(shown: Any) -> None:
    for width in (1280, 390):
        size(shown, width, phone=width < 500)
        outside, frames, room = shown.execute_script(
            "const picture = document.querySelector('.overlay image').getBoundingClientRect();"
            "const inside = (a, b) => a.left >= b.left - 1 && a.right <= b.right + 1 && a.top >= b.top - 1"
            " && a.bottom <= b.bottom + 1;"
            "const groups = [...document.querySelectorAll('.overlay g')];"
            "const bad = groups.filter(g => !inside(g.querySelector('polygon').getBoundingClientRect(), picture)"
            " || [...g.querySelectorAll('text')].some(t => t.style.display !== 'none' && !inside("
            "t.getBoundingClientRect(), g.querySelector('polygon').getBoundingClientRect())));"
            "return [bad.map(g => g.textContent), groups.length, document.documentElement.scrollWidth]"
        )
        assert frames == 43  # the steps, those of the calibration wedge, and the area of clear
        assert not outside
        assert room <= width


LETTERS = (
    "return [...document.querySelectorAll('.overlay text')].filter(t => t.style.display !== 'none')"
    ".map(t => [t.textContent, parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a])"
)


def test_letters_keep_their_size_at_any_enlargement(shown: Any) -> None:
    for width in (360, 1280):
        size(shown, width, phone=width < 500)
        picture = shown.find_element("css selector", "svg.overlay")
        found = []
        for key in ("0", "+", "+", "+", "+"):
            picture.send_keys(key)
            letters = shown.execute_script(LETTERS)
            assert [pixels for _, pixels in letters] == pytest.approx([12.0] * len(letters), abs=0.05)
            found.append({text for text, _ in letters})
        # Enlarged, every number and at last every density has room.
        assert found[-1] >= {str(step) for step in range(1, 22)}
        assert any("." in text for text in found[-1])


def test_the_picture_is_enlarged_by_buttons_and_moved_by_mouse_and_keys(shown: Any) -> None:
    size(shown, 1280)
    picture = shown.find_element("css selector", "svg.overlay")
    view = "return document.querySelector('svg.overlay').getAttribute('viewBox').split(' ').map(Number)"
    whole = shown.execute_script(view)
    enlarge, reduce, all_of_it = shown.find_elements("css selector", ".zoom button")
    enlarge.click()
    near = shown.execute_script(view)
    assert near[2] == pytest.approx(whole[2] / 1.6)
    # What was in the middle is in the middle.
    assert near[0] + near[2] / 2 == pytest.approx(whole[2] / 2)
    ActionChains(shown).click_and_hold(picture).move_by_offset(-60, 0).release().perform()
    moved = shown.execute_script(view)
    assert moved[0] - near[0] == pytest.approx(60 * near[2] / picture.size["width"], rel=0.05)
    picture.send_keys(Keys.ARROW_LEFT)
    assert shown.execute_script(view)[0] < moved[0]
    reduce.click()
    assert shown.execute_script(view) == pytest.approx(whole)
    enlarge.click()
    all_of_it.click()
    assert shown.execute_script(view) == pytest.approx(whole)
    assert not [entry for entry in shown.get_log("browser") if entry["level"] == "SEVERE"]


def test_a_row_and_its_patch_light_each_other_up(shown: Any) -> None:
    size(shown, 1280)
    lit = "return [...document.querySelectorAll('.lit')].map(e => e.tagName + e.dataset.patch).sort()"
    assert shown.execute_script(lit) == []
    button = shown.find_element("css selector", "tr[data-patch='5'] button")
    shown.execute_script("arguments[0].focus()", button)
    assert shown.execute_script(lit) == ["TR5", "g5"]
    button.send_keys(Keys.ENTER)
    box, view = shown.execute_script(
        "const svg = document.querySelector('svg.overlay');"
        "const b = svg.querySelector('[data-patch=\"5\"] polygon').getBBox();"
        "return [[b.x, b.y, b.width, b.height], svg.getAttribute('viewBox').split(' ').map(Number)]"
    )
    assert view[2] < 500
    assert view[0] < box[0] < box[0] + box[2] < view[0] + view[2]
    shown.execute_script("document.activeElement.blur()")
    shown.find_element("css selector", "svg.overlay").send_keys("0")
    ActionChains(shown).move_to_element(shown.find_element("css selector", "g[data-patch='8']")).perform()
    assert shown.execute_script(lit) == ["TR8", "g8"]
    # The patch with a remark comes first.
    first = shown.find_element("css selector", "table.patches tbody tr")
    assert first.get_attribute("data-patch") == "10"


def test_a_line_of_each_frame_stands_out_from_any_grey(shown: Any) -> None:
    strokes = shown.execute_script(
        "return [...document.querySelector('g[data-patch]').querySelectorAll('polygon')]"
        ".map(p => getComputedStyle(p).stroke)"
    )
    for grey in range(0, 256, 15):
        ground = luminance(f"rgb({grey}, {grey}, {grey})")
        ratios = [(max(line, ground) + 0.05) / (min(line, ground) + 0.05) for line in map(luminance, strokes)]
        # Contrast of what is not text: Web Content Accessibility Guidelines 2.2, 1.4.11.
        assert max(ratios) >= 3.0


def test_the_page_needs_no_library_and_no_network(shown: Any) -> None:
    asked = shown.execute_script("return performance.getEntriesByType('resource').map(r => r.name)")
    assert not [name for name in asked if not name.startswith("data:")]
    assert shown.execute_script("return typeof Plotly") == "undefined"
    assert not [entry for entry in shown.get_log("browser") if entry["level"] == "SEVERE"]
