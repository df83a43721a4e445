"""The page as a browser shows and prints it. Needs Chromium and its driver; run with ``pytest -m browser``."""

from __future__ import annotations

import base64
import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from curves.sensitometry.uncertainty.results import Analysis, Notice
from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
from curves.views.pages.report import report_page
from tests.views import sample

webdriver = pytest.importorskip("selenium.webdriver")
ui = pytest.importorskip("selenium.webdriver.support.ui")

pytestmark = pytest.mark.browser

QUIET = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking"
    " --disable-component-update --disable-sync"
)
CASES = {
    "colour": sample.colour_reversal,
    "black-and-white": sample.relative_reversal,
    "short": sample.too_short,
    "negative": sample.negative,
}


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser with a fresh profile that keeps its console and its network log."""
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if not chromium or not driver:
        pytest.skip("Chromium or its driver is not installed")
    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for flag in QUIET.split():
        options.add_argument(flag)
    options.add_argument(f"--user-data-dir={tmp_path_factory.mktemp('profile')}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    chrome = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    chrome.get("about:blank")
    yield chrome
    chrome.quit()


def size(browser: Any, width: int, *, phone: bool = False) -> None:
    """Give the window a size [px]."""
    screen = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": phone}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)


def visit(browser: Any, path: Path, page: str) -> list[str]:
    """Open a page, wait for its figures, fail on anything in the console, and return what it requested."""
    path.write_text(page, encoding="utf-8")
    browser.get("about:blank")
    for log in ("browser", "performance"):
        browser.get_log(log)  # what earlier pages left
    browser.get(path.as_uri())
    wait = ui.WebDriverWait(browser, 20)
    wait.until(lambda b: b.execute_script("return document.documentElement.dataset.drawn"))
    assert browser.get_log("browser") == []
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    return [e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"]


def paper(browser: Any) -> bytes:
    """Return the page as it prints, as PDF."""
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    return base64.b64decode(printed["data"])


def pages(pdf: bytes) -> int:
    """Return how many pages a PDF has."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("name", CASES)
def test_the_page_draws_without_a_request_or_a_complaint(browser: Any, tmp_path: Path, name: str) -> None:
    size(browser, 1280)
    path = tmp_path / "page.html"
    requested = visit(browser, path, report_page([CASES[name]()]))
    assert [url for url in requested if not url.startswith("data:")] == [path.as_uri()]
    drawn = browser.execute_script(
        "return [...document.querySelectorAll('.plot')].map(p => p.querySelectorAll('.scatterlayer .trace').length)"
    )
    assert len(drawn) == (4 if name in ("colour", "short") else 3)
    assert min(drawn) >= 1


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_never_scrolls_sideways(browser: Any, tmp_path: Path, name: str, width: int) -> None:
    size(browser, width, phone=width < 600)
    visit(browser, tmp_path / "page.html", report_page([CASES[name]()]))
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    scroll, inner = browser.execute_script("return [document.documentElement.scrollWidth, window.innerWidth]")
    assert inner == width
    assert scroll <= width


def crowded() -> Analysis:
    """Return a strip about which there is far more to say than usual."""
    analysis = sample.too_short()
    words = "The reading of this step and of those beside it disagree by more than their scatter allows."
    return replace(analysis, warnings=(*analysis.warnings, *(Notice("many", f"{n}. {words}") for n in range(24))))


@pytest.mark.parametrize("name", [*CASES, "crowded"])
def test_a_strip_prints_on_exactly_two_sheets_of_a4(browser: Any, tmp_path: Path, name: str) -> None:
    visit(browser, tmp_path / "page.html", report_page([crowded() if name == "crowded" else CASES[name]()]))
    pdf = paper(browser)
    assert pages(pdf) == 2
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf)
    assert box
    # A4 is 210 mm x 297 mm (ISO 216), in points of 1/72 inch.
    assert [float(side) for side in box.groups()] == pytest.approx([595.3, 841.9], abs=1.0)


def test_two_strips_print_on_four_sheets(browser: Any, tmp_path: Path) -> None:
    visit(browser, tmp_path / "page.html", report_page([sample.colour_reversal(), sample.negative()]))
    assert pages(paper(browser)) == 4


def test_the_page_is_itself_again_after_printing(browser: Any, tmp_path: Path) -> None:
    size(browser, 1280)
    visit(browser, tmp_path / "page.html", report_page([sample.colour_reversal()]))
    measure = "const r = document.querySelector('.plot .main-svg').getBoundingClientRect(); return [r.width, r.height]"
    before = browser.execute_script(measure)
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    during = browser.execute_script(measure)
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")
    assert during != before
    assert browser.execute_script(measure) == before


def test_a_channel_can_be_hidden_in_all_figures_at_once(browser: Any, tmp_path: Path) -> None:
    size(browser, 1280)
    visit(browser, tmp_path / "page.html", report_page([sample.colour_reversal()]))
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
