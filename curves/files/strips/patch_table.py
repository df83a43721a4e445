"""The scan that a strip's readings come from: the section [scan] of a record, and the table of patches.

    [scan]
    image = "wren-scan.tif"
    calibration = "club-scanner.toml"
    patches = "wren-scan-patches.csv"

The table lists where each patch lies in the picture, and remarks on the patch. `curves grain` reads it too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.fields import Section, check_number
from curves.files.base.record_edits import record_content
from curves.files.base.tables import Table, read_table
from curves.files.strips.calibration import CalibrationRecord, read_calibration
from curves.files.strips.readings import positions_of
from curves.sensitometry.core.units import CHANNELS, Channel, DensityKind, FloatArray
from curves.sensitometry.core.values import POSITIVE
from curves.sensitometry.strip.exposure import POSITIONS, Exposure, Position
from curves.sensitometry.strip.origin import Flag, ScanOrigin
from curves.sensitometry.strip.wedge import Wedge

_CORNERS = ("x1", "y1", "x2", "y2", "x3", "y3", "x4", "y4")
_STATISTICS = ("error", "common", "unevenness", "clipped", "dust")
COLUMNS = (*_CORNERS, *(f"{channel}_{what}" for channel in CHANNELS for what in _STATISTICS), "flags")
"""Columns of the table of patches, beside what they are listed by."""


@dataclass(frozen=True, eq=False)
class ScanRecord:
    """The parts of a strip's scan, for looking at the scan again.

    Attributes:
        image: the picture.
        calibration: the file of the calibration.
        dpi: pixels per inch; None if the record does not state it.
        encoding_doubt: the evidence against the encoding of the picture, a sentence; "" if there is none.
        areas: the patches.
    """

    image: Path
    calibration: Path
    dpi: float | None
    encoding_doubt: str
    areas: Areas


def scan_origin(
    record: Section, path: Path, density: DensityKind, position: FloatArray, exposure: Exposure, wedge: Wedge | None
) -> ScanOrigin:
    """Return the scan that a strip's densities come from, by the section [scan] of its record.

    Args:
        record: the whole record.
        path: its file.
        density: the kind of density it declares.
        position: of each row of the readings, (rows,), as `files.strips.readings.Readings` has it.
        exposure, wedge: of the strip, to check what the table of patches is listed by.

    Raises:
        RecordError: the section or its table cannot be understood.
    """
    section = _section(record, path)
    if density != "scan":
        raise RecordError(
            f'the readings come from a scan, but the record says density = "{density}"',
            where=path.name,
            needed='density = "scan"',
        )
    stored = read_calibration(path.parent / section.text("calibration", needed="the file of the calibration"))
    flags: tuple[Flag, ...] = ()
    common: dict[Channel, FloatArray] = {}
    if "patches" in section:
        table = _patches(section, path)
        places = positions_of(table, exposure, wedge)[0]
        flags = _of_rows(_flags(table), places, position)
        common = {c: _by_row(table.numbers(f"{c}_common"), places, position)
                  for c in CHANNELS if f"{c}_common" in table.header}  # fmt: skip
    return ScanOrigin(
        section.text("image", needed="the name of the picture"),
        stored.wedge is not None,
        flags,
        stored.title,
        common,
        _doubts(section, path, stored),
    )


def _doubts(section: Section, path: Path, stored: CalibrationRecord) -> tuple[str, ...]:
    """Return the doubts about a scan's light: the evidence against its encoding, else what its wedge shows."""
    doubt = section.text("encoding_doubt")
    if doubt:
        return (
            f"{doubt} Every density and all that rests on it may be wrong: scan again with the right encoding, or, if"
            f" this one is right, remove encoding_doubt from {path.name}.",
        )
    return tuple(f"The calibration wedge, {channel}: {doubt}." for channel, doubt in stored.doubts())


def scan_of(path: Path) -> ScanRecord:
    """Return the scan that a strip record names.

    Raises:
        RecordError: the strip was not scanned, or the record or its table cannot be understood.
    """
    record = Section(record_content(path), path.name)
    if "scan" not in record:
        raise RecordError("the strip was not scanned", where=path.name, needed="a record that curves scan wrote")
    section = _section(record, path)
    table = _patches(section, path)
    corners = np.column_stack([table.numbers(name) for name in _CORNERS]).reshape(-1, 4, 2)
    column = next(p for p in POSITIONS if p in table.header)
    return ScanRecord(
        path.parent / section.text("image", needed="the name of the picture"),
        path.parent / section.text("calibration", needed="the file of the calibration"),
        section.number("dpi", POSITIVE),
        section.text("encoding_doubt"),
        Areas(column, tuple(table.numbers(column)), corners),
    )


def _section(record: Section, path: Path) -> Section:
    section = record.section("scan", f"{path.name}, [scan]")
    section.only("image", "dpi", "calibration", "encoding_doubt", "patches")
    return section


def _patches(section: Section, path: Path) -> Table:
    return read_patches(path.parent / section.text("patches", needed="the table of patches that curves scan wrote"))


def read_patches(path: Path) -> Table:
    """Read a table of patches.

    Raises:
        RecordError: the table cannot be understood.
    """
    table = read_table(path, (*POSITIONS, *COLUMNS))
    missing = [c for c in (*_CORNERS, "flags") if c not in table.header]
    if not any(p in table.header for p in POSITIONS):
        missing.append("step")
    if missing:
        raise RecordError(
            f"the column '{missing[0]}' is missing", where=path.name, needed="the table that curves scan wrote"
        )
    for name in _CORNERS:
        for row, value in enumerate(table.numbers(name)):
            check_number(value, table.where(row, name))
    _flags(table)
    return table


def check_patches(flags: Iterable[Flag], path: Path) -> None:
    """Read a table of patches, and refuse the table if the flags that were meant do not come back.

    Raises:
        RecordError: the table cannot be understood, or a flag does not come back.
    """
    if list(_flags(read_patches(path))) != sorted(flags, key=lambda flag: flag.patch):
        raise RecordError("a flag would be lost or changed", where=path.name)


def _flags(table: Table) -> tuple[Flag, ...]:
    """Return the flags of a table: "code channel: message" or "code: message", separated by bars."""
    found = []
    for row, cell in enumerate(table.texts("flags")):
        for text in filter(None, (part.strip() for part in cell.split("|"))):
            head, colon, message = text.partition(": ")
            code, _, name = head.partition(" ")
            channel: Channel | None = next((c for c in CHANNELS if c == name), None)
            if not colon or (name and channel is None):
                raise RecordError(
                    f"'{text}' is not a flag", where=table.where(row, "flags"), needed="code channel: message"
                )
            found.append(Flag(row + 1, code, message, channel))
    return tuple(found)


def _of_rows(flags: Iterable[Flag], patches: FloatArray, rows: FloatArray) -> tuple[Flag, ...]:
    """Return flags of patches as flags of readings; a patch whose reading a person took out is left out.

    Args:
        flags: of the patches, in the order of their table.
        patches: position of each patch, (patches,).
        rows: position of each reading, (rows,).
    """
    row_of = {key: row for row, key in enumerate(_with_turn(rows), start=1)}
    keys = _with_turn(patches)
    return tuple(replace(f, patch=row_of[keys[f.patch - 1]]) for f in flags if keys[f.patch - 1] in row_of)


def _by_row(values: Sequence[float], patches: FloatArray, rows: FloatArray) -> FloatArray:
    """Return the values of patches for each reading, (rows,); NaN for a reading that has no patch."""
    of_patch = dict(zip(_with_turn(patches), values, strict=True))
    return np.array([of_patch.get(key, np.nan) for key in _with_turn(rows)], dtype=np.float64)


def _with_turn(positions: FloatArray) -> list[tuple[float, int]]:
    """Return each position, and how many rows before it have the same: a repeat is a patch of its own."""
    before: Counter[float] = Counter()
    found = []
    for position in positions.tolist():
        found.append((position, before[position]))
        before[position] += 1
    return found


@dataclass(frozen=True, eq=False)
class Areas:
    """Patches of known place.

    Attributes:
        column: what they are listed by.
        positions: steps, stops or indexes, (n,).
        corners: of each, going round, (n, 4, 2) [pixels].
    """

    column: Position
    positions: tuple[float, ...]
    corners: FloatArray

    @property
    def labels(self) -> tuple[str, ...]:
        """The name of each patch, such as "step 3"."""
        word = {"step": "step {:g}", "stops": "{:+g} stops", "ei": "EI {:g}", "log_h": "log H {:g}"}[self.column]
        return tuple(word.format(position) for position in self.positions)
