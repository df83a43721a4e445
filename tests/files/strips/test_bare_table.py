import datetime
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from curves.errors import RecordError
from curves.files.imports.readers import import_table
from curves.files.strips.bare import strip_from_table
from curves.sensitometry.core.units import STOP
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure

BY_STEP = "step,visual\n1,0.10\n2,0.60\n3,1.40\n4,2.20\n5,2.60\n"
BY_STOPS = BY_STEP.replace("step", "stops")


def table(folder: Path, text: str = BY_STEP) -> Path:
    path = folder / "bare.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_known_light_makes_a_contact_exposure(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path), kind="reversal", wedge="21x0.15@0.10", lux=25, seconds=0.02)
    assert isinstance(strip.exposure, Contact)
    np.testing.assert_allclose(strip.log_h[0], np.log10(0.5) - 0.10)
    assert strip.density == "visual"


def test_an_index_and_a_wedge_make_a_camera_exposure_metered_at_the_step_that_is_given(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path), kind="reversal", wedge="21x0.15", ei=80, metered_step=9)
    assert isinstance(strip.exposure, Camera)
    # The wedge's step 9 is 8 increments denser than step 1.
    np.testing.assert_allclose(strip.log_h[0], 8 * 0.15)


def test_an_index_and_stops_make_a_bracket(tmp_path: Path) -> None:
    strip = strip_from_table(table(tmp_path, BY_STOPS), kind="reversal", ei=50)
    assert isinstance(strip.exposure, Frames)
    np.testing.assert_allclose(np.diff(strip.log_h), STOP)


BY_LOG_H = BY_STEP.replace("step", "log_h")


@pytest.mark.parametrize(
    ("options", "unit"),
    [
        ({}, "relative"),
        ({"log_h": "relative"}, "relative"),
        ({"log_h": "lux-seconds"}, "lux-seconds"),
        ({"log_h": "metered grey", "ei": 80}, "relative to metered mid-grey"),
    ],
)
def test_log_h_in_a_table_counts_from_what_is_stated(tmp_path: Path, options: dict[str, Any], unit: str) -> None:
    strip = strip_from_table(table(tmp_path, BY_LOG_H), kind="negative", **options)
    assert isinstance(strip.exposure, GivenExposure)
    assert strip.log_h_unit == unit
    assert any("Log H is taken as relative" in s for s in strip.assumptions) == (not options)


@pytest.mark.parametrize(
    ("text", "options", "told"),
    [
        (
            BY_LOG_H,
            {"ei": 80},
            "does not count from the mid-grey that was metered at it.\nTry: leave the index out, or",
        ),
        (BY_LOG_H, {"log_h": "metered grey"}, "the index is not given.\nTry: give ei=80."),
        (BY_LOG_H, {"log_h": "lux-seconds", "ei": 80}, "does not count from the mid-grey that was metered at it."),
        (BY_STOPS, {"log_h": "relative", "ei": 80}, "rows are listed by stops, not by log H."),
        (BY_STOPS, {}, "the index that the meter was set to is not given.\nTry: give ei=80."),
        (BY_STEP, {"log_h": "relative"}, "rows are listed by step, not by log H."),
        (BY_STEP, {"wedge": "21x0.15", "lux": 1, "seconds": 1, "log_h": "relative"}, "log H is for readings that are"),
        (BY_STEP, {"ei": 80, "metered_step": 11}, "went through a wedge; needed: the wedge.\nTry: give wedge=21x0.15."),
        (BY_STEP, {"wedge": "21x0.15", "ei": 80, "metered_step": 22}, "the wedge has 21 steps, so there is no step 22"),
        (
            BY_STEP,
            {"wedge": "21x0.15", "ei": 80},
            "the step of the wedge that the meter read is not given; needed: a step from 1 to 21.\n"
            "Try: give metered_step=11.",
        ),
    ],
)
def test_what_the_exposure_of_a_table_lacks_is_named_with_an_example(
    tmp_path: Path, text: str, options: dict[str, Any], told: str
) -> None:
    with pytest.raises(RecordError) as refusal:
        strip_from_table(table(tmp_path, text), kind="reversal", **options)
    assert told in str(refusal.value)


@pytest.mark.parametrize(("kind", "density"), [("reversal", "status A"), ("negative", "status M")])
def test_a_density_that_was_not_said_is_assumed_and_said_so(tmp_path: Path, kind: Any, density: str) -> None:
    text = BY_STEP.replace("visual", "green")
    strip = strip_from_table(table(tmp_path, text), kind=kind, wedge="21x0.15", lux=25, seconds=0.02)
    assert strip.density == density
    assert any(density in sentence for sentence in strip.assumptions)


def test_a_table_that_is_not_there_is_told_before_what_it_lacks(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="there is no such file"):
        strip_from_table(tmp_path / "bare.csv")


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (
            {},
            "bare.csv: a bare table does not state the kind of film, nor how the strip was exposed; needed: reversal or"
            " negative, the wedge, and its exposure.\nTry: write a record (.toml) beside the table, or give the rest"
            " (kind=reversal wedge=21x0.15 lux=25 seconds=0.02 or kind=reversal wedge=21x0.15 ei=80 metered_step=11).",
        ),
        ({"wedge": "21x0.15"}, "bare.csv: a bare table does not state the kind of film; needed: reversal or negative."),
        ({"kind": "reversal", "wedge": "21"}, "wedge: '21' does not describe a wedge"),
        ({"kind": "reversal", "wedge": "1x0.15"}, "wedge: '1x0.15' is not a wedge"),
        ({"kind": "reversal", "wedge": "21x0.15"}, "bare.csv: a wedge alone does not tell the exposure"),
        (
            {"kind": "reversal", "wedge": "21x0.15", "lux": 25},
            "bare.csv: a known light needs its lux and its seconds.\nTry: give seconds=0.02.",
        ),
        ({"kind": "reversal", "lux": 25, "seconds": 1}, "bare.csv: a contact exposure went through a wedge"),
        ({"kind": "reversal", "ei": 80, "lux": 25}, "bare.csv: an index and a known light are both given"),
        ({"kind": "reversal", "ei": 0}, "ei: 0 is out of range; needed: more than 0."),
        (
            {"kind": "reversal"},
            "bare.csv: rows are listed by step, and the wedge is not given; needed: steps x increment",
        ),
    ],
)
def test_options_that_are_missing_or_at_odds_are_refused_in_words(
    tmp_path: Path, options: dict[str, Any], told: str
) -> None:
    with pytest.raises(RecordError) as refusal:
        strip_from_table(table(tmp_path), **options)
    assert str(refusal.value).startswith(told)


FOREIGN = "Stufe;Rot;Grün\n1;0,31;0,40\n2;0,50;0,61\n3;1,10;1,22\n4;1,90;2,05\n"
LIGHT: dict[str, Any] = {"kind": "reversal", "wedge": "21x0.15", "lux": 25, "seconds": 0.02}


def written(folder: Path, name: str) -> Path:
    """Write the same readings in one of the forms that `import` reads, and return the file."""
    path = folder / name
    rows = [line.split(";") for line in FOREIGN.replace(",", ".").splitlines()]
    if name.endswith(".xlsx"):
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append([float(cell) if cell[0].isdigit() else cell for cell in row])
        book.save(path)
    elif name.endswith(".txt"):
        sets = "\n".join(" ".join(row) for row in rows[1:])
        path.write_text(
            'CGATS.17\n# status M filters\nDESCRIPTOR "Heron 80"\nCREATED "2026-03-14"\n'
            f"BEGIN_DATA_FORMAT\nSAMPLE_ID D_RED D_GREEN\nEND_DATA_FORMAT\nBEGIN_DATA\n{sets}\nEND_DATA\n",
            encoding="utf-8",
        )
    else:
        path.write_bytes(FOREIGN.encode("cp1252"))
    return path


@pytest.mark.parametrize("name", ["elsewhere.csv", "elsewhere.xlsx", "elsewhere.txt"])
def test_what_import_reads_a_bare_table_may_be_and_how_it_was_read_is_told(tmp_path: Path, name: str) -> None:
    path = written(tmp_path, name)
    strip, imported = strip_from_table(path, **LIGHT), import_table(path)
    assert {c: tuple(values) for c, values in strip.readings.items()} == imported.readings
    assert tuple(strip.position) == imported.positions == (1.0, 2.0, 3.0, 4.0)
    assert set(imported.understood) <= set(strip.assumptions)


def test_what_a_file_names_is_taken_over(tmp_path: Path) -> None:
    strip = strip_from_table(written(tmp_path, "elsewhere.txt"), **LIGHT)
    assert (strip.title, strip.date, strip.density) == ("Heron 80", datetime.date(2026, 3, 14), "status M")
    assert strip_from_table(written(tmp_path, "elsewhere.txt"), **LIGHT, density="status A").density == "status A"


def refused(path: Path) -> str:
    with pytest.raises(RecordError) as refusal:
        strip_from_table(path, **LIGHT)
    return str(refusal.value).replace(f"{path.parent}/", "")


def test_a_slip_in_a_column_does_not_lose_the_column(tmp_path: Path) -> None:
    path = table(tmp_path, BY_STEP.replace("visual", "green,vissual").replace("0\n", "0,0.50\n"))
    assert refused(path) == (
        "bare.csv, line 1: 'vissual' is not a known column.\n"
        "Try: write 'visual'; or run curves import bare.csv, which reads it without vissual."
    )


def test_a_column_of_remarks_is_for_import_to_leave_out(tmp_path: Path) -> None:
    text = FOREIGN.replace("\n", ";gut\n").replace("Grün;gut", "Grün;Bemerkung")
    assert refused(table(tmp_path, text)) == (
        "bare.csv, line 1: 'stufe' is not a known column.\n"
        "Try: write 'step'; or run curves import bare.csv, which reads it without Bemerkung."
    )


def test_what_only_import_can_be_told_points_there(tmp_path: Path) -> None:
    path = written(tmp_path, "elsewhere.txt")
    path.write_text(path.read_text(encoding="utf-8").replace("\n1 ", "\nGS1 "), encoding="utf-8")
    assert refused(path).endswith("Try: run curves import elsewhere.txt samples=GS1:4.")


def test_steps_that_the_wedge_has_not_are_told_by_their_row(tmp_path: Path) -> None:
    path = table(tmp_path, FOREIGN.replace("\n4;", "\n22;"))
    assert refused(path) == (
        "bare.csv, line 5, step: the wedge has 21 steps, so there is no step 22; needed: a step from 1 to 21."
    )


def test_a_table_that_no_way_of_reading_fits_is_told_as_a_hand_written_one(tmp_path: Path) -> None:
    path = table(tmp_path, BY_STEP.replace("1.40", "1.4O"))
    assert refused(path).startswith("bare.csv, line 4, visual: '1.4O' is not a number")
