"""`curves balance`, as its user runs it: a film scanned with its strip, corrected, read back by other readers."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
import tifffile

from tests.commands.run import Outcome, run
from tests.scan_demo import write
from tests.simulate import FOLDER, HERON_AS_SLIDE, Array, wedge_21
from tests.simulate_scan import ScanScene, scan

LAYERS = ("red", "green", "blue")
PROFILE = b"an invented profile" * 20
HERON = str(FOLDER / "heron-reversal.toml")
FEW = ("--draws", "48")


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the scan of a colour strip, and the record that `curves scan` made of it."""
    folder = tmp_path_factory.mktemp("colour")
    log_h: Array = np.log10(0.02 * 1581.0) - wedge_21()
    scene = ScanScene(
        np.stack([HERON_AS_SLIDE.density(c, log_h) for c in LAYERS], axis=1),
        film=np.array([HERON_AS_SLIDE.patch("unexposed", c) for c in LAYERS]),
        base=np.array([HERON_AS_SLIDE.patch("base", c) for c in LAYERS]),
        width=460, height=140, pitch=18.0, across=50.0, before=20.0, after=20.0, beside=10.0, beyond="gate",
        grain=0.005, noise=8e-5, dark=131 / 65535,
    )  # fmt: skip
    made = scan(scene, 3)
    write(folder / "strip.tif", made.picture.astype(np.uint16), 150)
    done = run(
        folder, "scan", "strip.tif", "strip", "--corners", " ".join(f"{x:.1f},{y:.1f}" for x, y in made.corners),
        "--clear", "area:5,5,455,25", "--dark", "131", "--kind", "reversal",
        "--wedge", "21x0.15@0.055", "--lux", "1581", "--seconds", "0.02", "--dpi", "150",
        "--encoding", "linear", "--yes",
    )  # fmt: skip
    assert done.returncode in (0, 3), done.stderr
    return folder


@pytest.fixture
def folder(shelf: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(shelf, tmp_path / "data"))


def balance(folder: Path, *words: str) -> Outcome:
    return run(folder, "balance", *words, *FEW)


def read_common_lut(path: Path) -> tuple[dict[str, str], Array]:
    """Return the attributes of the LUT1D of a file and its array, (entries, components)."""
    root = ElementTree.parse(path).getroot()
    space = root.tag.removesuffix("ProcessList")
    node = root.find(f"{space}LUT1D")
    assert node is not None
    array = node.find(f"{space}Array")
    assert array is not None
    assert array.text is not None
    shape = tuple(int(n) for n in array.attrib["dim"].split())
    return node.attrib, np.array(array.text.split(), dtype=float).reshape(shape)


def test_map_table_and_picture_are_one_correction_and_other_readers_find_it(folder: Path) -> None:
    before = (folder / "strip.tif").read_bytes()
    done = balance(
        folder, "strip.toml", "--lut", "a.clf", "--csv", "a.csv", "--apply", "strip.tif", "--into", "b.tif", "--json"
    )
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)["balance"]
    assert content["scanned"]
    assert content["files"] == {
        "page": "outputs/strip-balance.html",
        "lut": "a.clf",
        "csv": "a.csv",
        "picture": "b.tif",
    }
    depths, table = read_common_lut(folder / "a.clf")
    assert (depths["inBitDepth"], depths["outBitDepth"]) == ("16i", "16i")
    assert table.shape == (65536, 3)
    assert (np.diff(table, axis=0) >= 0).all()
    listed = pd.read_csv(folder / "a.csv")
    assert list(listed.columns) == ["number", *LAYERS]
    assert np.array_equal(listed[list(LAYERS)].to_numpy(), table)
    source, made = (tifffile.imread(folder / name) for name in ("strip.tif", "b.tif"))
    assert made.dtype == np.uint16
    assert np.array_equal(np.stack([table[source[..., i], i] for i in range(3)], axis=-1), made)
    assert (folder / "strip.tif").read_bytes() == before
    page = (folder / "outputs" / "strip-balance.html").read_text(encoding="utf-8")
    assert page.count("data:image/png;base64,") == 2
    assert any("lie beyond the densities" in note for note in content["notes"])


def test_the_steps_of_the_strip_are_neutral_in_the_corrected_picture(folder: Path) -> None:
    assert balance(folder, "strip.toml", "--apply", "strip.tif", "--into", "b.tif").returncode == 0
    made = tifffile.imread(folder / "b.tif") / 65535.0
    places = pd.read_csv(folder / "strip-patches.csv", comment="#")
    densities = []
    for corners in places[[f"{axis}{n}" for axis in "xy" for n in range(1, 5)]].to_numpy(float):
        xs, ys = corners[:4], corners[4:]
        part = made[int(min(ys)) + 3 : int(max(ys)) - 3, int(min(xs)) + 3 : int(max(xs)) - 3]
        densities.append(-np.log10(part.mean(axis=(0, 1))))
    steps = np.array(densities)
    assert len(steps) == 21
    # The goal: greys within 0.02 of neutral; grain is averaged as light, which the darkest steps feel.
    assert np.abs(steps - steps.mean(axis=1, keepdims=True)).max() < 0.02
    assert np.ptp(steps[:, 1]) > 2.0


def test_profile_and_resolution_are_kept_and_16_bits_stay_16(folder: Path) -> None:
    values = np.random.default_rng(1).integers(200, 60000, (30, 40, 3)).astype(np.uint16)
    tifffile.imwrite(folder / "frame.tif", values, photometric="rgb", resolution=(2400, 2400), resolutionunit="INCH",
                     iccprofile=PROFILE, metadata=None)  # fmt: skip
    done = balance(folder, "strip.toml", "--apply", "frame.tif", "--into", "out.tif", "--gamma", "1.6")
    assert done.returncode == 0, done.stderr
    with tifffile.TiffFile(folder / "out.tif") as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert page.dtype == np.uint16
        assert page.tags["XResolution"].value == (2400, 1)
        assert page.tags["InterColorProfile"].value == PROFILE
    assert "greys at gamma 1.6" in done.stdout
    assert "it makes in the pictures too, and that cancels" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (
            ("--apply", "strip.tif"),
            "--apply: a picture to correct and the name of the corrected picture belong together",
        ),
        (("--into", "b.tif"), "--into: a picture to correct"),
        (("--apply", "strip.tif", "--into", "strip.tif"), "this is the picture itself, which is not changed"),
        (("--apply", "strip.tif", "--into", "grey.tif"), "grey.tif: there is already such a file"),
        (("--apply", "strip.tif", "--into", "strip.csv"), "strip.csv is not the name of a TIFF file"),
        (("--apply", "strip.tif", "--into", "b.png"), "b.png is not the name of a TIFF file"),
        (("--apply", "none.tif", "--into", "b.tif"), "there is no such file"),
        (("--apply", "eight.tif", "--into", "b.tif"), "the picture has 8 bits; needed: a TIFF file of 16 bits"),
        (("--apply", "grey.tif", "--into", "b.tif"), "the picture is grey, and the strip was read in colour"),
        (("--lut", "strip.csv"), "there is already such a file"),
        (("--gamma", "9"), "9"),
        (("--lut", "a.clf", "--clear", "60000"), "a calibration gives clear and dark already"),
        (("--lut", "a.clf", "--encoding", "log"), "'log' is not an encoding"),
    ],
)
def test_what_would_lose_something_is_refused(folder: Path, words: tuple[str, ...], fault: str) -> None:
    write(folder / "grey.tif", np.full((9, 9), 9999, np.uint16), 150)
    tifffile.imwrite(folder / "eight.tif", np.full((9, 9, 3), 99, np.uint8), photometric="rgb", metadata=None)
    there = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    done = balance(folder, "strip.toml", *words)
    assert done.returncode == 1
    assert fault in done.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == there


def test_a_run_that_was_killed_before_its_last_file_is_finished_by_the_same_command(folder: Path) -> None:
    words = ("strip.toml", "--lut", "a.clf", "--csv", "a.csv", "--apply", "strip.tif", "--into", "b.tif")
    assert balance(folder, *words).returncode == 0
    page = folder / "outputs" / "strip-balance.html"
    whole = page.read_bytes()
    for missing in (page, folder / "a.csv"):
        missing.unlink()
    done = balance(folder, *words)
    assert done.returncode == 0, done.stderr
    assert (folder / "a.csv").exists()
    assert page.read_bytes() == whole


def test_a_strip_of_a_densitometer_opens_no_picture_until_its_owner_says_so(tmp_path: Path) -> None:
    refused = balance(tmp_path, HERON, "--lut", "a.clf")
    assert refused.returncode == 1
    assert "the strip was not scanned: its densities (status A)" in refused.stderr
    assert "scan the strip (curves scan), and balance by that record" in refused.stderr
    assert "--other-reader" in refused.stderr
    asked = balance(tmp_path, HERON, "--lut", "a.clf", "--other-reader")
    assert "the light of the open gate is not given" in asked.stderr
    assert "--clear 60000" in asked.stderr
    asked = balance(tmp_path, HERON, "--lut", "a.clf", "--other-reader", "--clear", "60000")
    assert "the rule by which the picture's numbers follow light is not given" in asked.stderr
    words = ("--other-reader", "--clear", "60000,61000,59000", "--dark", "131", "--encoding", "srgb")
    done = balance(tmp_path, HERON, "--lut", "a.clf", *words)
    assert done.returncode == 0, done.stderr
    told = "The strip was not scanned: its densities are status A"
    assert told in done.stdout
    assert "and no scan has those" in " ".join(done.stdout.split())
    assert told in (tmp_path / "a.clf").read_text(encoding="utf-8")
    assert told in (tmp_path / "outputs" / "heron-reversal-balance.html").read_text(encoding="utf-8")


def test_a_black_and_white_slide_has_nothing_to_balance_but_its_contrast(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(FOLDER, tmp_path / "data"))
    refused = balance(folder, "wren-scan.toml")
    assert refused.returncode == 1
    assert "which is neutral already" in refused.stderr
    assert "--gamma 1.0" in refused.stderr
    done = balance(folder, "wren-scan.toml", "--gamma", "1.2", "--apply", "wren-scan.tif", "--into", "w.tif",
                   "--lut", "w.clf")  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "there is no cast to take out" in done.stdout
    # Nothing is said of colours, which the film does not have.
    assert not {"colour", "Colour", "cast:"} & set(done.stdout.split())
    assert tifffile.imread(folder / "w.tif").ndim == 2
    assert read_common_lut(folder / "w.clf")[1].shape == (65536, 1)


def test_a_negative_becomes_a_positive(tmp_path: Path) -> None:
    done = balance(tmp_path, str(FOLDER / "heron-negative.toml"), "--json")
    content = json.loads(done.stdout)["balance"]
    targets = [tone["target"] for tone in content["tones"]]
    assert targets == sorted(targets, reverse=True)
    assert targets[-1] == pytest.approx(0.0, abs=1e-9)
    text = balance(tmp_path, str(FOLDER / "heron-negative.toml")).stdout
    assert "a negative made positive" in text
    assert "low contrast of the negative (gamma 0.6" in " ".join(text.split())


def test_a_record_of_scan_densities_that_names_no_scan_is_taken_and_said_to_be_one(folder: Path) -> None:
    text = (folder / "strip.toml").read_text(encoding="utf-8")
    (folder / "bare.toml").write_text(text.partition("[scan]")[0], encoding="utf-8")
    asked = balance(folder, "bare.toml", "--lut", "a.clf")
    assert "the light of the open gate is not given" in asked.stderr
    done = balance(folder, "bare.toml", "--lut", "a.clf", "--calibration", "strip-calibration.toml")
    assert done.returncode == 0, done.stderr
    assert "The record does not name the scan of its densities" in done.stdout
