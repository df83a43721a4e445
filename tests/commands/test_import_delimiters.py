"""`curves import --delimiter`: a table is split where its user says, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.files.strips.record import load_strip
from tests.commands.run import Outcome, run

SETTINGS = (
    "--kind", "reversal", "--density", "visual", "--wedge", "5x0.3", "--lux", "25", "--seconds", "1/50", "--yes"
)  # fmt: skip
DENSITIES = [0.31, 0.50, 1.10, 1.90, 2.40]


def imported(folder: Path, delimiter: str, lines: list[str]) -> Outcome:
    """Import a table of these lines as strip b, its visual densities in its last column."""
    (folder / "a.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return run(folder, "import", "a.txt", "--into", "b", "--delimiter", delimiter, *SETTINGS)


@pytest.mark.parametrize(
    ("delimiter", "sign"), [("tab", "\t"), ("semicolon", ";"), ("comma", ","), ("bar", "|"), ("spaces", "  ")]
)
def test_cells_are_split_at_the_delimiter_that_is_given(tmp_path: Path, delimiter: str, sign: str) -> None:
    rows = [f"{n}{sign}{density:.2f}" for n, density in enumerate(DENSITIES, start=1)]
    done = imported(tmp_path, delimiter, [f"step{sign}visual", *rows])
    assert done.returncode == 0, done.stderr
    strip = load_strip(tmp_path / "b.toml")
    assert list(strip.position) == [1, 2, 3, 4, 5]
    assert list(strip.readings["visual"]) == DENSITIES


def test_spaces_do_not_split_a_table_of_one_column(tmp_path: Path) -> None:
    lines = ["visual density", *(f"{density:.2f}" for density in DENSITIES)]
    done = imported(tmp_path, "none", lines)
    assert done.returncode == 0, done.stderr
    assert list(load_strip(tmp_path / "b.toml").readings["visual"]) == DENSITIES


@pytest.mark.parametrize(("delimiter", "sign"), [("none", " "), ("spaces", ";"), ("semicolon", " ")])
def test_cells_are_not_split_anywhere_else(tmp_path: Path, delimiter: str, sign: str) -> None:
    rows = [f"{n}{sign}{density:.2f}" for n, density in enumerate(DENSITIES, start=1)]
    done = imported(tmp_path, delimiter, [f"step{sign}visual", *rows])
    assert done.returncode == 1
    assert done.stderr.startswith("curves: ")
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
