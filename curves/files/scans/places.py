"""Places in a picture as a person writes them: rectangles, corners, tables of rectangles; and values or pictures that
stand for clear and dark.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.fields import check_number
from curves.files.base.tables import read_table
from curves.files.pictures.statements import Facts
from curves.files.sections.known_densities import RECTANGLE
from curves.files.strips.patch_table import Areas
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.strip.exposure import POSITIONS, Position


@dataclass(frozen=True, eq=False)
class LightReference:
    """The light that stands for clear or for dark: one of values, an area of the scan, and another scan."""

    values: FloatArray | None = None
    area: FloatArray | None = None
    picture: Path | None = None


def rectangle(text: str, facts: Facts, where: str) -> FloatArray:
    """Return the corners of "left,top,right,bottom", going round, (4, 2) [pixels].

    Raises:
        RecordError: the text is not a rectangle, or the rectangle is not inside the picture.
    """
    needed = "left,top,right,bottom in pixels, such as 120,80,400,300"
    numbers = _numbers(text)
    if len(numbers) != 4:
        raise RecordError(f"'{text}' is not a rectangle", where=where, needed=needed, settings=_setting(where))
    left, top, right, bottom = numbers
    if not (left < right and top < bottom):
        raise RecordError(f"the rectangle {text} has no area", where=where, needed=needed, settings=_setting(where))
    return _inside(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]), facts, where)


def four_corners(text: str, facts: Facts, where: str) -> FloatArray:
    """Return four corners written as "x,y x,y x,y x,y", (4, 2) [pixels].

    Raises:
        RecordError: there are not four, or one lies outside the picture.
    """
    points = [_numbers(word) for word in text.split()]
    if len(points) != 4 or any(len(p) != 2 for p in points):
        raise RecordError(
            f"'{text}' is not four corners",
            where=where,
            needed="x,y x,y x,y x,y in quotes: both corners of step 1's outer edge, then both of the last step's,"
            " going round",
            settings=_setting(where),
        )
    return _inside(np.array(points), facts, where)


def table_of_areas(path: Path, facts: Facts) -> Areas:
    """Read a table of rectangles: a column step, stops or ei, and left, top, right, bottom [pixels].

    Raises:
        RecordError: the table cannot be understood, or a rectangle lies outside the picture.
    """
    table = read_table(path, (*POSITIONS, *RECTANGLE))
    listed: list[Position] = [p for p in POSITIONS if p in table.header and p != "log_h"]
    missing = [name for name in RECTANGLE if name not in table.header]
    if len(listed) != 1 or missing:
        raise RecordError(
            "the table does not say which patch lies where",
            where=path.name,
            needed="one of the columns step, stops, ei; and left, top, right, bottom in pixels",
        )
    if not table.rows:
        raise RecordError("the table has no row", where=path.name, needed="a row for each patch")
    sides = [table.numbers(name) for name in RECTANGLE]
    corners = []
    for row, (left, top, right, bottom) in enumerate(zip(*sides, strict=True)):
        where = table.where(row, "left")
        text = ",".join(f"{side:.10g}" for side in (left, top, right, bottom))
        corners.append(rectangle(text, facts, where))
    positions = tuple(
        check_number(value, table.where(row, listed[0])) for row, value in enumerate(table.numbers(listed[0]))
    )
    return Areas(listed[0], positions, np.array(corners))


def reference(text: str, facts: Facts, where: str) -> LightReference:
    """Return the reference for clear or dark: "area:left,top,right,bottom", a picture's name, or one value a sample.

    Values are numbers of the picture, from 0 to 255 or to 65535.

    Raises:
        RecordError: the text is none of these.
    """
    if text.lower().startswith("area:"):
        return LightReference(area=rectangle(text[5:], facts, where))
    if re.search(r"\.[a-z][a-z0-9]{2,3}$", text, re.IGNORECASE):
        return LightReference(picture=Path(text))
    numbers = _numbers(text)
    most = 2**facts.bits - 1
    needed = (
        f"{'a value' if facts.samples == 1 else 'three values'} from 0 to {most}, area:left,top,right,bottom, or the"
        " name of another scan"
    )
    if len(numbers) not in (1, facts.samples):
        raise RecordError(
            f"'{text}' is not a value of this picture", where=where, needed=needed, settings=_setting(where)
        )
    if not all(0 <= n <= most for n in numbers):
        raise RecordError(
            f"'{text}' is off the scale of this picture", where=where, needed=needed, settings=_setting(where)
        )
    return LightReference(values=np.broadcast_to(np.array(numbers) / most, (facts.samples,)).copy())


def _setting(where: str) -> tuple[str, ...]:
    """Return a place that is a setting as the setting of an error; a place in a table is none."""
    return (where,) if where.isidentifier() else ()


def _numbers(text: str) -> list[float]:
    try:
        found = [float(word) for word in text.split(",")]
    except ValueError:
        return []
    return found if all(np.isfinite(found)) else []


def _inside(corners: FloatArray, facts: Facts, where: str) -> FloatArray:
    x, y = corners[:, 0], corners[:, 1]
    if x.min() < 0 or y.min() < 0 or x.max() > facts.width or y.max() > facts.height:
        raise RecordError(
            "the place lies outside the picture",
            where=where,
            needed=f"x up to {facts.width}, y up to {facts.height}",
            settings=_setting(where),
        )
    return corners
