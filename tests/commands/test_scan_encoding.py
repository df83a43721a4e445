"""`curves scan` of pictures that do not follow the light: asked, found from a calibration wedge, contradicted, doubted.

The pictures are made by `tests.simulate_scan` and encoded here, by the formulas of IEC 61966-2-1 and of powers.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile

from curves import analyse, load_strip
from tests.commands.run import Outcome, run
from tests.draws import NO_DRAWS
from tests.files.pictures.made import curv, para, profile
from tests.scan_cases import bounds
from tests.scan_demo import strip_densities
from tests.simulate import FOLDER, WREN_AS_SLIDE, Array, wedge_21
from tests.simulate_scan import ScanScene, scan

WEDGE = wedge_21()
UNEXPOSED, BASE = bounds(WREN_AS_SLIDE)
SCENE = ScanScene(
    strip_densities(), UNEXPOSED, BASE, width=900, height=420, pitch=36.0, across=90.0,
    before=30, after=30, beside=30, beyond="gate", wedge=WEDGE[:, None], wedge_pitch=36.0, wedge_across=70.0,
    wedge_aside=130.0, flare=0.001, noise=1e-5, full_well=2e6, grain=0.005, dark=0.0005,
)  # fmt: skip
STRIP = ("--clear", "area:20,20,300,70", "--kind", "reversal", "--wedge",
         str(FOLDER / "wedge-21.csv"), "--lux", "500", "--seconds", "0.02")  # fmt: skip
AREA = ("--area", "0,80,900,290")
# By the scene: steps of 36 pixels, from the picture's middle 378 to either side; the wedge's 130 below the strip's.
CORNERS = ("--corners", "72,165 72,255 828,255 828,165")
WEDGE_OF = ("--known", str(FOLDER / "wedge-21.csv"))
KNOWN = (*WEDGE_OF, "--known-area", "0,295,900,390")
KNOWN_CORNERS = (*WEDGE_OF, "--known-corners", "72,305 72,375 828,375 828,305")
SRGB = para(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


def srgb(light: Array) -> Array:
    """Return numbers by IEC 61966-2-1."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def power(exponent: float) -> Callable[[Array], Array]:
    return lambda light: np.maximum(light, 0.0) ** (1.0 / exponent)


ENCODERS: dict[str, Callable[[Array], Array]] = {
    "linear": np.asarray, "srgb": srgb, "gamma:2.2": power(2.2), "gamma:1.8": power(1.8),
    "srgb of 14 bits": lambda light: srgb(np.rint(16383 * light) / 16383),
}  # fmt: skip


def saved(folder: Path, encoding: str, *, bits: int = 16, curve: bytes | None = None) -> None:
    """Write strip.tif: a strip, the empty gate and a calibration wedge, encoded, with a colour profile or without."""

    made = scan(replace(SCENE, encode=ENCODERS[encoding], bits=bits), 5)
    tifffile.imwrite(
        folder / "strip.tif", made.picture[..., 0], photometric="minisblack",
        iccprofile=None if curve is None else profile(curve),
    )  # fmt: skip


def scanned(folder: Path, *words: str, where: tuple[str, ...] = CORNERS, typed: str = "", ask: bool = False) -> Outcome:
    """Scan the picture; the corners are given, or an area to search, for the search is tested by itself."""
    return run(folder, "scan", "strip.tif", "wren", *STRIP, *where, *words, *([] if ask else ["--yes"]), typed=typed)


def warned(folder: Path) -> list[str]:
    """Return what every result says of the scan's light."""
    return [w.message for w in analyse(load_strip(folder / "wren.toml"), NO_DRAWS).warnings if w.code == "scan-doubt"]


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("encoding", "bits", "curve", "why", "suggested"),
    [
        ("srgb", 8, None, "it has 8 bits", "--encoding srgb"),
        ("srgb", 16, SRGB, "its colour profile, 'a scanner', has a tone curve, gamma about 2.2", "--encoding srgb"),
        ("gamma:1.8", 16, curv(461), "has a tone curve, gamma about 1.8", "--encoding gamma:1.8"),
        ("srgb of 14 bits", 16, None, "its dark codes lie", "--encoding srgb"),
    ],
)
def test_a_picture_that_looks_encoded_is_not_measured_until_somebody_says_how(
    tmp_path: Path, encoding: str, bits: int, curve: bytes | None, why: str, suggested: str
) -> None:
    saved(tmp_path, encoding, bits=bits, curve=curve)
    done = scanned(tmp_path)
    assert done.returncode == 1
    assert why in done.stderr
    assert f"({suggested} or --known)" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["strip.tif"]


def test_linear_numbers_are_read_as_they_are(tmp_path: Path) -> None:
    saved(tmp_path, "linear")
    assert scanned(tmp_path).returncode == 0
    assert warned(tmp_path) == []


def test_a_person_is_asked_and_the_answer_is_used(tmp_path: Path) -> None:
    saved(tmp_path, "srgb", curve=SRGB)
    done = scanned(tmp_path, ask=True, typed="?\nlog\n\n\n")
    assert "the picture looks encoded for display" in done.stdout
    assert "Enter for srgb > " in done.stdout
    assert "twice the light gives twice the number" in done.stdout
    assert "'log' is not an encoding" in done.stdout
    assert 'encoding = "srgb"' in (tmp_path / "wren-calibration.toml").read_text(encoding="utf-8")
    assert warned(tmp_path) == []


def test_an_encoding_against_the_evidence_is_doubted_in_every_result_until_the_line_is_removed(tmp_path: Path) -> None:
    saved(tmp_path, "srgb", curve=SRGB)
    done = scanned(tmp_path, "--encoding", "linear")
    assert done.returncode == 0, done.stderr
    assert "The scan is read as linear, but its colour profile" in plain(done.stdout)
    doubt = "The scan is read as linear, but its colour profile"
    for words in (("check", "wren.toml"), ("ei", "wren.toml"), ("measure", "wren.toml")):
        assert doubt in plain(run(tmp_path, *words).stdout), words
    content = json.loads(run(tmp_path, "measure", "wren.toml", "--json").stdout)
    assert "scan-doubt" in json.dumps(content)
    assert run(tmp_path, "report", "wren.toml").returncode == 0
    page = next(p for p in (tmp_path / "outputs").glob("*.html") if "patches" not in p.name)
    assert doubt in page.read_text(encoding="utf-8")
    record = tmp_path / "wren.toml"
    lines = record.read_text(encoding="utf-8").splitlines(keepends=True)
    record.write_text("".join(line for line in lines if "encoding_doubt" not in line), encoding="utf-8")
    assert warned(tmp_path) == []


@pytest.mark.parametrize(
    ("encoding", "curve", "declared", "told"),
    [
        ("srgb", SRGB, "gamma:2.2", "densities are 0.20 off at 2.0"),
        ("gamma:2.2", curv(563), "srgb", "densities are 0.15 off at 2.0"),
        ("srgb", curv(), "srgb", "it states numbers in proportion to light"),
    ],
)
def test_a_declared_encoding_that_the_profile_contradicts_is_told(
    tmp_path: Path, encoding: str, curve: bytes, declared: str, told: str
) -> None:
    saved(tmp_path, encoding, curve=curve)
    done = scanned(tmp_path, "--encoding", declared)
    assert done.returncode == 0, done.stderr
    assert told in plain(done.stdout)
    assert any(told in message for message in warned(tmp_path))


@pytest.mark.parametrize("encoding", ["linear", "srgb", "gamma:2.2", pytest.param("gamma:1.8", marks=pytest.mark.slow)])
def test_a_calibration_wedge_shows_the_encoding(tmp_path: Path, encoding: str) -> None:
    saved(tmp_path, encoding, curve=SRGB if encoding == "linear" else None)
    done = scanned(tmp_path, *KNOWN, where=AREA)
    assert done.returncode == 0, done.stderr
    words = {"srgb": "sRGB"}.get(encoding, encoding.replace(":", " "))
    assert f"The calibration wedge shows the encoding: {words}" in plain(done.stdout)
    assert ("although its colour profile" in plain(done.stdout)) == (encoding == "linear")
    assert warned(tmp_path) == []
    read = np.genfromtxt(tmp_path / "wren.csv", delimiter=",", names=True)["visual"]
    true = SCENE.densities[:, 0]
    assert read[true < 2.5] == pytest.approx(true[true < 2.5], abs=0.03)


@pytest.mark.parametrize(("encoding", "declared"), [("srgb", "linear"), ("srgb", "gamma:2.2"), ("linear", "srgb")])
def test_a_declared_encoding_that_the_wedge_contradicts_is_told(tmp_path: Path, encoding: str, declared: str) -> None:
    saved(tmp_path, encoding)
    done = scanned(tmp_path, *KNOWN_CORNERS, "--encoding", declared)
    assert done.returncode == 0, done.stderr
    assert "the calibration wedge contradicts it" in plain(done.stdout)
    assert len(warned(tmp_path)) == 1
    assert "the calibration wedge contradicts it" in warned(tmp_path)[0]


def test_a_declared_encoding_that_the_wedge_confirms_is_said(tmp_path: Path) -> None:
    saved(tmp_path, "srgb")
    assert "The calibration wedge confirms the encoding: sRGB" in plain(
        scanned(tmp_path, *KNOWN_CORNERS, "--encoding", "srgb").stdout
    )
