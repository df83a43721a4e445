"""What a record keeps of its scan: the table of patches comes back as it was, and what is damaged is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from curves import load_strip
from curves.errors import RecordError, StripError
from curves.files.scans.measurement import ScanMeasurement, patches_text
from curves.files.strips.calibration import CalibrationRecord, WedgeLight, write_calibration
from curves.files.strips.patch_table import Areas, check_patches, read_patches, scan_of
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.scan.encoding import LINEAR
from curves.sensitometry.scan.patch_light import PatchLight
from curves.sensitometry.strip.origin import Flag

STEPS = 6
DUST = "12% of it is left out as dust or scratches"
FLAGS = (
    # A message with a colon, a comma and a per cent sign: what is hard to take apart again.
    Flag(1, "clipped-clear", "3% of it is at the scale's bright end: the scan was exposed too long", "red"),
    Flag(3, "dust", DUST, "green"),
    Flag(3, "uneven", "its density changes by 0.05 from side to side: uneven light, or not one step", "blue"),
    Flag(6, "beyond-scale", "no light is left above dark: denser than the scan can show; not read"),
)
RECORD = """
kind = "negative"
density = "scan"
readings = "crane.csv"
wedge = {steps = 6, increment = 0.3}
exposure = {method = "contact", lux = 500.0, seconds = 0.02}

[scan]
image = "pictures/crane.tif"
calibration = "bench.toml"
dpi = 2400.0
patches = "crane-patches.csv"
"""


def measured(positions: tuple[float, ...] = (1, 2, 3, 4, 5, 6)) -> ScanMeasurement:
    """Return patches in a row, the last without density."""
    light = PatchLight(0.5, 0.001, 0.0123, 0.0, 0.02, 0.1234, 400)
    dark = PatchLight(0.0, 0.001, np.nan, 1.0, 0.0, 0.0, 400)
    corners = np.array([[[k, 1.5], [k, 9], [k + 0.75, 9], [k + 0.75, 1.5]] for k in range(STEPS)])
    density = np.tile(np.linspace(2.0, 0.2, STEPS)[:, None], 3)
    density[-1] = np.nan
    error = np.where(np.isfinite(density), 0.0123, np.nan)
    lights = (*((light,) * 3 for _ in range(STEPS - 1)), (dark,) * 3)
    return ScanMeasurement(Areas("step", positions, corners), lights, density, error, error, FLAGS)


def stored(*, wedge: bool) -> CalibrationRecord:
    known = 0.05 + 0.3 * np.arange(8.0)
    seen = np.tile(10.0 ** -known[:, None], 3)
    light = WedgeLight(known, 0.01, seen, np.ones_like(seen), np.full(3, 0.5)) if wedge else None
    return CalibrationRecord("Bench", LINEAR, 16, np.full(3, 0.9), np.full(3, 0.001), False, light)


def kept(folder: Path, *, wedge: bool = True) -> Path:
    """Write a scanned strip and return its record."""
    write_calibration(folder / "bench.toml", stored(wedge=wedge))
    (folder / "crane-patches.csv").write_text(patches_text(measured(), LAYERS), encoding="utf-8")
    rows = [f"{step},{2.0 - 0.3 * step:.2f},{1.9 - 0.3 * step:.2f},{2.1 - 0.3 * step:.2f}" for step in range(1, 7)]
    (folder / "crane.csv").write_text("\n".join(["step,red,green,blue", *rows]) + "\n", encoding="utf-8")
    record = folder / "crane.toml"
    record.write_text(RECORD, encoding="utf-8")
    return record


def changed(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def refused(act: Callable[[Path], object], path: Path) -> str:
    with pytest.raises(RecordError) as refusal:
        act(path)
    return str(refusal.value)


def test_the_table_of_patches_holds_places_statistics_and_flags() -> None:
    lines = patches_text(measured(), LAYERS).splitlines()
    assert lines[0] == (
        "step,x1,y1,x2,y2,x3,y3,x4,y4,red_error,red_common,red_unevenness,red_clipped,red_dust,green_error,green_common,"
        "green_unevenness,green_clipped,green_dust,blue_error,blue_common,blue_unevenness,blue_clipped,blue_dust,flags"
    )
    assert lines[2] == "2,1.00,1.50,1.00,9.00,1.75,9.00,1.75,1.50," + 3 * "0.0123,0.0000,0.012,0.0200,0.1234,"
    # No density, no error; no light, no unevenness: the cells are empty.
    assert lines[6].startswith("6,5.00,1.50,5.00,9.00,5.75,9.00,5.75,1.50," + 3 * ",,,1.0000,0.0000,")


def test_flags_come_back_as_they_were(tmp_path: Path) -> None:
    scan = load_strip(kept(tmp_path)).scan
    assert scan is not None
    assert scan.flags == FLAGS
    assert scan.image == "pictures/crane.tif"
    assert scan.notes(3, "green") == DUST
    assert scan.notes(3, "red") is None
    assert scan.notes(6, "red") == FLAGS[-1].message  # said of no channel: it holds of all


@pytest.mark.parametrize("wedge", [True, False])
def test_the_calibration_says_whether_a_wedge_tells_density(tmp_path: Path, wedge: bool) -> None:
    scan = load_strip(kept(tmp_path, wedge=wedge)).scan
    assert scan is not None
    assert scan.by_wedge is wedge


def test_a_flag_stays_with_its_step_when_readings_are_taken_out_or_put_in_another_order(tmp_path: Path) -> None:
    record = kept(tmp_path)
    header, *rows = (tmp_path / "crane.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "crane.csv").write_text("\n".join([header, *reversed(rows[1:])]), encoding="utf-8")
    strip = load_strip(record)
    assert strip.scan is not None
    assert [(strip.position[f.patch - 1], f.code) for f in strip.scan.flags] == [
        (3, "dust"), (3, "uneven"), (6, "beyond-scale"),
    ]  # fmt: skip


def test_a_flag_of_a_repeat_stays_with_its_own_reading(tmp_path: Path) -> None:
    record = kept(tmp_path)
    text = patches_text(measured((1, 2, 2, 4, 5, 6)), LAYERS)
    (tmp_path / "crane-patches.csv").write_text(text, encoding="utf-8")
    changed(tmp_path / "crane.csv", "\n3,", "\n2,")
    strip = load_strip(record)
    assert strip.scan is not None
    assert [f.patch for f in strip.scan.flags] == [1, 3, 3, 6]


def test_a_record_without_a_table_of_patches_loads_without_flags(tmp_path: Path) -> None:
    record = kept(tmp_path)
    changed(record, 'patches = "crane-patches.csv"\n', "")
    scan = load_strip(record).scan
    assert scan is not None
    assert scan.flags == ()


def test_a_strip_that_was_not_scanned_has_no_scan(tmp_path: Path) -> None:
    record = kept(tmp_path)
    changed(record, RECORD[RECORD.index("[scan]") :], "")
    assert load_strip(record).scan is None
    assert refused(scan_of, record) == (
        "crane.toml: the strip was not scanned; needed: a record that curves scan wrote."
    )


def test_the_scan_can_be_looked_at_again(tmp_path: Path) -> None:
    record = kept(tmp_path)
    found = scan_of(record)
    assert (found.image, found.calibration) == (tmp_path / "pictures" / "crane.tif", tmp_path / "bench.toml")
    assert found.dpi == 2400.0
    assert found.areas.corners == pytest.approx(measured().areas.corners)
    changed(record, "dpi = 2400.0\n", "")
    assert scan_of(record).dpi is None


@pytest.mark.parametrize(("old", "new", "message"), [
    ('density = "scan"', 'density = "status M"', 'crane.toml: the readings come from a scan, but the record says'
     ' density = "status M"; needed: density = "scan".'),
    ('calibration = "bench.toml"\n', "", "crane.toml, [scan]: 'calibration' is missing; needed: the file of the"
     " calibration."),
    ('image = "pictures/crane.tif"\n', "", "crane.toml, [scan]: 'image' is missing; needed: the name of the picture."),
    ("dpi = 2400.0", 'encoding = "linear"', "crane.toml, [scan]: 'encoding' is not a known key.\nTry: write"
     " 'encoding_doubt'."),
    ('patches = "crane-patches.csv"', "patches = 3", "crane.toml, [scan] patches: 3 is not a text; needed: a text in"
     ' quotes, such as "...".'),
])  # fmt: skip
def test_a_record_that_says_something_else_of_its_scan_is_refused(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    record = kept(tmp_path)
    changed(record, old, new)
    assert refused(load_strip, record) == message


def test_a_calibration_that_is_gone_is_refused(tmp_path: Path) -> None:
    record = kept(tmp_path)
    (tmp_path / "bench.toml").unlink()
    assert refused(load_strip, record) == (
        f"{tmp_path / 'bench.toml'}: there is no such file.\nTry: check the name; beside it there is crane.toml."
    )


@pytest.mark.parametrize(("old", "new", "message"), [
    ("dust green: ", "dust green ", f"crane-patches.csv, line 4, flags: 'dust green {DUST}' is not a flag; needed: code"
     " channel: message."),
    ("dust green: ", "dust grey: ", f"crane-patches.csv, line 4, flags: 'dust grey: {DUST}' is not a flag; needed: code"
     " channel: message."),
    ("x3", "z3", "crane-patches.csv, line 1: 'z3' is not a known column.\nTry: write 'y3'."),
    (",flags", ",visual_dust", "crane-patches.csv: the column 'flags' is missing; needed: the table that curves scan"
     " wrote."),
    ("2,1.00,", "2,,", "crane-patches.csv, line 3, x1: there is no number; needed: a number such as 0.15."),
    ("2,1.00,", "2,left,", "crane-patches.csv, line 3, x1: 'left' is not a number; needed: a density such as 1.25, or"
     " an empty cell where nothing was read."),
])  # fmt: skip
def test_a_damaged_table_of_patches_is_refused_by_all_who_read_it(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    record = kept(tmp_path)
    table = tmp_path / "crane-patches.csv"
    changed(table, old, new)
    assert refused(read_patches, table) == message
    assert refused(scan_of, record) == message
    assert refused(load_strip, record) == message


@pytest.mark.parametrize(("old", "new", "message"), [
    ("step,x1", "x1", "crane-patches.csv: the column 'step' is missing; needed: the table that curves scan wrote."),
    ("step,x1", "stops,x1", "crane-patches.csv: rows are listed by stops, but the exposure was made by another method;"
     " needed: a column step.\nTry: mend the column's name, or the method in the record."),
])  # fmt: skip
def test_patches_that_are_listed_otherwise_than_the_readings_are_refused(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    record = kept(tmp_path)
    table = tmp_path / "crane-patches.csv"
    changed(table, old, new)
    if new == "x1":
        lines = table.read_text(encoding="utf-8").splitlines()
        table.write_text("\n".join([lines[0], *(line.split(",", 1)[1] for line in lines[1:])]), encoding="utf-8")
    assert refused(load_strip, record) == message


def test_a_strip_whose_scan_names_a_reading_that_is_not_there_is_refused(tmp_path: Path) -> None:
    strip = load_strip(kept(tmp_path))
    assert strip.scan is not None
    with pytest.raises(StripError) as refusal:
        replace(strip, scan=replace(strip.scan, flags=(Flag(7, "dust", DUST),)))
    assert str(refusal.value) == (
        "crane: the scan's remarks name a reading that is not there; needed: rows from 1 to 6."
    )


@pytest.mark.parametrize("flags", [FLAGS[:-1], (*FLAGS[:-1], replace(FLAGS[-1], message="two | parts"))])
def test_patches_whose_flags_do_not_come_back_are_refused(tmp_path: Path, flags: tuple[Flag, ...]) -> None:
    path = tmp_path / "patches.csv"
    path.write_text(patches_text(replace(measured(), flags=flags), LAYERS), encoding="utf-8")
    with pytest.raises(RecordError):
        check_patches(FLAGS if flags == FLAGS[:-1] else flags, path)
    path.write_text(patches_text(measured(), LAYERS), encoding="utf-8")
    check_patches(FLAGS, path)
