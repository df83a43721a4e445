"""Calibrations are written and read back as they were, and a damaged one is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.strips.calibration import CalibrationRecord, WedgeLight, read_calibration, write_calibration
from curves.files.strips.record import load_strip
from curves.sensitometry.scan.encoding import parse_encoding

KNOWN = np.array([0.05, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0])


def stored(samples: int = 3, wedge: bool = True, uncertainty: float | None = 0.02) -> CalibrationRecord:
    each = np.arange(1.0, samples + 1.0, dtype=np.float64)
    seen = 10.0 ** -KNOWN[:, None] + 0.001 * each
    light = (
        WedgeLight(KNOWN, uncertainty, seen, np.full_like(seen, 0.98), np.asarray(0.4 + 0.1 * each)) if wedge else None
    )
    return CalibrationRecord(
        "Bench, lamp 2",
        parse_encoding("gamma:2.2"),
        16,
        np.asarray(0.8 + 0.01 * each),
        np.asarray(0.001 * each),
        True,
        light,
    )


@pytest.mark.parametrize("samples", [1, 3])
@pytest.mark.parametrize("wedge", [True, False])
def test_a_calibration_comes_back_as_it_was(tmp_path: Path, samples: int, wedge: bool) -> None:
    one, path = stored(samples, wedge), tmp_path / "bench.toml"
    write_calibration(path, one)
    other = read_calibration(path)
    assert (other.title, other.encoding, other.bits, other.assumed_dark) == ("Bench, lamp 2", one.encoding, 16, True)
    assert other.clear == pytest.approx(one.clear, abs=1e-9)
    assert other.dark == pytest.approx(one.dark, abs=1e-9)
    assert len(other.calibration().maps) == (samples if wedge else 0)
    light = np.tile(one.clear * 0.1, (2, 1))
    assert other.calibration().density(light) == pytest.approx(one.calibration().density(light), abs=1e-6)
    if one.wedge is not None and other.wedge is not None:
        assert other.wedge.known.tolist() == KNOWN.tolist()
        assert other.wedge.uncertainty == 0.02
        assert other.wedge.apparent == pytest.approx(one.wedge.apparent, abs=1e-9)
        assert other.wedge.lit == pytest.approx(one.wedge.lit, abs=1e-9)
        assert other.wedge.surround == pytest.approx(one.wedge.surround, abs=1e-9)


def test_a_step_that_was_not_read_and_an_unknown_uncertainty_come_back_so(tmp_path: Path) -> None:
    one = stored(1, uncertainty=None)
    assert one.wedge is not None
    one.wedge.apparent[3, 0] = np.nan
    write_calibration(tmp_path / "a.toml", one)
    found = read_calibration(tmp_path / "a.toml").wedge
    assert found is not None
    assert np.flatnonzero(np.isnan(found.apparent[:, 0])).tolist() == [3]
    assert found.uncertainty is None


GOOD = """
title = "Bench"
encoding = "linear"
bits = 16
clear = {visual = 0.9}
dark = {visual = 0.001}
surround = {visual = 0.5}
apparent = {visual = [0.9, 0.3, 0.1, 0.03, 0.01, 0.004]}
lit = {visual = [1, 1, 1, 1, 1, 1]}
wedge = {known = [0.05, 0.52, 1.0, 1.52, 2.0, 2.4], uncertainty = 0.01}
"""


def test_the_file_that_the_refusals_start_from_is_read(tmp_path: Path) -> None:
    path = tmp_path / "c.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert read_calibration(path).calibration().maps[0].densest == 2.4
    path.write_text(GOOD.replace('title = "Bench"\n', ""), encoding="utf-8")
    assert read_calibration(path).title == "c"


@pytest.mark.parametrize(("old", "new", "message"), [
    ("bits = 16", "bit = 16", "c.toml: 'bit' is not a known key.\nTry: write 'bits'."),
    ("bits = 16", "", "c.toml: 'bits' is missing; needed: bits = 16 or bits = 8."),
    ("bits = 16", 'bits = 16\ndark_assumed = "no"', "c.toml dark_assumed: 'no' is neither true nor false; needed:"
     " dark_assumed = true."),
    ("bits = 16", "bits = 12", "c.toml: 12 bits are not those of a scan; needed: bits = 16 or bits = 8."),
    ("{visual = 0.9}", "{red = 0.9}", "c.toml, [clear]: the light of the empty gate is missing; needed: visual = 0.93,"
     " or red, green and blue, of full scale."),
    ("clear = {visual = 0.9}", "", "c.toml, [clear]: the light of the empty gate is missing; needed: visual = 0.93,"
     " or red, green and blue, of full scale."),
    ("{visual = 0.001}", "{red = 0.001}", "c.toml, [dark]: 'red' is not a known key.\nTry: use one of: visual."),
    ("{visual = 0.001}", "{}", "c.toml, [dark]: 'visual' is missing; needed: visual = a share of full scale."),
    ("{visual = 0.001}", "{visual = 0.95}", "c.toml: the clear value is not brighter than the dark one; needed: clear:"
     " light through the empty gate; dark: light with the gate closed."),
    ('"linear"', '"log"', "c.toml encoding: 'log' is not an encoding; needed: linear, srgb, or gamma: and its exponent,"
     " such as gamma:2.2."),
    ('encoding = "linear"', "", "c.toml: 'encoding' is missing; needed: encoding = \"linear\"."),
    ("0.01, 0.004]", "0.01]", "c.toml, [apparent]: 'visual' does not hold the right numbers; needed: a list of 6"
     " numbers, one for each"
     " known density."),
    ("0.01, 0.004]", '0.01, "x"]', "c.toml, [apparent] visual: 'x' is not a number; needed: a number without quotes,"
     " such as 0.15."),
    ("lit = {visual = [1, ", "lit = {visual = [0, ", "c.toml, [lit] visual: 0 is out of range; needed: more than 0.01"
     " and less than 100."),
    ("lit = {visual = [1, ", "lit = {visual = [1e-320, ", "c.toml, [lit] visual: 9.99989e-321 is out of range;"
     " needed: more than 0.01 and less than 100."),
    ("known = [0.05, 0.52, 1.0, 1.52, 2.0, 2.4]", "known = 3", "c.toml, [wedge]: 'known' does not hold the right"
     " numbers; needed: a list of numbers."),
    ("known = [0.05, 0.52, 1.0, 1.52, 2.0, 2.4]", "known = [2.4, 2.0, 1.5, 1.0, 0.5, 0.05]",
     "c.toml: its light does not fall as its known densities grow.\nTry: check that the table belongs to this wedge,"
     " and which of its ends is step 1."),
    ("[0.9, 0.3, 0.1,", "[0, 0, 0,", "c.toml: only 3 of its steps could be read; needed: at least 6 known densities."),
])  # fmt: skip
def test_a_damaged_calibration_is_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    assert old in GOOD
    path = tmp_path / "c.toml"
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(RecordError) as refusal:
        read_calibration(path)
    assert str(refusal.value) == message


def test_a_calibration_and_a_strip_are_named_as_what_they_are(tmp_path: Path) -> None:
    path = tmp_path / "c.toml"
    path.write_text(GOOD, encoding="utf-8")
    with pytest.raises(RecordError) as refusal:
        load_strip(path)
    assert str(refusal.value) == (
        "c.toml: this is the calibration of a scanner, not a strip; needed: the record of a strip.\nTry: name the"
        " strip's own record, which names this file."
    )
    path.write_text('kind = "reversal"\n', encoding="utf-8")
    with pytest.raises(RecordError) as other:
        read_calibration(path)
    assert str(other.value) == (
        "c.toml: this is the record of a strip, not a calibration; needed: the calibration that a scan wrote beside its"
        " record."
    )
