"""The blank sheet to print: what it takes from the record, and how its lines fall on A4."""

from __future__ import annotations

import re
from pathlib import Path

from curves.app.blank_sheet import BlankSheet, blank_sheet
from curves.views.pages.reading_sheet import reading_sheet, sheets_of
from tests.commands.run import run
from tests.commands.test_enter import RECORD, enter, in_folder, names


def sheet_of(folder: Path, name: str = "heron") -> tuple[BlankSheet, str]:
    """Return the sheet of a strip, and its page."""
    blank = blank_sheet(folder / f"{name}.toml", None, None)
    return blank, reading_sheet(blank, name)


def labels(page: str) -> list[str]:
    """Return the heads of the rows."""
    return re.findall(r"<tr[^>]*><th[^>]*>([^<]*)</th>(?=<td)", page)


def test_the_sheet_reflects_the_record(tmp_path: Path) -> None:
    in_folder(tmp_path, record=RECORD.replace("increment = 0.15", "increment = 0.10\nfirst = 0.08"))
    blank, page = sheet_of(tmp_path)
    assert "<h1>Heron 80, second roll</h1><p>sheet 1 of 1</p>" in page
    for fact in ("Kind</dt><dd>reversal<", "[lux]</dt><dd>25<", "[seconds]</dt><dd>1.6<", "Wedge</dt><dd>21x0.1@0.08<"):
        assert fact in page
    assert "Step that the meter read" not in page
    assert labels(page) == [*map(str, range(1, 22)), "base", "unexposed", "fully exposed"]
    assert [f"{density:.2f}" for density in blank.wedge][:3] == re.findall(r'"wedge">([\d.]+)<', page)[:3]
    assert "<th>red</th><th>green</th><th>blue</th>" in page
    assert "<script" not in page


def test_the_sheet_of_a_strip_that_is_not_there_has_every_fact_open(tmp_path: Path) -> None:
    _, page = sheet_of(tmp_path)
    for name in ("Film", "Exposure time [seconds]", "Index the meter was set to", "Step that the meter read"):
        assert f"<dt>{name}</dt><dd></dd>" in page
    assert '<dd class="choices">status A / status M / visual / scan</dd>' in page
    assert "Log H" not in page
    assert labels(page)[:21] == [str(n) for n in range(1, 22)]
    in_folder(tmp_path, "heron-0410", RECORD.replace("steps = 21", "steps = 11"))
    blank, page = sheet_of(tmp_path)
    assert (len(blank.wedge), blank.title) == (11, "")
    assert "<dd>reversal</dd>" not in page


def test_the_sheet_follows_an_entry_under_way_and_the_options(tmp_path: Path) -> None:
    enter(tmp_path, "heron", typed=["Heron 80 <b>", "q"])
    assert "<h1>Heron 80 &lt;b&gt;</h1>" in sheet_of(tmp_path)[1]
    in_folder(tmp_path, "other")
    enter(tmp_path, "other", "--from", "dark", "--channels", "blue,red", typed=["2.9 2.5", "q"])
    page = sheet_of(tmp_path, "other")[1]
    assert labels(page)[:2] == ["21", "20"]
    assert "<th>blue</th><th>red</th><th " in page
    done = run(tmp_path, "enter", "other", "--sheet", "--from", "clear", "--channels", "visual")
    assert (done.returncode, done.stdout.splitlines()[1]) == (0, "Then: curves enter other")
    page = (tmp_path / "other-sheet.html").read_text(encoding="utf-8")
    assert labels(page)[:2] == ["1", "2"]
    assert "<th>visual</th><th " in page


def test_frames_have_their_stops_or_empty_heads(tmp_path: Path) -> None:
    frames = RECORD.partition("[wedge]")[0] + '[exposure]\nmethod = "frames"\nei = 50\n'
    in_folder(tmp_path, record=frames)
    assert labels(sheet_of(tmp_path)[1])[:11] == [""] * 11
    (tmp_path / "heron.csv").write_text("stops,visual\n-1,2.0\n0,1.0\n1,0.5\n", encoding="utf-8")
    assert labels(sheet_of(tmp_path)[1])[:3] == ["−1", "+0", "+1"]


def test_a_record_without_a_wedge_that_can_be_read_is_refused(tmp_path: Path) -> None:
    in_folder(tmp_path, record=RECORD.replace("steps = 21", 'table = "away.csv"'))
    done = run(tmp_path, "enter", "heron", "--sheet")
    assert (done.returncode, names(tmp_path)) == (1, ["heron.toml"])
    assert "there is no such file" in done.stderr


def test_a_strip_of_21_steps_takes_one_a4_and_longer_ones_more() -> None:
    assert sheets_of(21) == [21]
    assert sheets_of(22) == [18, 4]
    assert sheets_of(41) == [24, 17]
    assert sheets_of(100) == [24, 30, 30, 16]
    # The facts of a long title push lines to the next sheet, and none is lost.
    for lines in range(1, 200):
        for taken in range(40):
            counts = sheets_of(lines, taken)
            assert sum(counts) == lines
            assert min(counts) > 0
            assert counts[-1] >= min(lines, 4)
            assert all(count <= 30 for count in counts)
