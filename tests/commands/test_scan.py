"""`curves scan`, as its user runs it: from a picture to a strip record, or to a refusal and a page that shows why."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from curves import analyse, load_strip
from tests import scan_demo
from tests.commands.run import run
from tests.draws import FEW_DRAWS
from tests.scan_cases import bounds, densities
from tests.simulate import FOLDER, HERON_NEGATIVE, WREN_AS_SLIDE, Array
from tests.simulate_scan import Made, ScanScene, scan

LAMP = ("--kind", "reversal", "--wedge", str(FOLDER / "wedge-21.csv"), "--lux", "500", "--seconds", "0.02")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK))
KNOWN = ("--known", str(FOLDER / "wedge-21.csv"), "--known-area", scan_demo.KNOWN_AREA)
WHERE = ("--area", scan_demo.AREA)
PICTURE = str(FOLDER / "wren-scan.tif")


def read(path: Path, channel: str = "visual") -> Array:
    with path.open(encoding="utf-8", newline="") as file:
        return np.array([float(row[channel] or "nan") for row in csv.DictReader(file)])


def within(found: Array, true: Array) -> bool:
    """Return whether densities are as near as a scan with a calibration wedge must bring them."""
    allowed = np.select([true < 2.0, true < 2.5, true < 3.0], [0.01, 0.02, 0.03], 0.05)
    return bool((np.abs(found - true) < allowed).all())


@pytest.fixture(scope="module")
def by_wedge(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with what the demo scan gives by its calibration wedge, named wren."""
    folder = tmp_path_factory.mktemp("by_wedge")
    done = run(folder, "scan", PICTURE, "wren", *LIGHT, *KNOWN, *WHERE, *LAMP, "--yes")
    assert done.returncode == 0, done.stderr
    return folder


def test_the_demo_scan_becomes_a_strip_whose_densities_are_true(by_wedge: Path) -> None:
    assert within(read(by_wedge / "wren.csv"), scan_demo.strip_densities()[:, 0])
    strip = load_strip(by_wedge / "wren.toml")
    assert strip.density == "scan"
    assert strip.scan is not None
    assert strip.scan.by_wedge
    found = analyse(strip, FEW_DRAWS)
    assert found.channels["visual"].steps[9].remark == "18% of it is left out as dust or scratches"
    codes = {warning.code for warning in found.warnings}
    assert {"scan-density", "scan-dust"} <= codes
    assert "scan-flare" not in codes
    assert all(not speed.conforms for speed in found.speeds.values())
    assert any("scan" in why for speed in found.speeds.values() for why in speed.why_not)


def test_every_patch_is_on_the_page_with_its_number_density_and_flag(by_wedge: Path) -> None:
    page = (by_wedge / "outputs" / "wren-patches.html").read_text(encoding="utf-8")
    density = read(by_wedge / "wren.csv")
    assert page.count('class="measured"') == 20
    assert page.count('class="flagged"') == 1
    # The wedge's 21 steps, and the area that clear was measured in.
    assert page.count('class="known"') == 22
    shown = [float(d) for d in re.findall(r"<title>step \d+: visual (\d\.\d\d)</title>", page)]
    assert shown == pytest.approx(density, abs=0.0056)
    assert "18% of it is left out as dust or scratches" in page
    assert "data:image/png;base64," in page
    assert "plotly" not in page.casefold()
    assert not re.search(r'(href|src)="http', page)


def test_the_demo_record_is_what_the_scan_gives_today(tmp_path: Path) -> None:
    pieces = ("--base", "50,22,150,54", "--unexposed", "200,22,300,54", "--fully-exposed", "450,22,550,54")
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *KNOWN, *WHERE, *pieces, *LAMP, "--yes")
    assert done.returncode == 0, done.stderr
    assert read(tmp_path / "wren.csv") == pytest.approx(read(FOLDER / "wren-scan.csv"), abs=0.0011)
    found, kept = load_strip(tmp_path / "wren.toml").patches, load_strip(FOLDER / "wren-scan.toml").patches
    for name in ("base", "unexposed", "fully_exposed"):
        assert getattr(found, name)["visual"] == pytest.approx(getattr(kept, name)["visual"], abs=0.0011)
        assert getattr(found, name)["visual"] == pytest.approx(WREN_AS_SLIDE.patch(name, "visual"), abs=0.03)


def test_the_demo_picture_is_what_the_simulation_makes() -> None:
    tifffile = pytest.importorskip("tifffile")
    # Random numbers and rounding repeat; the last bit of a blur may not.
    kept = tifffile.imread(FOLDER / "wren-scan.tif").astype(int)
    assert np.abs(kept - scan_demo.made().picture[..., 0]).max() <= 1
    assert (FOLDER / "wren-scan.tif").stat().st_size < 1_000_000


def test_a_calibration_is_kept_and_serves_another_scan(tmp_path: Path, by_wedge: Path) -> None:
    kept = str(by_wedge / "wren-calibration.toml")
    done = run(tmp_path, "scan", PICTURE, "two", "--calibration", kept, *WHERE, *LAMP, "--yes")
    assert done.returncode == 0, done.stderr
    assert read(tmp_path / "two.csv") == pytest.approx(read(by_wedge / "wren.csv"), abs=0.0011)
    assert not (tmp_path / "two-calibration.toml").exists()


def test_without_a_calibration_wedge_dense_steps_are_told_to_be_suspect(tmp_path: Path) -> None:
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *WHERE, *LAMP, "--json", "--yes")
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)
    assert content["format"] == 1
    assert not content["scan"]["by_wedge"]
    assert any("suspect" in w["message"] for w in content["scan"]["warnings"])
    found = analyse(load_strip(tmp_path / "wren.toml"), FEW_DRAWS)
    assert "scan-flare" in {warning.code for warning in found.warnings}
    # What the warning is about: flare of 0.4 % hides half of what lies at density 3.
    true = scan_demo.strip_densities()[:, 0]
    assert true[-1] - read(tmp_path / "wren.csv")[-1] > 0.5


def test_steps_that_are_not_certain_write_a_page_and_nothing_else(tmp_path: Path) -> None:
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *LAMP, "--area", "0,0,400,120", "--yes")
    assert done.returncode == 1
    assert "the steps are not certain" in done.stderr
    assert "outputs/wren-patches.html shows where the search ended" in done.stderr
    page = (tmp_path / "outputs" / "wren-patches.html").read_text(encoding="utf-8")
    assert "Nothing was written but this page." in page
    assert [p.name for p in tmp_path.iterdir()] == ["outputs"]


def test_the_wrong_kind_is_told(tmp_path: Path) -> None:
    lamp = ("--kind", "negative", *LAMP[2:])
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *WHERE, *lamp, "--yes")
    assert done.returncode == 1
    assert "if the film is a reversal, say so; else give the corners (--kind or --corners)" in done.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((*LAMP,), "clear, the light of the empty gate, is not given"),
        ((*LIGHT, *LAMP, "--corners", "1,2 3,4"), "is not four corners"),
        ((*LIGHT, *LAMP, "--area", "0,0,9000,10"), "the place lies outside the picture"),
        ((*LIGHT, *LAMP, "--known", "21x0.15"), "the place of the calibration wedge is not given"),
        ((*LIGHT, *LAMP, "--encoding", "log"), "'log' is not an encoding"),
        ((*LIGHT, "--kind", "reversal", "--ei", "80", "--patches", "none.csv"), "there is no such file"),
        ((*LIGHT, "--kind", "reversal"), "the exposure of the strip is not given"),
        (("--clear", "70000", *LAMP), "is off the scale of this picture"),
        (("--clear", "100", "--dark", "131", *LAMP), "clear is not brighter than dark"),
        (
            (*LIGHT, *LAMP, "--known-image", "none.tif"),
            "--known-image: the place of a calibration wedge is given, but not its densities",
        ),
        (
            (*LIGHT, *LAMP, *KNOWN, "--known-corners", "1,1 1,9 9,9 9,1"),
            "leave out this one or the other (--known-area)",
        ),
        ((*LIGHT, *LAMP, *WHERE, "--corners", "1,1 1,9 9,9 9,1"), "leave out this one or the other (--area)"),
        ((*LIGHT, *LAMP, "--area", "0,0,400,2"), "nothing in the picture looks like 21 steps"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words_and_writes_nothing(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    done = run(tmp_path, "scan", PICTURE, "wren", *words, "--yes")
    assert done.returncode == 1
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.glob("wren*"))


@pytest.mark.parametrize("command", [("scan", PICTURE, ""), ("enter", ""), ("import", PICTURE, "--into", "")])
def test_a_name_that_is_none_is_refused(tmp_path: Path, command: tuple[str, ...]) -> None:
    done = run(tmp_path, *command)
    assert done.returncode == 1
    assert "NAME: '.' is not the name of a file; needed: a name such as heron-7." in done.stderr
    assert "Traceback" not in done.stderr


def test_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "wren.csv").write_text("mine", encoding="utf-8")
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *WHERE, *LAMP, "--yes")
    assert done.returncode == 1
    assert "there is already such a file" in done.stderr
    assert (tmp_path / "wren.csv").read_text(encoding="utf-8") == "mine"


def test_files_that_a_killed_scan_left_are_its_own(tmp_path: Path) -> None:
    words = ("scan", PICTURE, "wren", *LIGHT, *WHERE, *LAMP, "--yes")
    assert run(tmp_path, *words).returncode == 0
    made = [tmp_path / name for name in ("wren-calibration.toml", "wren-patches.csv", "wren.csv", "wren.toml")]
    before = [path.read_bytes() for path in made]
    for left in (1, 2, 3):
        for path in made[left:]:
            path.unlink()
        done = run(tmp_path, *words)
        assert done.returncode == 0, done.stderr
        assert [path.read_bytes() for path in made] == before
    assert "there is already such a file" in run(tmp_path, *words).stderr


def test_a_person_is_asked_and_may_say_no(tmp_path: Path) -> None:
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *WHERE, *LAMP, typed="n\n")
    assert done.returncode == 0
    assert "No record was written." in done.stdout
    assert not list(tmp_path.glob("wren*"))


def coloured(**changed: Any) -> Made:
    """Return a scan of a colour negative: 11 steps through 0.30, in an open gate."""
    film, base = bounds(HERON_NEGATIVE)
    known: dict[str, Any] = {
        "densities": densities(HERON_NEGATIVE, 11, 0.30, 1.6), "film": film, "base": base, "width": 560,
        "height": 240, "pitch": 38.0, "before": 40.0, "after": 40.0, "across": 80.0, "beyond": "gate", "grain": 0.01,
    }  # fmt: skip
    return scan(ScanScene(**{**known, **changed}), 3)


def corners_of(made: Made) -> tuple[str, str]:
    """Return the option that tells where the steps lie: the search for them is tested by itself, and takes long."""
    return "--corners", " ".join(f"{x:.1f},{y:.1f}" for x, y in made.corners)


def srgb(light: Array) -> Array:
    # IEC 61966-2-1.
    return np.asarray(np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055))


NEGATIVE = ("--kind", "negative", "--wedge", "11x0.30", "--lux", "2000", "--seconds", "0.02")


def test_three_layers_are_read_from_a_colour_scan_encoded_for_display(tmp_path: Path) -> None:
    made = coloured(encode=srgb)
    scan_demo.write(tmp_path / "strip.tif", made.picture.astype(np.uint16), 100)
    light = ("--clear", "area:4,4,60,30", "--dark", "0.002")
    encoded_dark = str(round(65535 * float(srgb(np.array(0.002)))))
    done = run(
        tmp_path, "scan", "strip.tif", "heron", *light[:2], "--dark", encoded_dark, "--encoding", "srgb", *NEGATIVE,
        "--yes",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for i, channel in enumerate(("red", "green", "blue")):
        true = made.densities[:, i]
        assert read(tmp_path / "heron.csv", channel) == pytest.approx(true, abs=0.02)
    # Read as linear, the same file is far off: said by the page where codes show it, never mended in silence.
    words = (*light[:2], "--dark", encoded_dark, *corners_of(made), *NEGATIVE)
    wrong = run(tmp_path, "scan", "strip.tif", "wrong", *words, "--yes")
    assert wrong.returncode == 0, wrong.stderr
    assert np.abs(read(tmp_path / "wrong.csv", "red") - made.densities[:, 0]).max() > 0.5


def test_a_clipped_step_is_left_empty_and_said(tmp_path: Path) -> None:
    made = coloured(clear=8.0)
    scan_demo.write(tmp_path / "strip.tif", made.picture.astype(np.uint16), 100)
    done = run(
        tmp_path, "scan", "strip.tif", "heron", "--clear", "65535", "--dark", "131", *NEGATIVE, "--json", "--yes"
    )
    assert done.returncode == 0, done.stderr
    patches = json.loads(done.stdout)["scan"]["patches"]
    clipped = [p["step"] for p in patches if any(f["code"] == "clipped-clear" for f in p["flags"])]
    assert clipped
    assert np.isnan(read(tmp_path / "heron.csv", "red")[int(clipped[-1]) - 1])


def test_frames_of_a_grey_card_are_read_from_a_table_of_rectangles(tmp_path: Path) -> None:
    made = coloured()
    scan_demo.write(tmp_path / "frames.tif", made.picture.astype(np.uint16), 100)
    middles = [0.5 * (a + b) for a, b in zip(made.corners[[0, 1]], made.corners[[3, 2]], strict=True)]
    centre_y = float(np.mean([m[1] for m in middles]))
    left = float(made.corners[0, 0])
    rows = [
        f"{5 - k},{left + 38 * k + 10:.0f},{centre_y - 20:.0f},{left + 38 * k + 28:.0f},{centre_y + 20:.0f}"
        for k in range(11)
    ]
    (tmp_path / "frames.csv").write_text("\n".join(["stops,left,top,right,bottom", *rows]) + "\n", encoding="utf-8")
    done = run(
        tmp_path, "scan", "frames.tif", "card", "--clear", "area:4,4,60,30", "--dark", "131", "--patches", "frames.csv",
        "--kind", "negative", "--ei", "80", "--yes",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    strip = load_strip(tmp_path / "card.toml")
    assert strip.exposure.positions[0] == "stops"
    assert list(strip.position) == [5.0 - k for k in range(11)]
    assert read(tmp_path / "card.csv", "green") == pytest.approx(made.densities[:, 1], abs=0.02)


def grey(**changed: Any) -> Made:
    """Return a scan of the black-and-white slide: 21 steps through 0.15, in an open gate."""
    film, base = bounds(WREN_AS_SLIDE)
    known: dict[str, Any] = {
        "densities": densities(WREN_AS_SLIDE, 21, 0.15, 0.9), "film": film, "base": base, "width": 720,
        "height": 260, "pitch": 28.0, "before": 40.0, "after": 40.0, "across": 80.0, "beyond": "gate", "grain": 0.005,
    }  # fmt: skip
    return scan(ScanScene(**{**known, **changed}), 5)


SLIDE = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02")


def scanned(folder: Path, made: Made, *words: str, name: str = "wren") -> str:
    """Scan a picture whose corners are given and return what is told."""
    scan_demo.write(folder / f"{name}.tif", made.picture.astype(np.uint16), 100)
    done = run(folder, "scan", f"{name}.tif", f"{name}-strip", *corners_of(made), *words, *SLIDE, "--yes")
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


@pytest.mark.parametrize("flare", [0.0, pytest.param(0.002, marks=pytest.mark.slow), 0.004])
def test_flare_that_no_wedge_tells_is_in_the_intervals_of_every_number(tmp_path: Path, flare: float) -> None:
    scanned(tmp_path, grey(flare=flare / 0.7), "--clear", "area:4,4,60,30", "--dark", "131")
    found = analyse(load_strip(tmp_path / "wren-strip.toml"), FEW_DRAWS).channels["visual"]
    reached = found.measures["dmax_reached"] if "dmax_reached" in found.measures else found.measures["dmax"]
    true = float(grey().densities.max())
    assert reached.value is not None
    assert reached.high is not None
    assert true < reached.high
    assert reached.high - reached.value > 0.25  # with a calibration wedge: a few hundredths
    gamma = found.measures["gamma"]
    assert gamma.high is not None
    # A straight line fitted to the true densities of the middle steps.
    d = grey().densities[6:13, 0]
    assert gamma.high > np.polyfit(0.15 * np.arange(7), d, 1)[0]


def test_the_scans_scale_is_a_source_of_its_own_and_says_what_would_shrink_it(tmp_path: Path) -> None:
    scanned(tmp_path, grey(), "--clear", "area:4,4,60,30", "--dark", "131")
    done = run(tmp_path, "measure", "wren-strip.toml", "--budget", "gamma")
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "the scan's scale" in told
    assert "scan a calibration wedge of known densities" in told


def test_a_lamp_that_changed_since_the_calibration_is_told(tmp_path: Path) -> None:
    scanned(tmp_path, grey(), "--clear", "area:4,4,60,30", "--dark", "131", name="one")
    told = scanned(tmp_path, grey(clear=0.82), "--calibration", "one-strip-calibration.toml", name="two")
    # 0.82 to 0.90 is 0.91; noise lifts the brightest place a little.
    assert "The brightest place of the picture has 0.92 of the clear light" in told
    assert "densities are off by 0.04" in told
    again = scanned(tmp_path, grey(), "--calibration", "one-strip-calibration.toml", name="three")
    assert "The brightest place" not in again


def test_a_gate_at_the_end_of_the_scale_is_told(tmp_path: Path) -> None:
    told = scanned(tmp_path, grey(clear=1.4), "--clear", "65535", "--dark", "131")
    assert "the light of the gate is not known" in told


def test_clear_that_was_measured_on_film_is_told(tmp_path: Path) -> None:
    made = grey()
    middle = made.corners.mean(axis=0)
    left = float(made.corners[:2, 0].min())
    area = f"area:{left + 3:.0f},{middle[1] - 20:.0f},{left + 25:.0f},{middle[1] + 20:.0f}"
    assert "Step 1 is as bright as clear, which no film is" in scanned(tmp_path, made, "--clear", area, "--dark", "131")


def test_uneven_light_is_told_to_be_unknown_unless_the_empty_gate_was_scanned(tmp_path: Path) -> None:
    made = grey(fall_off=0.2)
    told = scanned(tmp_path, made, "--clear", "area:300,4,420,30", "--dark", "131")
    assert "light is assumed to be even, with a standard uncertainty of 0.01 of density" in told
    scan_demo.write(tmp_path / "gate.tif", made.empty.astype(np.uint16), 100)
    assert "assumed to be even" not in scanned(tmp_path, made, "--clear", "gate.tif", "--dark", "131", name="two")
    true = made.densities[:12, 0]
    assert read(tmp_path / "two-strip.csv")[:12] == pytest.approx(true, abs=0.01)
    assert np.abs(read(tmp_path / "wren-strip.csv")[:12] - true).max() > 0.02


def test_corners_that_begin_on_the_long_side_are_refused(tmp_path: Path) -> None:
    made = grey()
    scan_demo.write(tmp_path / "strip.tif", made.picture.astype(np.uint16), 100)
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in np.roll(made.corners, 1, axis=0))
    light = ("--clear", "area:4,4,60,30", "--dark", "131")
    done = run(tmp_path, "scan", "strip.tif", "wren", *light, "--corners", corners, *SLIDE, "--yes")
    assert done.returncode == 1
    assert "patches are far from even, as if each held several steps" in done.stderr
    assert "begin the corners at step 1's outer edge" in done.stderr
    assert not list(tmp_path.glob("wren*"))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--steps", "22"), "--steps: the wedge has 21 steps, not 22"),
        (("--ei", "50"), "--ei and --lux or --seconds are both given"),
        (("--lux", "bright"), "--lux: 'bright' is not a number"),
    ],
)
def test_options_that_contradict_are_refused_before_anything_is_read(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    done = run(tmp_path, "scan", PICTURE, "wren", *LIGHT, *WHERE, *LAMP, *words, "--yes")
    assert done.returncode == 1
    assert told in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_wedge_named_from_where_one_stands_is_found_from_the_record(tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    (tmp_path / "w.csv").write_bytes((FOLDER / "wedge-21.csv").read_bytes())
    lamp = ("--kind", "reversal", "--wedge", "w.csv", "--lux", "500", "--seconds", "0.02")
    done = run(tmp_path, "scan", PICTURE, "deep/wren", *LIGHT, *WHERE, *lamp, "--yes")
    assert done.returncode == 0, done.stderr
    assert load_strip(tmp_path / "deep" / "wren.toml").wedge is not None
    assert 'table = "../w.csv"' in (tmp_path / "deep" / "wren.toml").read_text(encoding="utf-8")
