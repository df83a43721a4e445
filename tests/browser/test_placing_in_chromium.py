"""The scene on the curve in a browser: the script's placements against the program's, and every control by hand."""

from __future__ import annotations

import csv
import json
import math
import struct
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from curves.sensitometry.analysis import criteria, negative_index
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.analysis.slide import trial
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Channel, exact_ei
from curves.sensitometry.measures import points
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis, Trial
from curves.views.page.tables import channel_name
from curves.views.pages.report import report_page
from curves.views.placing.scene_data import placing_data
from tests.browser.chromium import size, until, visit
from tests.sensitometry.shapes import slide
from tests.views import sample

pytestmark = pytest.mark.browser

STRIPS, STATES = 20, 300
CHOICES = Choices(draws=500, most_draws=0)


def random_strip(seed: int) -> Strip:
    """Return a strip of either kind, whole or cut short, with or without patches, of one channel or three."""
    rng = np.random.default_rng(seed)
    negative = bool(rng.integers(2))
    position = np.arange(1.0, 22.0)[rng.integers(0, 7) : 21 - rng.integers(0, 7)]
    light = Contact(lux=10.0 ** rng.uniform(0.3, 2.0), seconds=0.8)
    log_h = light.log_h(position, sample.WEDGE)
    names: tuple[Channel, ...] = ("red", "green", "blue") if rng.integers(2) else ("visual",)
    readings: dict[Channel, Any] = {}
    for name in names:
        shape = slide(
            -log_h if negative else log_h,
            dmin=rng.uniform(0.05, 0.5),
            height=rng.uniform(1.2, 2.8),
            centre=rng.uniform(-0.6, 0.6),
        )
        readings[name] = np.round(shape + 0.01 * rng.standard_normal(position.size), 2)
    known = Patches(base=dict.fromkeys(names, 0.04)) if rng.integers(2) else Patches()
    return Strip(
        f"strip {seed}", "negative" if negative else "reversal", "visual" if names == ("visual",) else "status A",
        light, position, readings, sample.WEDGE, patches=known, repeatability=0.01,
    )  # fmt: skip


def expected(analysis: Analysis, channel: Channel, ei: float, white: float, shadow: float) -> Trial:
    """Return what the program says of a scene at an index, the criteria found anew for the scene and the channel."""
    ensemble, metering = analysis.channels[channel].ensemble, analysis.strip.metering
    choices = replace(analysis.choices, white=white, shadow=shadow)
    judged = ChannelCurves(ensemble, points.dmin(ensemble), points.dmax(ensemble), choices)
    if analysis.strip.kind == "reversal":
        asked = criteria.tones(judged, metering, choices)
    else:
        asked = negative_index.tones(judged.speed_point, ensemble, metering, choices)
    return trial(judged, asked, ei, metering, choices)


def same(said: dict[str, Any], known: Quantity, within: float, ends: float = 1e-6) -> None:
    """Fail unless the script says what the program knows: value, interval or bound, a bound as near as an end."""
    for name, number, most in (("value", known.value, within), ("low", known.low, ends), ("high", known.high, ends)):
        if number is None:
            assert said.get(name) is None
        else:
            assert said[name] == pytest.approx(number, abs=most), name
    if known.value is None and known.bound is None:
        assert said["bound"] is None
    elif known.value is None and known.bound is not None:
        assert said["bound"] == [known.bound[0], pytest.approx(known.bound[1], abs=ends)]


STORED = 0.0005
"""Greatest error of a stored density: it has three decimals [density]."""


def furthest(channel: dict[str, Any], steepest: float) -> float:
    """Return how far an end of a tone's interval may lie from the program's [density].

    The page stores the curve and the reach of the interval, of the same draws, at even places. Straight lines between
    the curve's own cost no more than its decimals do. The reach has a corner where its draws meet the end of the
    strip and go on level: a line over a corner, half way between its ends, misses a quarter of its length times what
    the slope changes there, and that is at most the curve's own slope.
    """
    first, last = channel["reach"]["at"]
    pitch = float(last - first) / (len(channel["reach"]["density"]) - 1)
    return 3.0 * STORED + steepest * pitch / 4.0


def test_the_script_says_of_any_scene_what_the_program_says(browser: Any, path: Path) -> None:
    visit(browser, path, report_page([sample.negative()]))
    rng = np.random.default_rng(15)
    analyses = [analyse(random_strip(seed), CHOICES) for seed in range(STRIPS)]
    stored = [placing_data(analysis, "strip") for analysis in analyses]
    asked: list[tuple[int, Channel, float, float, float]] = []
    for n in range(STATES):
        analysis = analyses[n % STRIPS]
        channel = list(analysis.channels)[int(rng.integers(len(analysis.channels)))]
        grid = analysis.channels[channel].curve.grid
        grey = rng.uniform(grid[0] - 0.5, grid[-1] + 0.5)
        ei = analysis.strip.metering.index_at_zero / 10.0**grey
        asked.append((n % STRIPS, channel, float(ei), float(rng.uniform(0.2, 1.2)), float(rng.uniform(-1.6, -0.2))))
    said = browser.execute_script(
        "const [strips, asked] = arguments; return asked.map(([strip, judged, ei, white, shadow]) =>"
        " Placing.trial(strips[strip], judged, ei, { white: white, shadow: shadow }))",
        stored,
        asked,
    )
    states = set()
    for (strip, channel, *scene), found in zip(asked, said, strict=True):
        known, data = expected(analyses[strip], channel, *scene), stored[strip]
        assert data is not None
        gradient = analyses[strip].channels[channel].ensemble.gradient[0]
        ends = furthest(data["channels"][channel], float(np.abs(gradient).max()))
        assert set(found["lost"]) == set(known.lost)
        for tone, placement in known.placements.items():
            here = found["placements"][tone]
            assert here["state"] == placement.state, (scene, tone)
            states.add(placement.state)
            same(here["logH"], placement.log_h, 1e-6)
            same(here["density"], placement.density, 2.0 * STORED, ends)
            same(here["net"], placement.net, 2.0 * STORED, ends)
        for tone, stops in known.lost.items():
            same(found["lost"][tone], stops, 1e-6)
    assert {"holds", "gone", "no texture", "off the strip", "thin"} <= states


def landing(browser: Any) -> list[list[str]]:
    """Return the table of white, grey and shadow: the first line of each cell."""
    rows = browser.find_elements("css selector", ".landing tbody tr")
    return [[cell.text.split("\n")[0] for cell in row.find_elements("css selector", "th, td")] for row in rows]


def agrees(browser: Any, analysis: Analysis, ei: float) -> None:
    """Fail unless the page shows the densities and the states that the program finds at an index."""
    choices = analysis.choices
    known = expected(analysis, analysis.working_ei.channel, ei, choices.white, choices.shadow)
    for (name, _, density, _, state), (tone, placement) in zip(landing(browser), known.placements.items(), strict=True):
        assert (name, state) == (tone, placement.state)
        assert placement.density.value is None or density == f"{placement.density.value:.2f}"


def test_the_dial_turns_by_thirds_of_a_stop_and_home_is_the_recommended_index(browser: Any, path: Path) -> None:
    analysis = sample.relative_reversal()
    nominal = analysis.working_ei.nominal
    assert nominal is not None
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    exact = float(exact_ei(nominal))
    agrees(browser, analysis, exact)
    dial = browser.find_element("id", "strip-1-dial")
    for _ in range(2):
        dial.send_keys(Keys.ARROW_RIGHT)
    agrees(browser, analysis, exact * 10.0**0.2)
    words = browser.find_element("css selector", ".said").text
    assert words.startswith(f"EI {dial.get_attribute('aria-valuetext').split()[1]}: ")
    dial.send_keys(Keys.HOME)
    agrees(browser, analysis, exact)
    # Whatever is looked at, the answer stands.
    typed = browser.find_element("css selector", "[name=typed]")
    typed.clear()
    typed.send_keys("7.3", Keys.TAB)
    agrees(browser, analysis, 7.3)
    assert browser.find_element("css selector", ".index strong").text == f"{nominal:g}"
    browser.find_element("css selector", ".back").click()
    agrees(browser, analysis, exact)
    typed.clear()
    typed.send_keys("many", Keys.TAB)
    assert typed.get_attribute("aria-invalid") == "true"
    agrees(browser, analysis, exact)
    assert browser.get_log("browser") == []


def test_mid_grey_can_be_dragged_and_dots_lie_on_the_curve(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    before = browser.find_element("id", "strip-1-dial").get_attribute("value")
    handle = browser.find_element("css selector", "#strip-1-curve .handle")
    ActionChains(browser).click_and_hold(handle).move_by_offset(30, 0).move_by_offset(10, 0).release().perform()
    after = browser.find_element("id", "strip-1-dial").get_attribute("value")
    # More exposure is a lower index.
    assert int(after) < int(before)
    gap = browser.execute_script(
        "const plot = document.getElementById('strip-1-curve'), { xaxis: x, yaxis: y } = plot._fullLayout;"
        "return [...plot.querySelectorAll('circle.tone')].map(c => {"
        " const at = (axis, name) => axis.p2l(Number(c.getAttribute(name)) - axis._offset);"
        " return [c.dataset.tone, at(x, 'cx'), at(y, 'cy')] })"
    )
    curve = analysis.channels[analysis.working_ei.channel].curve
    assert [tone for tone, *_ in gap] == ["white", "grey", "shadow"]
    for _, log_h, density in gap:
        assert density == pytest.approx(float(np.interp(log_h, curve.grid, curve.grid_density)), abs=0.005)


def test_another_scene_and_another_channel_are_marked(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    said = browser.find_element("css selector", ".said")
    assert "Another scene" not in said.text
    Select(browser.find_element("css selector", "[name=preset]")).select_by_visible_text("contrasty")
    assert "Another scene than the report's." in said.text
    Select(browser.find_element("css selector", "[name=judged]")).select_by_value("blue")
    assert "Judged by blue" in said.text
    white = browser.find_element("css selector", "[name=white]")
    white.send_keys(Keys.CONTROL, "a")
    white.send_keys("1.0", Keys.TAB)
    of_white, of_grey = (float(row[1].replace("−", "-")) for row in landing(browser)[:2])
    assert of_white - of_grey == pytest.approx(math.log10(2.0), abs=0.011)


def test_the_cursor_reads_every_channel(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    browser.find_element("id", "strip-1-cursor").send_keys(Keys.ARROW_RIGHT)
    rows = browser.find_elements("css selector", ".reading tbody tr")
    assert [row.find_element("tag name", "th").text for row in rows] == list(analysis.channels)
    caption = browser.find_element("css selector", ".reading caption").text
    assert "stops from mid-grey at EI" in caption
    by_key = caption
    lines = "return document.querySelectorAll('.over .cursor').length"
    assert browser.execute_script(lines) == 4
    plot = browser.find_element("id", "strip-1-curve")
    ActionChains(browser).move_to_element_with_offset(plot, 60, 30).perform()
    caption = browser.find_element("css selector", ".reading caption").text
    assert caption != by_key
    log_h = float(caption.split(",")[0].removeprefix("Log H ").replace("−", "-"))
    for row, found in zip(rows_of(browser), analysis.channels.values(), strict=True):
        density = float(np.interp(log_h, found.curve.grid, found.curve.grid_density))
        assert float(row[1]) == pytest.approx(density, abs=0.015)


def rows_of(browser: Any) -> list[list[str]]:
    """Return the cursor's table: the first line of each cell."""
    rows = browser.find_elements("css selector", ".reading tbody tr")
    return [[cell.text.split("\n")[0] for cell in row.find_elements("css selector", "th, td")] for row in rows]


@pytest.mark.parametrize("width", [390, 800, 1280])
def test_a_density_is_as_long_as_a_log_h(browser: Any, path: Path, width: int) -> None:
    size(browser, width, phone=width < 600)
    visit(browser, path, report_page([sample.colour_reversal()]))
    unit = (
        "const l = document.getElementById('strip-1-curve')._fullLayout; return ['xaxis', 'yaxis'].map(a =>"
        " l[a]._length / (l[a].range[1] - l[a].range[0]))"
    )
    across, up = browser.execute_script(unit)
    assert up == pytest.approx(across, rel=0.005)
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    # 96 px to the inch: 40, 30, 20 or 10 mm a unit.
    across, up = (n * 25.4 / 96 for n in browser.execute_script(unit))
    assert up == pytest.approx(across, rel=0.005)
    assert min(abs(across - mm) for mm in (40, 30, 20, 10)) < 0.2
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")


def test_turning_the_dial_takes_less_than_a_frame(browser: Any, path: Path) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.colour_reversal()]))
    times = browser.execute_script(
        "const dial = document.getElementById('strip-1-dial'), times = []; for (let i = 5; i < 26; i++) {"
        " dial.value = String(i); const start = performance.now(); dial.dispatchEvent(new Event('input'));"
        " times.push(performance.now() - start) } return times.sort((a, b) => a - b)"
    )
    assert times[len(times) // 2] < 16


def test_curves_placements_and_figure_can_be_taken_out_of_the_page(browser: Any, tmp_path: Path, path: Path) -> None:
    analysis = sample.colour_reversal()
    size(browser, 1280)
    visit(browser, path, report_page([analysis]))
    into = {"behavior": "allow", "downloadPath": str(tmp_path)}
    browser.execute_cdp_cmd("Browser.setDownloadBehavior", into)
    for kind in ("csv", "json", "svg", "png"):
        browser.find_element("css selector", f"[data-take={kind}]").click()
    until(browser, lambda _: {file.suffix for file in tmp_path.glob("Heron*")} == {".csv", ".json", ".svg", ".png"})
    assert browser.get_log("browser") == []
    (table,) = tmp_path.glob("*.csv")
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    for name, found in analysis.channels.items():
        mine = [row for row in rows if row["channel"] == name]
        # Every other place of the curve's own grid.
        assert [float(row["density"]) for row in mine] == pytest.approx(list(found.curve.grid_density[::2]), abs=6e-4)
        assert [float(row["log_h"]) for row in mine] == pytest.approx(list(found.curve.grid[::2]), abs=1e-4)
    (taken,) = tmp_path.glob("*.json")
    assert json.loads(taken.read_text(encoding="utf-8"))["index"] == analysis.working_ei.nominal
    (figure,) = tmp_path.glob("*.svg")
    drawn = ElementTree.parse(figure).getroot()
    ground, *_ = drawn
    words = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert ground.get("fill") == "#ffffff"
    assert words[: 1 + len(analysis.channels)] == [
        analysis.strip.title,
        *map(channel_name, analysis.channels.values()),
    ]
    # The picture is the same figure at twice its size.
    (picture,) = tmp_path.glob("*.png")
    size_of = [float(drawn.get(side, "0")) for side in ("width", "height")]
    assert list(struct.unpack(">II", picture.read_bytes()[16:24])) == [2 * side for side in size_of]


def test_zoom_is_shared_by_the_figures_of_a_strip(browser: Any, path: Path) -> None:
    size(browser, 1280)
    visit(browser, path, report_page([sample.colour_reversal()]))
    shown = "return [...document.querySelectorAll('.plot')].map(p => p._fullLayout.xaxis.range.map(v => +v.toFixed(3)))"
    before = browser.execute_script(shown)
    browser.execute_script("Plotly.relayout('strip-1-gradient', { 'xaxis.range[0]': -0.5, 'xaxis.range[1]': 0.5 })")
    until(browser, lambda b: b.execute_script(shown)[2] == [-0.5, 0.5])
    assert browser.execute_script(shown)[1:] == [[-0.5, 0.5]] * 3
    browser.execute_script("Plotly.relayout('strip-1-gradient', { 'xaxis.autorange': true })")
    until(browser, lambda b: b.execute_script(shown)[1:] == before[1:])
