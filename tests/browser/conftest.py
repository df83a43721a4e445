"""One browser for all tests of a process, and a plain page in it for each."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver

from tests.browser.chromium import plain

QUIET = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking"
    " --disable-component-update --disable-sync"
)


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser with a fresh profile that keeps its console and its network log."""
    binary, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if not binary or not driver:
        pytest.fail("Chromium or its driver is not installed")
    options = webdriver.ChromeOptions()
    options.binary_location = binary
    for flag in QUIET.split():
        options.add_argument(flag)
    options.add_argument(f"--user-data-dir={tmp_path_factory.mktemp('profile')}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    chrome = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    yield chrome
    chrome.quit()


@pytest.fixture(scope="session")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The one address of all pages: the browser compiles the plotting library, 1.4 s, once for each address."""
    return tmp_path_factory.mktemp("page") / "page.html"


@pytest.fixture
def browser(chromium: Any) -> Any:
    """The browser, with nothing left of what other tests did."""
    plain(chromium)
    return chromium
