"""One film through every door: typed, tables, exchange text, a bracket, a camera, a scan. Each gives the index."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from tests.bench.index_truth import truth_of
from tests.commands.run import run
from tests.commands.test_enter import enter
from tests.scan_demo import CHIPS, CLEAR_AREA, DARK, DPI, write
from tests.simulate import STOP, WREN_AS_SLIDE, Array, wedge_21
from tests.simulate_scan import ScanScene, scan

MANUAL = Path(__file__).parents[2] / "curves" / "manual" / "exposing.md"
STEPS = np.arange(1, 22)
LUX, SECONDS = 500.0, 0.02
MID_GREY = 0.6516 * 13.23
"""Exposure of mid-grey that a meter of the usual constant gives at index 1 [lux-seconds]: ISO 2720."""

WEDGE = "step,density,uncertainty\n" + "".join(f"{n},{d:.3f},0.005\n" for n, d in zip(STEPS, wedge_21(), strict=True))
HEAD = 'title = "Wren 25"\nfilm = "Wren 25"\nkind = "reversal"\ndensity = "visual"\n'
CONTACT = f'\n[wedge]\ntable = "wedge.csv"\n[exposure]\nmethod = "contact"\nlux = {LUX:g}\nseconds = {SECONDS}\n'
CONTACT += 'uncertainty_stops = 0.10\nlight = "daylight 5500 K"\n'
OF_TABLE = ("--kind", "reversal", "--density", "visual", "--lux", "500", "--seconds", "0.02", "--wedge", "wedge.csv")


class Strip:
    """A strip of the film, exposed with the errors that its record states, and read with those of an instrument."""

    def __init__(self, folder: Path, seed: int) -> None:
        (folder / "wedge.csv").write_text(WEDGE, encoding="utf-8")
        self.folder, self.rng = folder, np.random.default_rng((14, seed))
        self.zero = 0.01 * self.rng.standard_normal()

    def write(self, name: str, text: str) -> str:
        (self.folder / name).write_text(text, encoding="utf-8")
        return name

    def density(self, log_h: Array) -> Array:
        return WREN_AS_SLIDE.density("visual", log_h)

    def read(self, log_h: Array) -> list[str]:
        """Return readings to 0.01, with the instrument's scatter and zero."""
        off = self.zero + 0.01 * self.rng.standard_normal(log_h.shape)
        return [f"{d:.2f}" for d in np.maximum(self.density(log_h) + off, 0.0)]

    @property
    def contact(self) -> Array:
        """Log H of the steps: a lamp that is off by a tenth of a stop, a wedge that is off by 0.005 [lux-seconds]."""
        light, wedge = 0.10 * STOP * self.rng.standard_normal(), 0.005 * self.rng.standard_normal(STEPS.size)
        return np.asarray(np.log10(LUX * SECONDS) + light - wedge_21() - wedge)

    @property
    def patches(self) -> str:
        """The three patches of a record."""
        base, unexposed, exposed = (
            f"{WREN_AS_SLIDE.patch(name, 'visual') + self.zero + 0.01 * self.rng.standard_normal():.2f}"
            for name in ("base", "unexposed", "fully_exposed")
        )
        return (
            f"\n[patches]\nbase = {{visual = {base}}}\nunexposed = {{visual = {unexposed}}}\n"
            f"fully_exposed = {{visual = {exposed}}}\n[reader]\nrepeatability = 0.01\n"
        )


Door = Callable[[Strip], tuple[str, ...]]
"""Brings a strip in; returns the words after `curves ei`."""


def typed(strip: Strip) -> tuple[str, ...]:
    strip.write("wren.toml", HEAD + CONTACT + strip.patches)
    entered = enter(strip.folder, "wren", "--stream", typed=strip.read(strip.contact))
    assert entered.returncode == 0, entered.stderr
    return ("wren.toml",)


def table(strip: Strip) -> tuple[str, ...]:
    rows = "".join(f"{n};{d.replace('.', ',')}\n" for n, d in zip(STEPS, strip.read(strip.contact), strict=True))
    return (strip.write("wren.csv", f"step;visual\n{rows}"), *OF_TABLE)


def workbook(strip: Strip) -> tuple[str, ...]:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in [("step", "visual"), *zip(STEPS.tolist(), map(float, strip.read(strip.contact)), strict=True)]:
        book.active.append(row)
    book.save(strip.folder / "wren-readings.xlsx")
    return imported(strip, "wren-readings.xlsx")


def exchange_text(strip: Strip) -> tuple[str, ...]:
    rows = [f"{n} {d}" for n, d in zip(STEPS, strip.read(strip.contact), strict=True)]
    lines = ["CGATS.17", "NUMBER_OF_FIELDS 2", "BEGIN_DATA_FORMAT", "SAMPLE_ID D_VIS", "END_DATA_FORMAT",
             f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *rows, "END_DATA", ""]  # fmt: skip
    return imported(strip, strip.write("wren-readings.txt", "\n".join(lines)))


def imported(strip: Strip, name: str) -> tuple[str, ...]:
    """Import a table of elsewhere."""
    done = run(strip.folder, "import", name, "--into", "wren", "--yes", *OF_TABLE)
    assert done.returncode == 0, done.stderr
    return ("wren.toml",)


def frames(strip: Strip) -> tuple[str, ...]:
    """Expose a grey card in whole stops, each frame off by what a shutter and a diaphragm are off."""
    stops = np.arange(-4.0, 8.0)
    metering, each = 0.17 * strip.rng.standard_normal(), 0.15 * strip.rng.standard_normal(stops.size)
    log_h = np.log10(MID_GREY / 25.0) + STOP * (stops + metering + each)
    rows = "".join(f"{s:g},{d}\n" for s, d in zip(stops, strip.read(log_h), strict=True))
    strip.write("wren.csv", f"stops,visual\n{rows}")
    exposure = '\n[exposure]\nmethod = "frames"\nei = 25\nuncertainty_stops = 0.17\n'
    return (strip.write("wren.toml", HEAD + 'readings = "wren.csv"\n' + exposure + strip.patches),)


def camera(strip: Strip) -> tuple[str, ...]:
    """Photograph a wedge with light behind it, the meter on step 9, with stray light in the lens."""
    metering, wedge = 0.17 * strip.rng.standard_normal(), 0.005 * strip.rng.standard_normal(STEPS.size)
    light = 10.0 ** (wedge_21()[8] - wedge_21() - wedge)
    log_h = np.log10(light + 0.0005 * light.max()) + np.log10(MID_GREY / 25.0) + STOP * metering
    rows = "".join(f"{n},{d}\n" for n, d in zip(STEPS, strip.read(log_h), strict=True))
    strip.write("wren.csv", f"step,visual\n{rows}")
    exposure = (
        '\n[wedge]\ntable = "wedge.csv"\n[exposure]\nmethod = "camera"\nei = 25\nmetered_step = 9\n'
        "offset_stops = 0.0\nflare = 0.0005\nuncertainty_stops = 0.17\n"
    )
    return (strip.write("wren.toml", HEAD + 'readings = "wren.csv"\n' + exposure + strip.patches),)


def scanned(strip: Strip) -> tuple[str, ...]:
    """Scan the strip beside a calibrated wedge and pieces of the film, with a scanner's noise, flare and dust."""
    scene = ScanScene(
        strip.density(strip.contact)[:, None], film=np.array([3.05]), base=np.array([0.04]), width=760, height=400,
        pitch=28.0, across=90.0, angle=1.5, before=50.0, after=50.0, beside=14.0, beyond="gate",
        wedge=wedge_21()[:, None], wedge_pitch=26.0, wedge_across=70.0, wedge_aside=140.0,
        chips=tuple((*place, WREN_AS_SLIDE.patch(name, "visual")) for name, place in CHIPS.items()),
        flare=0.003, grain=0.02, dust=8, dark=DARK / 65535,
    )  # fmt: skip
    picture = scan(scene, int(strip.rng.integers(1000))).picture.astype(np.uint16)
    write(strip.folder / "wren.tif", picture, DPI)
    pieces = [f"--{name.replace('_', '-')}" for name in CHIPS]
    places = [f"{x0 + 10},{y0 + 6},{x1 - 10},{y1 - 6}" for x0, y0, x1, y1 in CHIPS.values()]
    done = run(
        strip.folder, "scan", "wren.tif", "wren", "--yes", "--area", "0,90,760,240", "--known", "wedge.csv",
        "--known-area", "0,240,760,400", "--clear", f"area:{CLEAR_AREA}", "--dark", str(DARK),
        *(word for pair in zip(pieces, places, strict=True) for word in pair), *OF_TABLE[:2], *OF_TABLE[4:],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return ("wren.toml",)


DOORS: dict[str, Door] = {
    "typed": typed,
    "table": table,
    "workbook": workbook,
    "exchange text": exchange_text,
    "frames": frames,
    "camera": camera,
    "scan": scanned,
}


def index_by(door: str, folder: Path, seed: int) -> tuple[float, float]:
    """Return the ends of the interval of the index that one strip gives by a door."""
    words = DOORS[door](Strip(folder, seed))
    shown = run(folder, "ei", *words, "--json", "--draws", "500")
    assert shown.returncode == 0, shown.stderr
    (found,) = json.loads(shown.stdout)["strips"]
    index = found["working_ei"]["recommended"]
    return index["low"], index["high"]


def stated() -> dict[str, float]:
    """Return the half-widths that the manual states, by door [stops]; regression: computed by this code."""
    text = MANUAL.read_text(encoding="utf-8")
    return {door: float(stops) for door, stops in re.findall(r"^\| ([a-z ]+?) +\|.*\| (\d\.\d+) +\|$", text, re.M)}


TRUE = truth_of(lambda x: WREN_AS_SLIDE.density("visual", x)).index


@pytest.mark.parametrize("door", DOORS)
def test_every_door_gives_the_index_within_its_interval_and_as_sharply_as_the_manual_says(
    door: str, tmp_path: Path
) -> None:
    held, widths = [], []
    for seed in range(3):
        folder = tmp_path / f"{seed}"
        folder.mkdir()
        low, high = index_by(door, folder, seed)
        held.append(low <= TRUE <= high)
        widths.append(0.5 * np.log2(high / low))
    assert sum(held) >= 2
    assert float(np.median(widths)) == pytest.approx(stated()[door], abs=0.1)
