"""An archive of strips is reported once; a second run does what is new or changed, and one page leads to all."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from curves.files.base.writing import write_atomically
from curves.files.results import report_files
from tests.commands.run import run

WEDGE_DATA = Path(__file__).parents[2] / "wedge_data"
QUICK = ("--draws", "0")


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """Return a folder with an archive of three strips, one of them in a folder of its own."""
    for name in ("heron-reversal", "wren-reversal"):
        for ending in (".toml", ".csv"):
            (tmp_path / "archive" / "2026").mkdir(parents=True, exist_ok=True)
            shutil.copy(WEDGE_DATA / f"{name}{ending}", tmp_path / "archive")
            shutil.copy(WEDGE_DATA / f"{name}{ending}", tmp_path / "archive" / "2026")
    (tmp_path / "archive" / "2026" / "wren-reversal.toml").unlink()
    for path in (WEDGE_DATA / "wedge-21.csv",):
        shutil.copy(path, tmp_path / "archive")
        shutil.copy(path, tmp_path / "archive" / "2026")
    return tmp_path


def pages(folder: Path) -> dict[str, int]:
    """Return when each page in a folder was written."""
    return {p.relative_to(folder).as_posix(): p.stat().st_mtime_ns for p in folder.rglob("*.html")}


def report(folder: Path, *more: str) -> str:
    result = run(folder, "report", "archive", *QUICK, *more)
    assert result.returncode == 0, result.stderr
    return result.stdout


def test_a_second_run_writes_only_what_is_new_or_changed(archive: Path) -> None:
    report(archive)
    first = pages(archive / "outputs")
    assert set(first) == {"2026/heron-reversal.html", "heron-reversal.html", "wren-reversal.html", "index.html"}
    assert "3 of 3 strips have their report already" in report(archive)
    assert {k: v for k, v in pages(archive / "outputs").items() if k != "index.html"} == {
        k: v for k, v in first.items() if k != "index.html"
    }
    # A changed reading, and a record with another comment: both count by what their files hold.
    readings = archive / "archive" / "wren-reversal.csv"
    readings.write_text(readings.read_text(encoding="utf-8").replace("1.", "1.0", 1), encoding="utf-8")
    shown = report(archive)
    assert "2 of 3 strips have their report already" in shown
    changed = pages(archive / "outputs")
    assert [k for k in first if k != "index.html" and changed[k] != first[k]] == ["wren-reversal.html"]


def test_other_options_a_lost_page_and_a_wish_each_write_a_report_again(archive: Path) -> None:
    report(archive)
    assert "already" not in report(archive, "--white-stops", "2")
    assert "3 of 3" in report(archive, "--white-stops", "2")
    (archive / "outputs" / "heron-reversal.html").unlink()
    assert "2 of 3" in report(archive, "--white-stops", "2")
    assert "already" not in report(archive, "--white-stops", "2", "--again")


def test_a_report_cut_short_counts_as_not_made(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write, written = write_atomically, list[str]()

    def interrupted(path: Path, text: str) -> None:
        written.append(path.name)
        if path.name == "wren-reversal-curve.csv":
            raise KeyboardInterrupt
        write(path, text)

    with monkeypatch.context() as patch:
        patch.setattr(report_files, "write_atomically", interrupted)
        run(archive, "report", "archive", *QUICK)
    assert "wren-reversal.html" in written
    assert "2 of 3 strips have their report already" in report(archive)


def test_one_page_leads_to_all_reports_with_their_numbers(archive: Path) -> None:
    shown = report(archive)
    assert "index.html leads to 3 reports" in shown
    page = (archive / "outputs" / "index.html").read_text(encoding="utf-8")
    assert '<a href="2026/heron-reversal.html">' in page
    assert page.count('<svg class="small"') == 3
    (gamma,) = re.findall(
        r"^ *gamma +([0-9.]+)", run(archive, "measure", "archive/wren-reversal.toml").stdout, re.M | re.I
    )
    assert f">{float(gamma):.2f}</td>" in page
    assert "Content-Security-Policy" in page


def test_a_strip_that_is_named_as_the_page_of_all_is_refused(archive: Path) -> None:
    record = archive / "archive" / "wren-reversal.toml"
    record.rename(record.with_name("index.toml"))
    result = run(archive, "report", "archive", *QUICK)
    assert result.returncode == 1
    assert "would both be written as 'index'" in result.stderr
