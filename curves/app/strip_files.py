"""The strips among the files and folders that a person names; each other file is named as what it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from curves.errors import CurvesError, RecordError, visible
from curves.files.base.record_edits import record_content
from curves.files.base.tables import read_table
from curves.files.entry.entry import ENDING
from curves.files.filters.drawer import COLUMNS as DRAWER
from curves.files.sections.known_densities import COLUMNS as MATCH
from curves.files.strips.calibration import is_calibration
from curves.files.strips.patch_table import COLUMNS as PATCHES
from curves.sensitometry.core.units import CHANNELS, FEWEST_STEPS, LAYERS
from curves.sensitometry.strip.exposure import POSITIONS

FileKind = Literal[
    "record", "readings", "calibration", "entry", "picture", "drawer", "patches", "match", "frames", "wedge"
]

RECORD = ".toml"
PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg", ".dng")

NOT_A_STRIP = {
    "calibration": "the calibration of a scan",
    "entry": "an entry under way",
    "picture": "a picture",
    "drawer": "a table of filters",
    "patches": "a table of patches",
    "match": "a table of matched patches",
    "frames": "a roll of scanned frames",
    "wedge": "a calibrated wedge",
}
"""What a file is that is not a strip, by kind of file."""


@dataclass(frozen=True)
class StripFile:
    """The file of a strip.

    Attributes:
        path: a record, or a table of readings that no record among the files names.
        name: the name of the strip's results, without an ending: the file's own, behind the folders that lie between
            the folder that was named and the file.
        fingerprint: digest of all that the strip's results are made from; empty where nobody asks.
    """

    path: Path
    name: Path
    fingerprint: str = ""


@dataclass(frozen=True)
class StripFiles:
    """The strips among some files, and the other files.

    Attributes:
        strips: the strips.
        others: each other file with what it is, a noun with its article.
    """

    strips: tuple[StripFile, ...]
    others: tuple[tuple[Path, str], ...]


def strips_among(paths: Sequence[Path]) -> StripFiles:
    """Return the strips among files and folders, in the order given; a folder stands for all records in it.

    A table of readings that belongs to one of the records is not a strip of its own. One file alone is taken for a
    strip unless its content shows another kind of file.

    Raises:
        RecordError: no file is a strip.
    """
    within = {found: path if path.is_dir() else found.parent for path in paths for found in _opened(path)}
    named = list(within)
    # Where records alone are named, no table can belong to one of them.
    tables = any(path.suffix.lower() != RECORD for path in named)
    of_record = {
        table.resolve(): f"{what} of {record.name}" for record in named if tables for table, what in _tables_of(record)
    }
    strips, others = [], []
    for path in named:
        kind = kind_of_file(path)
        if visible(str(path)) != str(path):
            others.append((path, "a file whose name holds a control character"))
        elif kind in NOT_A_STRIP:
            others.append((path, NOT_A_STRIP[kind]))
        elif path.resolve() in of_record:
            others.append((path, of_record[path.resolve()]))
        else:
            strips.append(StripFile(path, path.relative_to(within[path]).with_suffix("")))
    if not strips:
        where = ", ".join(str(path) for path in paths)
        what = "; ".join(f"{path.name} is {what}" for path, what in others) or "the folder holds no record (.toml)"
        pictures = any(what == NOT_A_STRIP["picture"] for _, what in others)
        raise RecordError(
            what,
            where=where,
            needed="a strip: a record (.toml), or a table of readings",
            hint="make a record of the picture: curves scan" if pictures else "",
        )
    return StripFiles(tuple(strips), tuple(others))


def kind_of_file(path: Path) -> FileKind:
    """Return the kind of a file by its ending and its content; a file that cannot be read goes by its ending alone."""
    ending = path.suffix.lower()
    if ending in PICTURES:
        return "picture"
    if ending == ENDING:
        return "entry"
    if ending == RECORD:
        return "calibration" if is_calibration(path) else "record"
    return kind_of_table(path)


def kind_of_table(path: Path) -> FileKind:
    """Return the kind of a table by its columns; one with red, green and blue of too few steps for a strip is "match".

    A short table beside its own record or entry stays a table of readings.
    """
    try:
        table = read_table(
            path, (*POSITIONS, *CHANNELS, "density", "uncertainty", "picture", *DRAWER, *PATCHES, *MATCH)
        )
    except CurvesError:
        return "readings"
    kinds: dict[str, FileKind] = {
        "name": "drawer",
        "x1": "patches",
        "picture": "frames",
        "patch": "match",
        "scanned_red": "match",
        "density": "wedge",
    }
    by_column: FileKind = next((kind for column, kind in kinds.items() if column in table.header), "readings")
    if by_column != "readings" or not set(LAYERS) <= set(table.header):
        return by_column
    listed = {place for column in POSITIONS if column in table.header for place in table.texts(column)}
    of_record = any(path.with_suffix(ending).exists() for ending in (RECORD, ENDING))
    too_short = 0 < len(listed) < FEWEST_STEPS and not of_record
    return "match" if "left" in table.header or too_short else "readings"


def _opened(path: Path) -> list[Path]:
    """Return a file, or the records of a folder."""
    return _records_in(path) if path.is_dir() else [path]


def _records_in(folder: Path) -> list[Path]:
    """Return the records in a folder and in the folders below, without hidden ones."""
    found = (path for path in folder.rglob("*") if path.suffix.lower() == RECORD and path.is_file())
    return sorted(path for path in found if not hidden(path.relative_to(folder)))


def hidden(path: Path) -> bool:
    """Return True if a part of a path begins with a full stop."""
    return any(part.startswith(".") for part in path.parts)


def _tables_of(path: Path) -> Iterator[tuple[Path, str]]:
    """Yield the tables of readings and of known densities that a record names, each with what it is."""
    if path.suffix.lower() != RECORD:
        return
    try:
        content = record_content(path)
    except CurvesError:
        return
    match = content.get("match")
    known = match.get("patches") if isinstance(match, dict) else None
    for named, what in ((content.get("readings"), "the readings"), (known, "the known densities")):
        if isinstance(named, str):
            yield path.parent / named, what
