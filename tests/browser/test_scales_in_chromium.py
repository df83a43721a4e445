"""The figures read by other scales, the scene as projected, and the state of a page in its address, in a browser."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, STOP, exact_ei, transmittance
from curves.sensitometry.measures.points import dmin
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.pages.report import report_page
from curves.views.placing.projected import screen_colour
from curves.views.placing.scene_data import placing_data
from tests.browser.chromium import size, until, visit, wait
from tests.browser.test_placing_in_chromium import random_strip
from tests.sensitometry.shapes import slide
from tests.views import sample

pytestmark = pytest.mark.browser

LINES = (
    "const plot = document.getElementById('strip-1-curve'); return plot.data.filter(t => t.mode === 'lines'"
    " && t.line.width > 0 && t.line.width < 4 && t.name).map(t => [t.name, t.y])"
)
UNITS = (
    "const l = document.getElementById('strip-1-curve')._fullLayout; return ['xaxis', 'yaxis'].map(a =>"
    " l[a]._length / (l[a].range[1] - l[a].range[0]))"
)


def shown(browser: Any, path: Path, analysis: Analysis, width: int = 1280) -> None:
    """Open the page of a strip."""
    size(browser, width, phone=width < 600)
    visit(browser, path, report_page([analysis]))


def choose(browser: Any, name: str, words: str) -> None:
    """Choose from a list by its keys."""
    found = Select(browser.find_element("css selector", f"[name={name}]"))
    every = [option.text for option in found.options]
    away = every.index(words) - every.index(found.first_selected_option.text)
    for _ in range(abs(away)):
        browser.find_element("css selector", f"[name={name}]").send_keys(Keys.ARROW_DOWN if away > 0 else Keys.ARROW_UP)
    assert found.first_selected_option.text == words


def settled(browser: Any, found: str, expected: Any) -> None:
    """Wait until a script returns what is expected."""
    until(browser, lambda b: b.execute_script(found) == expected)


def test_densities_are_read_above_dmin_and_as_light(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    shown(browser, path, analysis)
    choose(browser, "upward", "density above Dmin")
    for name, y in browser.execute_script(LINES):
        curve, lowest = analysis.channels[name].curve, analysis.channels[name].measures["dmin"].value
        assert lowest is not None
        assert y == pytest.approx(list(curve.grid_density[::2] - lowest), abs=1e-3)
    across, up = browser.execute_script(UNITS)
    until(browser, lambda b: math.isclose(*b.execute_script(UNITS), rel_tol=0.005))
    dots = (
        "const plot = document.getElementById('strip-1-curve'), y = plot._fullLayout.yaxis;"
        "return [...plot.querySelectorAll('circle.tone')].map(c => y.p2l(Number(c.getAttribute('cy')) - y._offset))"
    )
    net = [placement.net.value for placement in analysis.working_ei.placements.values()]
    assert browser.execute_script(dots) == pytest.approx(net, abs=0.01)
    choose(browser, "upward", "light passed, per cent")
    ticks = browser.execute_script(
        "const y = document.getElementById('strip-1-curve')._fullLayout.yaxis;"
        "return [y.tickvals, y.ticktext, y.title.text]"
    )
    assert [100.0 * float(transmittance(v)) for v in ticks[0]] == pytest.approx([float(text) for text in ticks[1]])
    assert ticks[2] == "light passed [%]"
    white = analysis.working_ei.placements["white"].density
    cell = browser.find_element("css selector", ".landing tbody td:nth-of-type(2)").text
    numbers = [float(word) for word in cell.replace("%", "").replace("to", "").split()]
    assert white.value is not None
    assert white.low is not None
    assert white.high is not None
    ends = [white.value, white.high, white.low]
    assert numbers == pytest.approx([100.0 * float(transmittance(d)) for d in ends], abs=0.3)
    choose(browser, "upward", "density")
    for name, y in browser.execute_script(LINES):
        assert y == pytest.approx(list(analysis.channels[name].curve.grid_density[::2]), abs=1e-3)
    assert browser.get_log("browser") == []
    assert up == pytest.approx(across, rel=0.5)


def test_log_h_is_read_as_stops_that_follow_the_dial_and_as_indexes(browser: Any, path: Path) -> None:
    analysis = sample.relative_reversal()
    shown(browser, path, analysis)
    marks = (
        "return [...document.querySelectorAll('.plot')].map(plot => { const x = plot._fullLayout.xaxis;"
        " return [...plot.querySelectorAll('text.mark')].map(t =>"
        " [t.textContent, x.p2l(Number(t.getAttribute('x')) - x._offset)]) })"
    )
    assert browser.execute_script(marks) == [[], [], []]
    choose(browser, "across", "stops from mid-grey")
    nominal = analysis.working_ei.nominal
    assert nominal is not None
    dial = browser.find_element("id", "strip-1-dial")
    for steps in (0, 2):
        for _ in range(steps):
            dial.send_keys(Keys.ARROW_RIGHT)
        ei = float(exact_ei(nominal)) * 10.0 ** (0.1 * steps)
        grey = math.log10(analysis.strip.metering.index_at_zero / ei)
        for figure in browser.execute_script(marks):
            assert len(figure) >= 3
            for text, at in figure:
                assert at == pytest.approx(grey + STOP * float(text.replace("−", "-")), abs=0.01)
    choose(browser, "across", "EI with mid-grey there")
    for figure in browser.execute_script(marks):
        assert len(figure) >= 3
        for text, at in figure:
            assert at == pytest.approx(
                math.log10(analysis.strip.metering.index_at_zero / float(exact_ei(float(text)))), abs=0.01
            )
    # Paper is always read by density and log H, so that two sheets lie on each other.
    browser.execute_script("window.dispatchEvent(new Event('beforeprint'))")
    assert browser.execute_script(marks)[0] == []
    browser.execute_script("window.dispatchEvent(new Event('afterprint'))")
    until(browser, lambda b: len(b.execute_script(marks)[0]) >= 3)
    assert browser.get_log("browser") == []


@pytest.mark.parametrize("width", [360, 1280])
def test_a_figure_may_fill_the_width_and_says_that_its_scales_differ(browser: Any, path: Path, width: int) -> None:
    shown(browser, path, sample.colour_reversal(), width)
    fill = browser.find_element("css selector", "[name=fill]")
    fill.send_keys(Keys.SPACE)
    words = browser.find_element("css selector", ".scale-words").text
    said = float(words.removeprefix("Not to scale: one density is ").split()[0])
    assert said != pytest.approx(1.0, abs=0.05)

    def as_said(browser: Any) -> bool:
        across, up = browser.execute_script(UNITS)
        return math.isclose(up / across, said, abs_tol=0.01)

    until(browser, as_said)
    fill.click()
    until(browser, lambda b: math.isclose(*b.execute_script(UNITS), rel_tol=0.005))
    assert browser.find_element("css selector", ".scale-words").text == ""
    assert browser.execute_script("return document.documentElement.scrollWidth") <= width


def test_the_cursor_gives_every_number_its_interval(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    shown(browser, path, analysis)
    found = browser.execute_script(
        "return arguments[1].map(x => Placing.read(arguments[0], x))", placing_data(analysis, "strip"), [-0.9, 0.0, 0.7]
    )
    for at, channels in zip((-0.9, 0.0, 0.7), found, strict=True):
        for name, said in channels.items():
            ensemble = analysis.channels[name].ensemble
            net = np.array([np.interp(at, ensemble.grid, row) for row in ensemble.density]) - dmin(ensemble).rows
            gradient = np.array([np.interp(at, ensemble.grid, row) for row in np.abs(ensemble.gradient)])
            for key, rows, within in (("net", net, 0.005), ("gradient", gradient, 0.02)):
                low, high = np.quantile(rows[1:], [0.025, 0.975])
                assert said[key]["value"] == pytest.approx(rows[0], abs=0.002)
                assert said[key]["low"] == pytest.approx(low, abs=within)
                assert said[key]["high"] == pytest.approx(high, abs=within)


def whole_strip(seed: int) -> Strip:
    """Return a reversal strip that shows both ends of its film."""
    rng = np.random.default_rng(seed)
    position = np.arange(1.0, 22.0)
    light = Contact(lux=25.0, seconds=0.8)
    lowest, height = rng.uniform(0.05, 0.4), rng.uniform(1.0, 2.8)
    shape = slide(light.log_h(position, sample.WEDGE), dmin=lowest, height=height, centre=rng.uniform(-0.3, 0.3))
    patches = Patches(unexposed={"visual": lowest + height}, fully_exposed={"visual": lowest})
    return Strip(
        f"strip {seed}", "reversal", "visual", light, position, {"visual": np.round(shape, 2)}, sample.WEDGE,
        patches=patches, repeatability=0.01,
    )  # fmt: skip


def test_the_range_follows_the_scene(browser: Any, path: Path) -> None:
    shown(browser, path, sample.negative())
    rng = np.random.default_rng(3)
    strips = [*(random_strip(seed) for seed in range(20)), *(whole_strip(seed) for seed in range(20))]
    plain = [analyse(strip, Choices(draws=0, most_draws=0)) for strip in strips]
    known = 0
    for strip, of_report in zip(strips, plain, strict=True):
        data, channel = placing_data(of_report, "strip"), of_report.working_ei.channel
        assert data is not None
        for _ in range(3):
            white, shadow = float(rng.uniform(0.4, 0.9)), float(rng.uniform(-1.5, -0.5))
            there = analyse(strip, Choices(draws=0, most_draws=0, white=white, shadow=shadow)).working_ei
            said = browser.execute_script(
                "return Placing.range(...arguments)", data, channel, {"white": white, "shadow": shadow}
            )
            for end, name in zip(there.range, ("low", "high"), strict=True):
                if strip.kind == "negative" and name == "low":
                    assert said[name] is None
                elif said[name] is not None:
                    assert end.value is not None
                    assert math.log2(said[name] / end.value) == pytest.approx(0.0, abs=0.01)
                    known += 1
                else:
                    assert end.value is None or not data["channels"][channel]["netKnown"]
    # Each whole strip shows both ends of nearly every scene.
    assert known > 100
    words = browser.execute_script(
        "return [[3.46, 12.4], [null, 87], [3, null], [20, 10], [null, null]].map(([a, b]) =>"
        " Placing.usable({ low: a, high: b }))"
    )
    assert words == [
        "Usable from 3.5 to 12.",
        "Usable up to 87.",
        "Usable from 3 up.",
        "No index keeps both ends: the scene is 1.0 stop longer than the film holds.",
        "The usable range is not known.",
    ]


def test_patches_have_the_colours_of_the_program(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    shown(browser, path, analysis)
    dial = browser.find_element("id", "strip-1-dial")
    dial.send_keys(Keys.ARROW_LEFT)
    nominal, choices = analysis.working_ei.nominal, analysis.choices
    assert nominal is not None
    grey = math.log10(analysis.strip.metering.index_at_zero / (float(exact_ei(nominal)) * 10.0**-0.1))
    rows = browser.execute_script(
        "return [...document.querySelectorAll('.projected tbody tr')].map(r => [...r.querySelectorAll('i')].slice(1)"
        ".map(i => getComputedStyle(i).backgroundColor))"
    )
    for row, lowest in zip(rows, (False, True), strict=True):
        for share, colour in zip((-1, -2 / 3, -1 / 3, 0, 1 / 3, 2 / 3, 1), row, strict=True):
            log_h = grey + share * (choices.white if share > 0 else -choices.shadow)
            layers = [analysis.channels[layer] for layer in LAYERS]
            densities = [
                float(np.interp(log_h, one.curve.grid, one.curve.grid_density))
                - (float(one.measures["dmin"].value or 0.0) if lowest else 0.0)
                for one in layers
            ]
            expected = screen_colour(np.array(densities))
            levels = [int(n) for n in colour.removeprefix("rgb(").removesuffix(")").split(",")]
            assert levels == pytest.approx([int(expected[i : i + 2], 16) for i in (1, 3, 5)], abs=2)
    # Beyond a strip that ends too soon nothing is known, nor against a Dmin that is not.
    shown(browser, path, sample.too_short())
    off = "return [...document.querySelectorAll('.projected tbody tr')].map(r => r.querySelectorAll('i.off').length)"
    against_gate, against_dmin = browser.execute_script(off)
    assert (against_gate, against_dmin) == (0, 7)
    browser.find_element("id", "strip-1-dial").send_keys(*[Keys.ARROW_LEFT] * 9)
    assert browser.execute_script(off)[0] >= 2


def test_the_address_keeps_the_state_and_gives_it_back(browser: Any, path: Path) -> None:
    analysis = sample.colour_reversal()
    shown(browser, path, analysis)
    look = (
        "return [document.querySelector('.said').textContent, document.querySelector('.landing').innerText,"
        " ...['upward', 'across', 'preset', 'judged'].map(n => document.querySelector(`[name=${n}]`).value),"
        " document.querySelector('[name=fill]').checked, document.documentElement.dataset.theme]"
    )
    assert browser.execute_script("return location.hash") == ""
    before = browser.execute_script(look)
    browser.find_element("id", "strip-1-dial").send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    choose(browser, "preset", "flat")
    choose(browser, "judged", "blue")
    choose(browser, "upward", "density above Dmin")
    choose(browser, "across", "EI with mid-grey there")
    browser.find_element("css selector", "[name=fill]").click()
    Select(browser.find_element("css selector", ".theme select")).select_by_value("dark")
    changed = browser.execute_script(look)
    assert changed[2:] == ["net", "ei", "0.5,-0.6", "blue", True, "dark"]
    until(browser, lambda b: "theme=dark" in b.execute_script("return location.hash"))
    address = browser.execute_script("return location.href")
    browser.get("about:blank")
    browser.get(address)
    wait(browser)
    assert browser.execute_script(look) == changed
    # Home again: nothing is left in the address.
    browser.find_element("id", "strip-1-dial").send_keys(Keys.HOME)
    for name, words in (("preset", "of the report"), ("judged", "visual"), ("upward", "density"), ("across", "log H")):
        Select(browser.find_element("css selector", f"[name={name}]")).select_by_visible_text(
            "visual (estimated)" if words == "visual" else words
        )
    browser.find_element("css selector", "[name=fill]").click()
    Select(browser.find_element("css selector", ".theme select")).select_by_value("auto")
    settled(browser, "return location.hash", "")
    assert browser.execute_script(look) == before
    # An address that nobody could have made does no harm.
    browser.get(address.split("#")[0] + "#ei=-3&scene=a,b&judged=pink&upward=x&across=&theme=%3Cb%3E")
    browser.refresh()
    wait(browser)
    assert browser.execute_script(look) == before
    assert browser.get_log("browser") == []


def test_each_strip_of_a_page_has_its_own_state_in_the_address(browser: Any, path: Path) -> None:
    size(browser, 1280)
    page = report_page([sample.colour_reversal(), sample.relative_reversal()])
    visit(browser, path, page)
    browser.find_element("id", "strip-2-dial").send_keys(Keys.ARROW_RIGHT)
    until(browser, lambda b: "2.ei=" in b.execute_script("return location.hash"))
    said = "return [...document.querySelectorAll('.said')].map(p => p.textContent)"
    before = browser.execute_script(said)
    browser.refresh()
    wait(browser)
    assert browser.execute_script(said) == before
