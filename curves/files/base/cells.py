"""Cells of a table: which number a cell holds, and which numbers a density or a position can be.

Hand-written tables and tables from elsewhere are read by these rules alike.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Literal

from curves.errors import RecordError
from curves.sensitometry.core.units import LEAST_READING, MOST_READING, MOST_STEPS
from curves.sensitometry.strip.exposure import Position

Cell = str | float | None
"""Text, a number that the file holds as a number, or None where a row is too short to have the cell."""

Decimal = Literal["point", "comma", "either"]
"""The sign before the decimals; either of the two where commas do not separate cells."""

NOT_READ = frozenset({"", "-", "–", "—", "n/a", "na", "nan"})
"""Marks of a cell where nothing was read, in small letters."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")


def text_in(cell: Cell) -> str:
    """Return the text that a cell holds; empty where it holds nothing."""
    return f"{cell:g}" if isinstance(cell, float) else cell or ""


def number_in(cell: Cell, decimal: Decimal) -> float | None:
    """Return the number that a cell holds, NaN where nothing was read, and None where the cell holds something else."""
    if isinstance(cell, float):
        return None if math.isinf(cell) else cell
    if cell is None or cell.lower() in NOT_READ:
        return math.nan
    if decimal == "comma" and "." in cell:
        return None
    pointed = cell if decimal == "point" else cell.replace(",", ".")
    # Python itself would read 1_25 as 125, and inf.
    number = float(pointed) if _NUMBER.fullmatch(pointed) else math.inf
    return number if math.isfinite(number) else None


def fraction_in(cell: Cell) -> float | None:
    """Return the number that a fraction such as 1/125 stands for; None where the cell holds something else."""
    found = re.fullmatch(r"([0-9]+) ?/ ?([1-9][0-9]*)", cell) if isinstance(cell, str) else None
    return None if found is None else int(found[1]) / int(found[2])


def is_number(cell: Cell, decimal: Decimal) -> bool:
    """Return True if a number stands in a cell."""
    number = number_in(cell, decimal)
    return number is not None and not math.isnan(number)


def check_density(value: float, where: str, by_meter: bool = False) -> None:
    """Refuse a number that is not a density; NaN stands for a density that was not read.

    Args:
        value: the density [density].
        where: the place of its cell, for errors.
        by_meter: True if it was converted from the reading of a light.

    Raises:
        RecordError: the number lies outside what an instrument shows.
    """
    if by_meter and not (math.isnan(value) or LEAST_READING <= value <= MOST_READING):
        raise RecordError(
            f"the reading stands for a density of {value:.2f}",
            where=where,
            needed="readings of a patch that is darker than the open gate",
            hint="compare the unit and the open gate with what the meter showed",
        )
    if value > MOST_READING:
        raise RecordError(
            f"{value:g} is not a density",
            where=where,
            needed="densities with their decimal point, such as 2.91",
            hint=f"if the instrument shows no point, divide by 100: {value / 100:.2f}",
        )
    if value < LEAST_READING:
        raise RecordError(
            f"{value:g} is below zero",
            where=where,
            needed="densities counted from an empty gate, not from the base",
            hint="zero the instrument on an empty gate and read again",
        )


def check_position(column: Position, value: float, where: str, settings: Sequence[str] = ()) -> None:
    """Refuse a number by which a row of readings cannot be listed.

    Args:
        column: what the rows are listed by.
        value: the number.
        where: file, line and column, for errors.
        settings: those that number the steps anew, for errors.

    Raises:
        RecordError: the number is missing, or is not a step or an exposure index.
    """
    if math.isnan(value):
        raise RecordError(f"the cell of {column} is empty", where=where, needed=f"the {column} of every row")
    if column == "step" and (value != int(value) or not 1 <= value <= MOST_STEPS):
        raise RecordError(
            f"{value:g} is not a step number",
            where=where,
            needed="a whole number from 1, the step at the wedge's clear end",
            settings=settings,
        )
    if column == "ei" and not value > 0:
        raise RecordError(f"{value:g} is not an exposure index", where=where, needed="a number above 0")
