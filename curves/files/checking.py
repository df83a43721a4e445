"""Whether a file would load, and what in it is doubtful."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from curves.errors import CurvesError
from curves.files.drawer import COLUMNS as DRAWER
from curves.files.drawer import read_drawer
from curves.files.readings import read_readings
from curves.files.record import load_strip, read_wedge
from curves.files.tables import read_table
from curves.sensitometry.analysis import analyse
from curves.sensitometry.choices import Choices
from curves.sensitometry.exposure import POSITIONS, Contact, Exposure, Frames, Given
from curves.sensitometry.findings import Notice
from curves.sensitometry.units import CHANNELS

NO_DOUBT = frozenset(
    {
        "reading-scatter-only",
        "repeatability-assumed",
        "visual-estimated",
        "filter-in-place",
        "assumed",
        "stand-in",
        "callier",
        "far-from-tested-time",
    }
)
"""Notices that say how numbers are to be read, not that a file is doubtful."""


@dataclass(frozen=True)
class Checked:
    """One file: why it would not load, or None; and what is doubtful in it."""

    path: Path
    error: CurvesError | None
    doubts: tuple[Notice, ...] = ()


def check_file(path: Path) -> Checked:
    """Read a file as `report` would and look at it for slips.

    Args:
        path: a strip record, a table of readings or the table of a calibrated wedge.
    """
    try:
        if path.suffix.lower() == ".toml":
            warnings = analyse(load_strip(path), Choices(draws=0)).warnings
            return Checked(path, None, tuple(n for n in warnings if n.code not in NO_DOUBT))
        _check_table(path)
    except CurvesError as error:
        return Checked(path, error)
    return Checked(path, None)


def files_in(path: Path) -> list[Path]:
    """Return the records and tables in a folder, or the file itself."""
    if path.is_dir():
        return sorted(p for p in path.iterdir() if p.suffix.lower() in (".toml", ".csv"))
    return [path]


def _check_table(path: Path) -> None:
    """Read a table that stands alone: a drawer if it has names, a wedge if densities by step, else readings."""
    header = read_table(path, (*POSITIONS, *CHANNELS, "density", "uncertainty", *DRAWER)).header
    if "name" in header:
        read_drawer(path)
        return
    if "density" in header:
        read_wedge(path)
        return
    exposure: Exposure = Given()
    if "step" in header:
        exposure = Contact(1.0, 1.0)
    elif "stops" in header or "ei" in header:
        exposure = Frames(100.0)
    read_readings(path, exposure, None, None)
