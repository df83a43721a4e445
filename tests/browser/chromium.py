"""What tests ask of a browser: a page at a size, drawn in silence, and printed."""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from selenium.webdriver.support import ui

LOGS = ("browser", "performance")
LONGEST_WAIT = 120
"""For a page to draw its figures or to answer, on however busy a machine [s]."""


def plain(browser: Any) -> None:
    """Show an empty page in a window of its own size, as on a screen, with empty logs."""
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    browser.get("about:blank")
    forget(browser)


def size(browser: Any, width: int, *, phone: bool = False) -> None:
    """Give the window a size [px]."""
    screen = {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": phone}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)


def forget(browser: Any) -> None:
    """Empty the console and the network log of what earlier pages left there."""
    for log in LOGS:
        browser.get_log(log)


def until(browser: Any, holds: Callable[[Any], object]) -> None:
    """Wait until something holds of the browser; the usual wait would look only twice a second."""
    ui.WebDriverWait(browser, LONGEST_WAIT, poll_frequency=0.02).until(holds)


def wait(browser: Any) -> None:
    """Wait until the figures of the page are drawn."""
    drawn = "return document.documentElement.dataset.drawn || document.querySelector('.plot') === null"
    until(browser, lambda b: b.execute_script(drawn))


def visit(browser: Any, path: Path, page: str) -> list[str]:
    """Open a page, wait for its figures, fail on anything in the console, and return what it requested."""
    path.write_text(page, encoding="utf-8")
    browser.get("about:blank")
    forget(browser)
    browser.get(path.as_uri())
    wait(browser)
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


_OPERATORS = re.compile(
    rb"(?P<q>\bq\b)|(?P<back>\bQ\b)|(?P<matrix>(?:-?[\d.]+ ){6})(?P<of>cm|Tm)\b|(?P<size>[\d.]+) Tf|(?P<show>Tj|TJ)\b"
)


def letters_on(pdf: bytes) -> list[float]:
    """Return the size of each run of letters on the sheets of a PDF [points], as its operators set it (ISO 32000-1)."""
    found = []
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            drawn = zlib.decompress(packed)
        except zlib.error:
            continue  # a picture
        scale, kept, size, turned = 1.0, [], 0.0, 1.0
        for one in _OPERATORS.finditer(drawn) if b" Tf" in drawn else ():
            if one["q"]:
                kept.append(scale)
            elif one["back"]:
                scale = kept.pop()
            elif one["size"]:
                size = float(one["size"])
            elif one["show"]:
                found.append(size * scale * turned)
            else:
                a, b, c, d = map(float, one["matrix"].split()[:4])
                by = abs(a * d - b * c) ** 0.5
                scale, turned = (scale * by, turned) if one["of"] == b"cm" else (scale, by)
    return found


def luminance(colour: str) -> float:
    """Return the relative luminance of an rgb(r, g, b) colour (Web Content Accessibility Guidelines 2.2)."""
    levels = [int(n) / 255 for n in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (n / 12.92 if n <= 0.04045 else ((n + 0.055) / 1.055) ** 2.4 for n in levels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
