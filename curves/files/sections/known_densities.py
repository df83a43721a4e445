"""A table of densities that a densitometer read, of patches that a scan shows too.

    step,red,green,blue
    1,0.21,0.24,0.30
    6,0.62,0.71,0.80

A patch is named by its step on the strip (or the `stops` or `ei` of a frame), by its rectangle in the picture (left,
top, right, bottom), or, in the table that a scan keeps, by the scan's own densities (scanned_red and so on). A column
`uncertainty` states the standard uncertainty of a row's densities.

The table that a scan keeps has the known densities beside the scan's own: another strip of the same film, scanned with
the same settings, is matched by it.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from curves.errors import RecordError
from curves.files.base.fields import check_number
from curves.files.base.tables import Table, read_table
from curves.sensitometry.core.units import LAYERS, FloatArray
from curves.sensitometry.core.values import READING, Bounds
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY

if TYPE_CHECKING:
    from curves.sensitometry.matching.matched_patches import MatchedPatches

PatchColumn = Literal["step", "stops", "ei", "area", "scanned"]
"""How a table tells which patch a row is."""

RECTANGLE = ("left", "top", "right", "bottom")
SCANNED = tuple(f"{what}_{channel}" for what in ("scanned", "scatter", "common") for channel in LAYERS)
"""Columns of the scan's densities, the part of their uncertainty that is a patch's own, and the part they share."""

_LISTED: tuple[PatchColumn, ...] = ("step", "stops", "ei")
_UNCERTAINTY = Bounds(above=0.0, below=1.0)
"""A standard uncertainty of a known density [density]."""

_SCATTER = Bounds(least=0.0, below=1.0)
COLUMNS = ("patch", *_LISTED, *RECTANGLE, *LAYERS, "uncertainty", *SCANNED)

_DECIMALS = 4
"""Decimals of a number in the table that a scan keeps."""


@dataclass(frozen=True, eq=False)
class KnownDensities:
    """The densities that a densitometer read of some patches.

    Attributes:
        table: name of the file.
        column: how the rows tell their patches.
        names: what to call each patch.
        places: where each row stands in the file, for errors.
        patches: steps, stops or indexes, (n, 1); rectangles, (n, 4) [pixels]; or the scan's densities and the two parts
            of their uncertainty, (n, 9) [density].
        known: red, green and blue, (n, 3) [density].
        uncertainty: standard uncertainty of each row's densities, (n,) [density].
        assumed: True if the table gives no uncertainty.
    """

    table: str
    column: PatchColumn
    names: tuple[str, ...]
    places: tuple[str, ...]
    patches: FloatArray
    known: FloatArray
    uncertainty: FloatArray
    assumed: bool


def read_known_densities(path: Path) -> KnownDensities:
    """Read a table of known densities; repeat readings of a patch, on rows of their own, are averaged.

    Raises:
        RecordError: the table cannot be understood.
    """
    table = read_table(path, COLUMNS)
    column, names = _column_of(table)
    missing = [channel for channel in LAYERS if channel not in table.header]
    if missing:
        raise RecordError(
            f"the column '{missing[0]}' is missing",
            where=path.name,
            needed="red, green and blue of each patch, as the densitometer shows them",
        )
    if not table.rows:
        raise RecordError("the table has no row", where=path.name, needed="a row for each patch")
    known = _numbers(table, LAYERS, READING)
    patches = _numbers(table, names, Bounds())
    if column == "scanned":
        _numbers(table, names[:3], READING)
        _numbers(table, names[3:], _SCATTER)
    assumed = "uncertainty" not in table.header
    each = np.full(len(table.rows), ASSUMED_REPEATABILITY)
    if not assumed:
        each = _numbers(table, ("uncertainty",), _UNCERTAINTY)[:, 0]
    # Rows of one patch are repeats: their mean, and its uncertainty.
    kept, of = np.unique(patches, axis=0, return_inverse=True)
    rows = [np.flatnonzero(of.ravel() == at) for at in range(len(kept))]
    first = [int(same[0]) for same in rows]
    labels = table.texts("patch")
    return KnownDensities(
        path.name,
        column,
        tuple(labels[at] or _name(column, patches[at]) for at in first),
        tuple(table.places[at] for at in first),
        kept,
        np.array([known[same].mean(axis=0) for same in rows]),
        np.array([np.sqrt(np.mean(each[same] ** 2) / same.size) for same in rows]),
        assumed,
    )


def _column_of(table: Table) -> tuple[PatchColumn, tuple[str, ...]]:
    """Return the way in which a table tells its patches, and the columns that do."""
    listed = [name for name in _LISTED if name in table.header]
    ways: list[tuple[PatchColumn, tuple[str, ...]]] = [(name, (name,)) for name in listed]
    if any(name in table.header for name in RECTANGLE):
        ways.append(("area", RECTANGLE))
    if any(name in table.header for name in SCANNED):
        ways.append(("scanned", SCANNED))
    missing = [name for _, names in ways for name in names if name not in table.header]
    if len(ways) != 1 or missing:
        fault = (
            f"the column '{missing[0]}' is missing"
            if len(ways) == 1
            else ("the table tells patches in several ways" if ways else "the table does not tell which patch a row is")
        )
        raise RecordError(
            fault,
            where=table.name,
            needed="one of: a column step (or stops, or ei, of a frame); left, top, right, bottom in pixels; or the"
            " table that an earlier scan kept",
        )
    return ways[0]


def _numbers(table: Table, columns: tuple[str, ...], within: Bounds) -> FloatArray:
    """Return columns as numbers within bounds, (rows, columns).

    Raises:
        RecordError: a cell is empty or out of bounds.
    """
    return np.array(
        [
            [check_number(value, table.where(row, name), within) for name, value in zip(columns, values, strict=True)]
            for row, values in enumerate(zip(*(table.numbers(name) for name in columns), strict=True))
        ]
    )


def _name(column: PatchColumn, patch: FloatArray) -> str:
    """Return a name for a patch that the table does not name."""
    words = {"step": "step {:g}", "stops": "{:+g} stops", "ei": "EI {:g}", "scanned": "the patch of red {:.3f}",
             "area": "the patch at {:g},{:g}"}  # fmt: skip
    return words[column].format(*patch)


def kept_patches_text(patches: MatchedPatches, *, assumed: bool) -> str:
    """Return the table of matched patches (CSV).

    Args:
        patches: the patches.
        assumed: True if the uncertainty of the known densities is assumed; the table then gives none.
    """
    given = [] if assumed else ["uncertainty"]
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["patch", *LAYERS, *given, *SCANNED])
    for row, name in enumerate(patches.names):
        numbers = [*patches.known[row], *([] if assumed else [patches.known_error[row]])]
        numbers += [*patches.scanned[row], *patches.scanned_error[row], *patches.common_error[row]]
        table.writerow([name, *(f"{round(float(x), _DECIMALS):g}" for x in numbers)])
    return text.getvalue()


def check_kept_patches(patches: MatchedPatches, path: Path) -> None:
    """Read a table of matched patches, and refuse the table if the patches that were meant do not come back.

    Raises:
        RecordError: the table cannot be understood, or a patch does not come back.
    """
    found = read_known_densities(path)
    meant = np.hstack([patches.known, patches.scanned])
    read = np.hstack([found.known, found.patches[:, :3]])
    order = [found.names.index(name) if name in found.names else -1 for name in patches.names]
    if -1 in order or not np.allclose(read[order], meant, atol=10.0**-_DECIMALS):
        raise RecordError("a patch would be lost or changed", where=path.name)
