"""A roll of frames: pictures of a grey card bracketed on a roll, listed in a table, each measured in one even area.

    picture,ei,left,top,right,bottom
    roll-01.tif,80,,,,
    roll-02.tif,40,410,300,980,720

Without a rectangle the largest even area of a picture is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.fields import check_number
from curves.files.base.tables import read_table
from curves.files.scans.light import Light
from curves.files.scans.measurement import ScanMeasurement, measure
from curves.files.scans.places import rectangle
from curves.files.scans.scan import Scan, another
from curves.files.strips.calibration import CalibrationRecord
from curves.files.strips.patch_table import Areas
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.patch_light import largest_even_area
from curves.sensitometry.strip.exposure import Position

_SIDES = ("left", "top", "right", "bottom")
_LISTED: tuple[Position, ...] = ("ei", "stops")

_LEAST_LIGHT = 1e-4
"""Light that counts as none in a look at evenness: our own choice [of the clear light]."""

MOST_UNEVEN = 0.10
"""Change of density across a frame's area from which it does not show a grey card: our own choice [density]."""


@dataclass(frozen=True)
class FramePicture:
    """One frame of a roll.

    Attributes:
        picture: its picture.
        position: its index, or its stops.
        place: "left,top,right,bottom" [pixels]; empty for the largest even area.
        where: its row in the table, for errors.
    """

    picture: Path
    position: float
    place: str
    where: str


def read_frames(path: Path) -> tuple[Position, tuple[FramePicture, ...]]:
    """Read a table of frames; return the column that lists them, and the frames.

    Args:
        path: the table: picture, ei or stops, and, for frames whose area is known, left, top, right, bottom.

    Raises:
        RecordError: the table cannot be understood, or a picture is not there.
    """
    table = read_table(path, ("picture", *_LISTED, *_SIDES))
    listed = [column for column in _LISTED if column in table.header]
    if "picture" not in table.header or len(listed) != 1:
        raise RecordError(
            "the table does not say which picture got which exposure",
            where=path.name,
            needed="a column picture, one of the columns ei and stops; and left, top, right, bottom, if you like",
        )
    sides = [table.numbers(name) if name in table.header else [np.nan] * len(table.rows) for name in _SIDES]
    found = []
    for row, (name, position) in enumerate(zip(table.texts("picture"), table.numbers(listed[0]), strict=True)):
        picture = path.parent / name
        if not name or not _is_file(picture):
            raise RecordError(f"there is no picture '{name}'", where=table.where(row, "picture"), hint="check the name")
        given = [column[row] for column in sides]
        if 0 < sum(map(np.isnan, given)) < len(_SIDES):
            raise RecordError(
                "a rectangle lacks a side",
                where=table.where(row, "left"),
                needed="left, top, right and bottom in pixels, or none of them for the largest even area",
            )
        place = "" if np.isnan(given).all() else ",".join(f"{side:.10g}" for side in given)
        check_number(position, table.where(row, listed[0]))
        found.append(FramePicture(picture, position, place, table.where(row, "picture")))
    if not found:
        raise RecordError("the table has no row", where=path.name, needed="a row for each frame")
    return listed[0], tuple(found)


def _is_file(path: Path) -> bool:
    """Return True if a path leads to a file; a name longer than any file's does not."""
    try:
        return path.is_file()
    except OSError:
        return False


def measure_frames(
    first: Scan, column: Position, frames: Sequence[FramePicture], stored: CalibrationRecord, light: Light
) -> ScanMeasurement:
    """Return the density of every frame.

    Args:
        first: a picture of the roll, which says how the others are read.
        column: the column that lists the frames.
        frames: the frames.
        stored: the calibration of the pictures.
        light: clear and dark.

    Raises:
        RecordError: a frame is uneven, as no picture of a grey card is, or cannot be measured; names it.
    """
    parts = []
    for frame in frames:
        with another(first, frame.picture) as scan:
            parts.append(_measured(scan, column, frame, stored, light))
    corners = np.concatenate([part.areas.corners for part in parts])
    return ScanMeasurement(
        Areas(column, tuple(frame.position for frame in frames), corners),
        tuple(part.lights[0] for part in parts),
        np.concatenate([part.density for part in parts]),
        np.concatenate([part.error for part in parts]),
        np.concatenate([part.scatter for part in parts]),
        tuple(replace(flag, patch=number) for number, part in enumerate(parts, start=1) for flag in part.flags),
    )


def _measured(
    scan: Scan, column: Position, frame: FramePicture, stored: CalibrationRecord, light: Light
) -> ScanMeasurement:
    """Return the one patch of a frame."""
    whole, factor = scan.whole()
    corners = rectangle(frame.place, scan.facts, frame.where) if frame.place else _even(whole, factor, frame, light)
    areas = Areas(column, (frame.position,), corners[None])
    found = measure(scan, areas, stored.calibration().for_picture(whole), light)
    uneven = _unevenness((whole - light.dark) / (light.clear - light.dark), corners / factor)
    if uneven > MOST_UNEVEN:
        raise RecordError(
            f"{frame.picture.name} is not even: it changes by {uneven:.2f} of density across its area",
            where=frame.where,
            needed="a frame of an evenly lit grey card",
            hint="give the rectangle of the card, or leave the frame out",
        )
    return found


def _unevenness(transmittance: FloatArray, corners: FloatArray) -> float:
    """Return the change of density across an area, by a plane through all of it, dust and all [density]."""
    (x0, y0), (x1, y1) = np.floor(corners.min(axis=0)).astype(int), np.ceil(corners.max(axis=0)).astype(int)
    part = -np.log10(np.maximum(transmittance[y0:y1, x0:x1], _LEAST_LIGHT))
    y, x = np.mgrid[0 : part.shape[0], 0 : part.shape[1]]
    design = np.column_stack([np.ones(x.size), x.ravel(), y.ravel()])
    planes, *_ = np.linalg.lstsq(design, part.reshape(x.size, -1), rcond=None)
    return float((np.abs(planes[1]) * np.ptp(x) + np.abs(planes[2]) * np.ptp(y)).max())


def _even(whole: FloatArray, factor: int, frame: FramePicture, light: Light) -> FloatArray:
    """Return the largest even area of a picture, its corners going round, (4, 2) [pixels]."""
    found = largest_even_area((whole - light.dark) / (light.clear - light.dark))
    if found is None:
        raise RecordError(
            f"{frame.picture.name} shows no even area of film",
            where=frame.where,
            needed="a frame of an evenly lit grey card, darker than the open light",
            hint="give its rectangle (left, top, right, bottom), or leave the frame out",
        )
    return found * factor
