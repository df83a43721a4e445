"""Whether a file would load, and what in it is doubtful."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from curves.errors import CurvesError, RecordError
from curves.files.base.tables import read_table
from curves.files.entry.entry import ENDING, Entry
from curves.files.filters.drawer import COLUMNS as DRAWER
from curves.files.filters.drawer import read_drawer
from curves.files.imports.cgats import is_exchange_text
from curves.files.imports.gridded import How
from curves.files.imports.grids import decoded
from curves.files.imports.importing import import_table
from curves.files.scans.scan import Scan
from curves.files.strips.calibration import is_calibration, read_calibration
from curves.files.strips.patch_table import COLUMNS as PATCHES
from curves.files.strips.patch_table import read_patches
from curves.files.strips.readings import read_readings
from curves.files.strips.record import load_strip, read_wedge
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import CHANNELS
from curves.sensitometry.scan.encoding import LINEAR
from curves.sensitometry.strip.exposure import POSITIONS, Contact, Exposure, Frames, GivenExposure
from curves.sensitometry.uncertainty.results import Notice

NO_DOUBT = frozenset(
    {
        "assumed-uncertainty",
        "visual-estimated",
        "filter-in-place",
        "assumed",
        "stand-in",
        "callier",
        "far-from-tested-time",
        "scan-density",
    }
)
"""Notices that say how numbers are to be read, not that a file is doubtful."""


_WORKBOOKS = (".xlsx", ".xlsm")
PICTURES = (".tif", ".tiff", ".png")


@dataclass(frozen=True)
class FileCheck:
    """One file: why it would not load, or None; and what is doubtful in it."""

    path: Path
    error: CurvesError | None
    doubts: tuple[Notice, ...] = ()


def check_file(path: Path) -> FileCheck:
    """Read a file as `report` would and look at it for slips.

    Args:
        path: a strip record, a table of readings, the table of a calibrated wedge, an entry under way, a table that
            `import` reads (a workbook, or exchange text), a scan, its calibration, or its table of patches.
    """
    try:
        if path.suffix.lower() in PICTURES:
            return FileCheck(path, None, _of_picture(path))
        if path.suffix.lower() == ".toml" and is_calibration(path):
            read_calibration(path)
            return FileCheck(path, None)
        if path.suffix.lower() == ".toml":
            warnings = analyse(load_strip(path), Choices(draws=0)).warnings
            return FileCheck(path, None, tuple(n for n in warnings if n.code not in NO_DOUBT))
        if path.suffix.lower() == ENDING:
            return FileCheck(path, None, (_under_way(path),))
        if path.suffix.lower() in _WORKBOOKS or _is_exchange(path):
            doubts = import_table(path, How()).doubtful
            return FileCheck(path, None, tuple(Notice("odd-table", text) for text in doubts))
        _check_table(path)
    except CurvesError as error:
        return FileCheck(path, error)
    return FileCheck(path, None)


def doubts_of(record: Path) -> tuple[Notice, ...]:
    """Return what is doubtful in a record that must load.

    Raises:
        CurvesError: it does not load.
    """
    checked = check_file(record)
    if checked.error is not None:
        raise checked.error
    return checked.doubts


def files_in(path: Path) -> list[Path]:
    """Return the records, tables and entries in a folder, or the file itself."""
    if not path.is_dir():
        return [path]
    return sorted(
        p
        for p in path.iterdir()
        if p.suffix.lower() in (".toml", ".csv", ENDING, *_WORKBOOKS)
        or (p.suffix.lower() == ".txt" and _is_exchange(p))
    )


def _check_table(path: Path) -> None:
    """Read a table that stands alone: a drawer if it has names, a wedge if densities by step, else readings."""
    try:
        header = read_table(path, (*POSITIONS, *CHANNELS, "density", "uncertainty", *DRAWER, *PATCHES)).header
    except RecordError as error:
        raise _with_way(path, error) from error
    if "name" in header:
        read_drawer(path)
        return
    if "x1" in header:
        read_patches(path)
        return
    if "density" in header:
        read_wedge(path)
        return
    exposure: Exposure = GivenExposure()
    if "step" in header:
        exposure = Contact(1.0, 1.0)
    elif "stops" in header or "ei" in header:
        exposure = Frames(100.0)
    read_readings(path, exposure, None, None)


def _with_way(path: Path, error: RecordError) -> RecordError:
    """Return why a table does not load as it is, with `import` as the way where that would read it."""
    try:
        import_table(path, How())
    except RecordError:
        return error
    return RecordError(
        error.what, where=error.where, needed=error.needed, hint=f"run curves import {path}, which reads it"
    )


def _of_picture(path: Path) -> tuple[Notice, ...]:
    """Return what is doubtful of a scan that is read as linear."""
    with Scan(path, LINEAR) as scan:
        doubt = scan.doubt()
    return (Notice("looks-encoded", f"Read as linear, but {doubt}."),) if doubt else ()


def _under_way(path: Path) -> Notice:
    """Return that an entry is not finished, and how far it got."""
    entry = Entry(path.with_suffix(".toml"))
    how_far = "its questions are not all answered"
    if entry.begun:
        how_far = f"{entry.sheet.lines_read} of {len(entry.sheet.plan.lines)} lines are read"
    return Notice("entry-under-way", f"An entry under way: {how_far}. curves enter {path.with_suffix('')} goes on.")


def _is_exchange(path: Path) -> bool:
    try:
        return path.is_file() and is_exchange_text(decoded(path.read_bytes(), path.name)[0])
    except (OSError, CurvesError):
        return False
