"""A check of any file: the reason that it would not load, or the doubts about it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from curves.app.strip_files import NOT_A_STRIP, PICTURES, hidden, kind_of_file, kind_of_table
from curves.errors import CurvesError
from curves.files.entry.entry import ENDING, Entry
from curves.files.filters.drawer import read_drawer
from curves.files.imports.readers import has_format
from curves.files.results.report_files import written_in
from curves.files.scans.frames import read_frames
from curves.files.scans.scan import Scan
from curves.files.sections.known_densities import read_known_densities
from curves.files.strips.bare import read_bare
from curves.files.strips.calibration import is_calibration, read_calibration
from curves.files.strips.patch_table import read_patches
from curves.files.strips.readings import readings_of
from curves.files.strips.record import load_by_stack
from curves.files.strips.stacks import stacks_in
from curves.files.strips.wedges import read_wedge
from curves.sensitometry.analysis.analyse import analyse_for_index
from curves.sensitometry.checks.suspicion import unusual_wedge
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.scan.encoding import LINEAR
from curves.sensitometry.uncertainty.results import Notice

NO_DOUBT = frozenset(
    {
        "assumed-uncertainty",
        "converted",
        "visual-estimated",
        "filter-in-place",
        "assumed",
        "stand-in",
        "callier",
        "far-from-tested-time",
        "scan-density",
        "scan-matched",
        "scan-match",
    }
)
"""Codes of notices about the meaning of numbers, which do not make a file doubtful."""


@dataclass(frozen=True)
class FileCheck:
    """The check of one file: the error that loading it gives, or None, and the doubts about it."""

    path: Path
    error: CurvesError | None
    doubts: tuple[Notice, ...] = ()

    @property
    def other_than_strip(self) -> str:
        """Name what a file that loads is, with its article, if it is not a strip's; else ""."""
        return "" if self.error is not None else NOT_A_STRIP.get(kind_of_file(self.path), "")


def check_file(path: Path) -> FileCheck:
    """Read a file as `report` does, and look for slips.

    Args:
        path: a strip record, a table of readings, of a calibrated wedge, of filters or of patches, a table that
            `import` reads, an entry under way, a scan, or its calibration.
    """
    try:
        if path.suffix.lower() in PICTURES:
            return FileCheck(path, None, _of_picture(path))
        if path.suffix.lower() == ".toml" and is_calibration(path):
            read_calibration(path)
            return FileCheck(path, None)
        if path.suffix.lower() == ".toml":
            found = [analyse_for_index(strip, Choices(draws=0)) for strip in load_by_stack(path)]
            warnings = (notice for analysis in found for notice in analysis.warnings)
            return FileCheck(path, None, tuple(n for n in warnings if n.code not in NO_DOUBT))
        if path.suffix.lower() == ENDING:
            return FileCheck(path, None, (_under_way(path),))
        return FileCheck(path, None, _of_table(path))
    except CurvesError as error:
        return FileCheck(path, error)


def doubts_of(record: Path) -> tuple[Notice, ...]:
    """Return the doubts about a record that must load.

    Raises:
        CurvesError: the record does not load.
    """
    checked = check_file(record)
    if checked.error is not None:
        raise checked.error
    return checked.doubts


def files_in(path: Path) -> list[Path]:
    """Return the records, tables and entries in a folder and in the folders below, or the file itself.

    Results that the tool itself wrote are left out.
    """
    if not path.is_dir():
        return [path]
    found = (p for p in path.rglob("*") if p.suffix.lower() in (".toml", ".csv", ENDING) or has_format(p))
    kept = [p for p in found if p.is_file() and not hidden(p.relative_to(path))]
    results = {folder: written_in(folder) for folder in {p.parent for p in kept}}
    return sorted(p for p in kept if p.name not in results[p.parent])


def _of_table(path: Path) -> tuple[Notice, ...]:
    """Return the doubts about a table: a drawer if it has names, a wedge if it has densities by step, else readings."""
    match kind_of_table(path):
        case "drawer":
            read_drawer(path)
        case "patches":
            read_patches(path)
        case "match":
            read_known_densities(path)
        case "frames":
            read_frames(path)
        case "wedge":
            return tuple(unusual_wedge(read_wedge(path)))
        case _:
            table = read_bare(path)
            stacks: list[str | None] = [*stacks_in(table)]
            for stack in stacks or [None]:
                readings_of(table, None, None, None, stack)
            return tuple(Notice("odd-table", text) for text in table.doubtful)
    return ()


def _of_picture(path: Path) -> tuple[Notice, ...]:
    """Return the doubts about a scan whose numbers may not be in proportion to light."""
    with Scan(path, LINEAR) as scan:
        signs = scan.signs()
    return (Notice("looks-encoded", f"It looks encoded for display: {signs}."),) if signs else ()


def _under_way(path: Path) -> Notice:
    """Return the notice that an entry is not finished, with its progress."""
    entry = Entry(path.with_suffix(".toml"))
    how_far = "its questions are not all answered"
    if entry.begun:
        how_far = f"{entry.sheet.lines_read} of {len(entry.sheet.plan.lines)} lines are read"
    return Notice("entry-under-way", f"An entry under way: {how_far}. curves enter {path.with_suffix('')} goes on.")
