"""`curves grain`, as its user runs it: films beside each other through one aperture."""

from __future__ import annotations

import json
from pathlib import Path

import imagecodecs
import numpy as np
import pytest

from tests import scan_demo
from tests.commands.run import run
from tests.files.pictures.dng import write_dng
from tests.scan_cases import bounds, densities
from tests.scan_demo import GATE_AREA, PATCH_AREA, PATCHES, write
from tests.simulate import FOLDER, WREN_AS_SLIDE, Array
from tests.simulate_grain import grain_field
from tests.simulate_scan import ScanScene, scan

HERON, WREN = (str(FOLDER / f"{name}.tif") for name in PATCHES)
LIGHT = ("--clear", f"area:{GATE_AREA}", "--dark", "131", "--patch", PATCH_AREA)


def test_the_demo_patches_have_the_granularity_they_were_made_with(tmp_path: Path) -> None:
    done = run(tmp_path, "grain", HERON, WREN, *LIGHT, "--json")
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)
    assert content["aperture_um"] == 48.0
    assert content["density"] == 1.0
    heron, wren = content["films"]
    for channel, film, name in (
        ("red", heron, "heron-patch"),
        ("green", heron, "heron-patch"),
        ("visual", wren, "wren-patch"),
    ):
        granularity = film["channels"][channel]["patches"][0]["granularity"]
        assert granularity["low"] <= PATCHES[name][1] <= granularity["high"]
    assert content["verdicts"][0]["finer"] == "wren-patch"
    assert (tmp_path / content["page"]).exists()


@pytest.mark.parametrize("name", PATCHES)
def test_the_demo_patches_are_what_the_simulation_makes(name: str) -> None:
    tifffile = pytest.importorskip("tifffile")
    kept = tifffile.imread(FOLDER / f"{name}.tif").astype(int)
    made = np.squeeze(scan_demo.patch(*PATCHES[name])).astype(int)
    # Random numbers and rounding repeat; the last bit of a filter may not.
    assert np.abs(kept - made).max() <= 1


def test_the_page_shows_both_films_at_one_scale(tmp_path: Path) -> None:
    done = run(tmp_path, "grain", HERON, WREN, *LIGHT)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "outputs" / "heron-patch-wren-patch-grain.html").read_text(encoding="utf-8")
    assert page.count("data:image/png;base64,") == 2
    assert "0.2 mm" in page
    assert "wren-patch is finer than heron-patch" in page
    assert "Plotly" not in page


def scanned(path: Path, dpi: int, field: Array, pitch: float) -> str:
    """Write a scan of a field of grain about density 1 and return its name; the empty gate lies on its left."""
    factor = round(25400.0 / dpi / pitch)
    rows, columns = (n // factor for n in field.shape)
    light = 10.0 ** -(1.0 + field[: rows * factor, : columns * factor])
    light = light.reshape(rows, factor, columns, factor).mean(axis=(1, 3))
    rng = np.random.default_rng(dpi)
    picture = np.concatenate([np.ones((rows, 60)), light], axis=1) * 0.9
    picture += np.sqrt(1e-8 + picture / 4e5) * rng.standard_normal(picture.shape)
    write(path, np.rint(65535 * np.clip(picture, 0, 1)).astype(np.uint16), dpi)
    return path.name


def test_the_same_grain_scanned_at_2400_and_4800_dpi_agrees(tmp_path: Path) -> None:
    pitch = 25400.0 / 9600.0
    field = grain_field(1100, 1100, pitch, 12.0, 4.0, np.random.default_rng(9))
    names = [scanned(tmp_path / f"at-{dpi}.tif", dpi, field, pitch) for dpi in (2400, 4800)]
    done = run(
        tmp_path, "grain", names[0], "--json", "--clear", "area:2,2,58,270", "--dark", "0", "--patch", "62,2,330,270"
    )
    other = run(
        tmp_path, "grain", names[1], "--json", "--clear", "area:2,2,58,540", "--dark", "0", "--patch", "62,2,600,540"
    )
    assert done.returncode == other.returncode == 0, done.stderr + other.stderr
    coarse, fine = (json.loads(d.stdout)["films"][0]["channels"]["visual"]["granularity"] for d in (done, other))
    assert coarse["low"] < fine["value"] < coarse["high"]
    assert fine["low"] < coarse["value"] < fine["high"]
    assert coarse["low"] < 12.0 < coarse["high"]


def test_scans_of_different_resolution_and_a_scale_that_the_file_denies_are_warned_of(tmp_path: Path) -> None:
    done = run(tmp_path, "grain", HERON, WREN, *LIGHT, "--dpi", "2400", "--dpi", "4800")
    assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "Scans of different resolution" in told
    assert "the scan is taken as 4800 dpi, but the file states 2400" in told


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((HERON, "--patch", PATCH_AREA), "the clear light is not given"),
        ((HERON, *LIGHT, "--aperture", "24"), "3"),
        ((HERON, *LIGHT[:4], "--patch", "60,10,90,40"), "100"),
        ((HERON, *LIGHT[:4]), "a part of it shows the light"),
        (
            (HERON, WREN, HERON, *LIGHT, "--dpi", "2400", "--dpi", "4800"),
            "--dpi: 2 values are given; needed: one, or one for each of 3 films",
        ),
        ((HERON, HERON, *LIGHT), "two films have this name"),
        ((HERON, *LIGHT, "--calibration", "none.toml"), "there is no such file"),
        ((str(FOLDER / "wren-reversal.toml"), *LIGHT), "the strip was not scanned"),
        ((str(FOLDER / "wren-scan.toml"),), "dpi"),
    ],
)
def test_what_cannot_be_measured_is_refused_with_what_would_do(
    tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    done = run(tmp_path, "grain", *words)
    assert done.returncode == 1
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_density_that_no_patch_is_near_has_no_number(tmp_path: Path) -> None:
    done = run(tmp_path, "grain", WREN, *LIGHT, "--density", "2.0", "--json")
    assert done.returncode == 0, done.stderr
    granularity = json.loads(done.stdout)["films"][0]["channels"]["visual"]["granularity"]
    assert granularity["value"] is None
    assert "lies above" in granularity["why"]


def test_the_steps_of_a_scanned_strip_give_granularity_against_density(tmp_path: Path) -> None:
    film, base = bounds(WREN_AS_SLIDE)
    scene = ScanScene(
        densities(WREN_AS_SLIDE, 11, 0.30, 0.9), film, base, width=1000, height=400, pitch=80.0, across=120.0,
        before=50.0, after=50.0, beyond="gate", grain=0.03, blur=0.3,
    )  # fmt: skip
    write(tmp_path / "strip.tif", scan(scene, 4).picture.astype(np.uint16), 2400)
    lamp = ("--kind", "reversal", "--wedge", "11x0.30", "--lux", "500", "--seconds", "0.02")
    done = run(tmp_path, "scan", "strip.tif", "wren", "--clear", "area:4,4,60,30", "--dark", "131", *lamp, "--yes")
    assert done.returncode == 0, done.stderr
    found = run(tmp_path, "grain", "wren.toml", "--clear", "area:20,4,300,80", "--json")
    assert found.returncode == 0, found.stderr
    film_found = json.loads(found.stdout)["films"][0]
    visual = film_found["channels"]["visual"]
    patches = [p for p in visual["patches"] if p["granularity"]["value"] is not None]
    by_step = [p["density"] for p in patches]
    assert by_step == sorted(by_step)
    assert len(patches) >= 8
    # The simulation's grain grows with the root of density: so does what is measured, in the mean.
    d = np.array([p["density"] for p in patches])
    g = np.array([p["granularity"]["value"] for p in patches])
    dense = (d > 0.3) & (d < 2.2)
    slope = np.polyfit(np.log(d[dense] - 0.04), np.log(g[dense]), 1)[0]
    assert slope == pytest.approx(0.5, abs=0.15)
    assert visual["granularity"]["low"] < visual["granularity"]["value"] < visual["granularity"]["high"]


def test_a_value_beside_a_calibration_is_refused_and_not_passed_over(tmp_path: Path) -> None:
    calibration = str(FOLDER / "wren-scan-calibration.toml")
    done = run(tmp_path, "grain", WREN, "--calibration", calibration, "--clear", "60000")
    assert done.returncode == 1
    assert "--clear: a value is given, but the calibration gives it already" in done.stderr
    encoded = run(tmp_path, "grain", WREN, "--calibration", calibration, "--encoding", "srgb")
    assert encoded.returncode == 1
    assert "the calibration was made for linear pictures" in encoded.stderr


def test_pictures_in_which_grain_is_no_longer_what_it_was_are_refused(tmp_path: Path) -> None:
    grey = np.full((400, 400), 128, np.uint8)
    (tmp_path / "a.jpg").write_bytes(imagecodecs.jpeg8_encode(grey, level=99))
    write_dng(tmp_path / "a.dng", np.full((400, 400), 2000, np.uint16))
    words = ("--clear", "250", "--encoding", "srgb", "--dpi", "4800", "--patch", "10,10,150,150")
    assert "a JPEG, whose packing smooths grain away" in run(tmp_path, "grain", "a.jpg", *words).stderr
    done = run(tmp_path, "grain", "a.dng", "--clear", "60000", "--dpi", "4800", "--patch", "10,10,150,150")
    assert "a camera's raw file, whose cells do not see the film evenly" in done.stderr
