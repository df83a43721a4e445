"""A new instrument format is one file and one row: the diff that DEVELOPERS.md shows, applied and used."""

from __future__ import annotations

from pathlib import Path

from tests.additions.addition import ADDITIONS, apply, package_with, run_in

PLOVER = (
    "Plover strip reader, 5 patches\n"
    "12;0.53;0.61;0.70\n13;1.10;1.22;1.31\n14;1.90;2.05;2.11\n15;2.40;2.60;2.55\n16;2.52;2.78;2.91\n"
)
USE = """
import sys
from curves.cli import main
def run(*words):
    sys.argv = ["curves", *words]
    try:
        main()
    except SystemExit as end:
        assert not end.code, (words, end.code)
run("import", "plover.txt", "--into", "made", "--yes", "--kind", "reversal", "--density", "status A",
    "--wedge", "21x0.15", "--lux", "25", "--seconds", "1.6")
run("check", ".", "--full")
run("measure", "plover.txt", "--kind", "reversal", "--wedge", "21x0.15", "--ei", "80",
    "--metered-step", "11", "--table", "cgats")
run("import", "--help")
"""


def test_a_new_instrument_is_imported_checked_measured_and_listed_in_the_help(tmp_path: Path) -> None:
    package_with("reader.diff", tmp_path)
    (tmp_path / "plover.txt").write_text(PLOVER, encoding="utf-8")
    printed = run_in(tmp_path, USE)
    assert "blue     5 readings, 0.70 ... 2.91\n    5 rows, step 12 ... 16\n" in printed
    assert (tmp_path / "made.csv").read_text(encoding="utf-8").startswith("step,red,green,blue\n12,0.53,0.61,0.70\n")
    assert "\nplover.txt: good\n" in printed
    assert "\n16\t2.52\t2.78\t2.91\n" in printed
    assert "text of the Plover strip reader, .txt" in " ".join(printed.split())
    assert "Columns:" not in printed  # the format is known: nothing is guessed, and nothing is said of guesses


def test_a_row_beside_it_does_not_disturb_the_addition(tmp_path: Path) -> None:
    package_with("reader.diff", tmp_path)
    apply((ADDITIONS / "reader.diff").read_text(encoding="utf-8").replace("plover", "siskin"), tmp_path)
    keys = run_in(tmp_path, "from curves.files.imports.readers import READERS; print(*(r.module for r in READERS))")
    assert keys.split() == ["workbook", "cgats", "siskin", "plover", "delimited"]


def test_the_addition_is_one_file_and_one_row() -> None:
    lines = (ADDITIONS / "reader.diff").read_text(encoding="utf-8").splitlines()
    assert sum(line.startswith("+++ ") for line in lines) == 2
    changed = [line for line in lines[lines.index("--- a/curves/files/imports/readers.py") + 2 :] if line[0] in "+-"]
    assert len(changed) == 1
    assert changed[0].startswith("+    Reader(")
