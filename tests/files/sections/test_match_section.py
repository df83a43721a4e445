"""The section [match] of a record: what it brings, where its patches may stand, and what it refuses."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from curves import load_strip
from curves.app.file_check import check_file
from curves.app.strip_files import kind_of_file, strips_among
from curves.errors import RecordError
from curves.files.imports.formats.cgats import exchange_text
from curves.files.sections.known_densities import check_kept_patches, kept_patches_text, read_known_densities
from curves.files.sections.match_section import patches_of_strip
from curves.sensitometry.combining.remarks import joining_remarks
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.matching.matched_strip import as_scanned
from curves.sensitometry.strip.strip import Strip
from tests.matched_film import TwiceRead, twice_read, write_matched
from tests.simulate import Array

STEPS = (2, 7, 11, 15, 20)


@pytest.fixture
def written(tmp_path: Path) -> tuple[Path, TwiceRead]:
    """Return a record with matched patches, and the truth."""
    rng = np.random.default_rng(12)
    strip = twice_read(rng, "status A")
    return write_matched(tmp_path, strip, "status A", STEPS, rng), strip


def densities(strip: Strip) -> Array:
    return np.column_stack([strip.readings[c] for c in LAYERS])


def changed(record: Path, old: str, new: str) -> Path:
    """Change a record, or the table beside it if the record does not have the text."""
    for path in (record, record.with_name("known.csv")):
        text = path.read_text(encoding="utf-8")
        if old in text:
            path.write_text(text.replace(old, new, 1), encoding="utf-8")
            return record
    raise AssertionError(old)


def test_a_record_with_matched_patches_loads_near_the_densitometer_s_densities(
    written: tuple[Path, TwiceRead],
) -> None:
    record, truth = written
    strip = load_strip(record)
    assert strip.density == "status A"
    assert strip.match is not None
    assert (strip.match.patches, strip.match.status) == (5, "status A")
    before, after = (np.abs(d - truth.true).max() for d in (truth.camera, densities(strip)))
    # The spectra's own: a camera is a tenth and more off. Four standard errors of a known reading are left at most.
    assert before > 0.10
    assert after < 4 * 0.01
    # The scan's own densities are kept, as is all that went with them.
    own = as_scanned(strip)
    assert own.density == "scan"
    assert own.match is None
    assert own.repeatability == 0.004
    # Five standard deviations of a camera's reading.
    assert np.abs(densities(own) - truth.camera).max() < 5 * 0.004


def test_every_field_of_the_scan_comes_back(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    section = '[match]\nreader = "club densitometer"\nzero = 0.02\nscale_uncertainty = 0.015\n'
    strip = load_strip(changed(record, "[match]\n", section))
    assert (strip.reader, strip.reader_zero, strip.reader_scale) == ("club densitometer", 0.02, 0.015)
    record.write_text(record.read_text(encoding="utf-8").partition("[match]")[0], encoding="utf-8")
    scan, own = load_strip(record), as_scanned(strip)
    for field in fields(Strip):
        np.testing.assert_equal(getattr(own, field.name), getattr(scan, field.name), field.name)


def test_a_strip_that_was_not_matched_is_its_own_scan(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    text = record.read_text(encoding="utf-8")
    record.write_text(text.partition("[match]")[0], encoding="utf-8")
    strip = load_strip(record)
    assert strip.match is None
    assert as_scanned(strip) is strip


def test_the_table_that_a_scan_keeps_says_the_same_as_steps_do(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    by_step = load_strip(record)
    own = as_scanned(by_step)
    patches = patches_of_strip(read_known_densities(record.with_name("known.csv")), own)
    kept = record.with_name("strip-match.csv")
    kept.write_text(kept_patches_text(patches, assumed=True), encoding="utf-8")
    check_kept_patches(patches, kept)
    by_scan = load_strip(changed(record, "known.csv", "strip-match.csv"))
    assert np.abs(densities(by_step) - densities(by_scan)).max() < 0.0005
    assert by_scan.match is not None
    assert by_scan.match.assumed
    # It is not a strip, and no file of readings.
    assert kind_of_file(kept) == "match"
    assert check_file(kept).error is None
    assert (kept, "a table of matched patches") in strips_among([record, kept]).others


def test_a_kept_table_that_lost_a_patch_is_refused(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    own = as_scanned(load_strip(record))
    patches = patches_of_strip(read_known_densities(record.with_name("known.csv")), own)
    kept = record.with_name("strip-match.csv")
    text = kept_patches_text(patches, assumed=False)
    assert ",uncertainty," in text
    lines = text.splitlines(keepends=True)
    first = lines[1].split(",")
    first[1] = f"{float(first[1]) + 0.001:g}"
    for wrong in (lines[:-1], [lines[0], ",".join(first), *lines[2:]]):
        kept.write_text("".join(wrong), encoding="utf-8")
        with pytest.raises(RecordError, match="a patch would be lost or changed"):
            check_kept_patches(patches, kept)


def test_repeat_readings_of_a_step_are_averaged_and_count_as_surer(written: tuple[Path, TwiceRead]) -> None:
    table = written[0].with_name("known.csv")
    table.write_text("step,red,green,blue,uncertainty\n3,0.20,0.30,0.40,0.02\n3,0.24,0.30,0.44,0.02\n9,1,1,1,0.02\n",
                     encoding="utf-8")  # fmt: skip
    found = read_known_densities(table)
    assert found.names == ("step 3", "step 9")
    assert found.known[0] == pytest.approx([0.22, 0.30, 0.42])
    # The mean of two is surer by the root of two (the law of propagation).
    assert found.uncertainty == pytest.approx([0.02 / 2**0.5, 0.02])
    assert not found.assumed


def test_the_known_densities_of_a_record_are_not_a_strip(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    known = record.with_name("known.csv")
    assert (known, "the known densities of strip.toml") in strips_among([record, known]).others


def test_what_leaves_the_tool_says_that_it_was_matched(written: tuple[Path, TwiceRead]) -> None:
    strip = load_strip(written[0])
    assert strip.match is not None
    text = exchange_text(strip)
    assert f"# densities of a scan, {strip.match.sentence}\n" in text
    assert 'DENSITY_KIND "status A"' in text
    told = " ".join(joining_remarks([strip, as_scanned(strip)], ["one", "other"], []))
    assert f"Densities of a scan were {strip.match.sentence}. The joined strip keeps what this leaves open" in told


FRAMES = """kind = "reversal"
density = "scan"
readings = "frames.csv"
exposure = {method = "frames", ei = 80}
match = {status = "status A", patches = "known.csv"}
"""


def test_frames_are_matched_by_index_or_by_stops(tmp_path: Path) -> None:
    stops = np.arange(-4.0, 5.0)
    rows = "".join(f"{s:g},{d:.3f},{d + 0.02:.3f},{d + 0.05:.3f}\n" for s, d in zip(
        stops, np.linspace(2.6, 0.2, 9), strict=True))  # fmt: skip
    (tmp_path / "frames.csv").write_text("stops,red,green,blue\n" + rows, encoding="utf-8")
    (tmp_path / "frames.toml").write_text(FRAMES, encoding="utf-8")
    by = {
        "stops": "-4,2.7,2.75,2.8\n0,1.5,1.5,1.5\n4,0.2,0.2,0.3\n",
        "ei": "1280,2.7,2.75,2.8\n80,1.5,1.5,1.5\n5,0.2,0.2,0.3\n",
    }
    found = {}
    for column, text in by.items():
        (tmp_path / "known.csv").write_text(f"{column},red,green,blue\n{text}", encoding="utf-8")
        found[column] = densities(load_strip(tmp_path / "frames.toml"))
    assert found["stops"] == pytest.approx(found["ei"])
    assert found["stops"][0] == pytest.approx([2.7, 2.75, 2.8], abs=0.05)


REFUSED = {
    "a kind that cannot be matched": (
        'status = "status A"', 'status = "visual"',
        "strip.toml, [match] status: 'visual' is not known; needed: \"status A\" or \"status M\".",
    ),
    "densities that are a densitometer's already": (
        'density = "scan"', 'density = "status A"',
        "strip.toml, [match]: the densities are status A, red green blue; needed: a scan's own densities in red, green"
        " and blue, to match them.",
    ),
    "a key that is not known": (
        'patches = "known.csv"', 'patches = "known.csv"\nreaders = "mine"',
        "strip.toml, [match]: 'readers' is not a known key.\nTry: write 'reader'.",
    ),
    "a step that the strip does not have": (
        "\n20,", "\n22,", "known.csv, line 6: the strip has no step 22; needed: one of step 1 to step 21.",
    ),
    "no way to tell the patches": (
        "step,red", "patch,red",
        "known.csv: the table does not tell which patch a row is; needed: one of: a column step (or stops, or ei, of a"
        " frame); left, top, right, bottom in pixels; or the table that an earlier scan kept.",
    ),
    "two ways to tell the patches": (
        "step,red,green,blue", "step,stops,green,blue",
        "known.csv: the table tells patches in several ways; needed: one of: a column step (or stops, or ei, of a"
        " frame); left, top, right, bottom in pixels; or the table that an earlier scan kept.",
    ),
    "a layer that is missing": (
        "step,red,green,blue", "step,red,green,uncertainty",
        "known.csv: the column 'blue' is missing; needed: red, green and blue of each patch, as the densitometer shows"
        " them.",
    ),
    "rows by what the strip is not listed by": (
        "step,red", "stops,red",
        "known.csv: patches are listed by stops, but the strip's rows are not; needed: a column step.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_a_mistake_is_told_in_its_own_words(case: str, written: tuple[Path, TwiceRead]) -> None:
    old, new, told = REFUSED[case]
    with pytest.raises(RecordError) as refusal:
        load_strip(changed(written[0], old, new))
    assert str(refusal.value) == told


def test_two_patches_are_too_few_and_an_area_is_no_row_of_a_record(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    table = record.with_name("known.csv")
    table.write_text("step,red,green,blue\n2,0.2,0.2,0.3\n20,2.5,2.5,2.6\n", encoding="utf-8")
    with pytest.raises(RecordError) as refusal:
        load_strip(record)
    assert str(refusal.value) == (
        "strip.toml, [match]: only 2 patches have known densities; needed: at least 3: a thin, a middle and a dense"
        " one; five tell how well they match.\nTry: have more steps of the strip read, or leave the densities as the"
        " scan's own."
    )
    table.write_text("left,top,right,bottom,red,green,blue\n1,1,20,20,0.2,0.2,0.3\n", encoding="utf-8")
    with pytest.raises(RecordError, match="the table tells patches by their place in a picture, and a record"):
        load_strip(record)
    table.write_text("step,red,green,blue\n", encoding="utf-8")
    with pytest.raises(RecordError, match="the table has no row"):
        load_strip(record)


def test_a_known_step_that_the_scan_does_not_show_in_every_layer_is_refused(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    table = record.with_name("strip.csv")
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[20] = lines[20].rpartition(",")[0] + ",\n"
    table.write_text("".join(lines), encoding="utf-8")
    with pytest.raises(RecordError, match="step 20 has no density in the scan, or not in all of red, green and blue"):
        load_strip(record)


def test_what_lies_beyond_the_patches_or_was_not_read_is_told(written: tuple[Path, TwiceRead]) -> None:
    record, _ = written
    rows = record.with_name("known.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    record.with_name("known.csv").write_text("".join(rows[:4]), encoding="utf-8")
    table = record.with_name("strip.csv")
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[4] = lines[4].rpartition(",")[0] + ",\n"
    table.write_text("".join(lines), encoding="utf-8")
    strip = load_strip(record)
    assert strip.match is not None
    told = " ".join(strip.match.remarks)
    assert "Beyond the matched patches, by up to " in told
    assert "Not matched, because red, green and blue were not all read: 1 step." in told
    assert strip.match.sentence.startswith("matched to status A by 3 patches, too few for a residual: the error comes")
    assert np.isnan(densities(strip)[3]).all()
