"""Wedges as a person writes them: steps x increment, the table of a calibrated one, or the section of a record."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.fields import Section, check_number
from curves.files.base.tables import read_table
from curves.sensitometry.core.units import LEAST_READING, MOST_READING, MOST_STEPS, FloatArray
from curves.sensitometry.core.values import DENSITY, FRACTION, POSITIVE, READING
from curves.sensitometry.strip.wedge import ASSUMED_UNCERTAINTY, Wedge

NOMINAL_FIRST = 0.05
"""Density of a nominal wedge's clear step: common practice [density]."""

_TABLES = (".csv", ".txt", ".tsv")


def wedge_named(text: str, folder: Path, where: str = "wedge") -> Wedge:
    """Return the wedge that a text names: by its table, or as steps x increment.

    Args:
        text: the name of a table, or as `parse_wedge` reads it.
        folder: where the table is looked for.
        where: the setting that the text comes from, for errors.

    Raises:
        RecordError: the text or the table cannot be understood.
    """
    return read_wedge(folder / text) if text.lower().endswith(_TABLES) else parse_wedge(text, where)


def parse_wedge(text: str, where: str = "wedge") -> Wedge:
    """Return the nominal wedge that a text describes: "21x0.15" or "21x0.15@0.05" (steps x increment @ first).

    Args:
        text: the description.
        where: the setting that the text comes from, for errors.

    Raises:
        RecordError: the text is not of that form, or the numbers do not make a wedge.
    """
    match = re.fullmatch(r"\s*(\d+)\s*[x×*]\s*([\d.]+)\s*(?:@\s*([\d.]+)\s*)?", text)
    try:
        if match is None:
            raise ValueError
        steps, increment, first = int(match[1]), float(match[2]), float(match[3] or NOMINAL_FIRST)
    except ValueError as error:
        raise RecordError(
            f"'{text}' does not describe a wedge",
            where=where,
            needed="steps x increment, such as 21x0.15, or 21x0.15@0.05 with the density of step 1",
            settings=(where,),
        ) from error
    if steps < 2 or not increment > 0:
        raise RecordError(
            f"'{text}' is not a wedge", where=where, needed="two steps or more, increment above 0", settings=(where,)
        )
    _refuse_impossible(steps, increment, first, where, settings=(where,))
    return Wedge.nominal(steps, increment, first)


def wedge_of(section: Section, folder: Path) -> Wedge:
    """Return the wedge that the section [wedge] of a record describes.

    Args:
        section: the section.
        folder: where the record lies; the table of a calibrated wedge is looked for there.

    Raises:
        RecordError: a key is missing, unknown or out of range, or the table cannot be understood.
    """
    section.only("steps", "increment", "first", "uncertainty", "common", "scale_uncertainty", "table")
    uncertainty = section.number("uncertainty", DENSITY)
    common = section.number("common", DENSITY)
    scale = section.number("scale_uncertainty", FRACTION)
    if "table" in section:
        for key in ("steps", "increment", "first"):
            if key in section:
                raise RecordError(
                    f"'table' and '{key}' are both given",
                    where=section.where,
                    needed="the table of a calibrated wedge, or the steps of a nominal one, not both",
                )
        return replace(read_wedge(folder / section.text("table"), uncertainty, common), scale_uncertainty=scale)
    steps = section.whole("steps", needed="how many steps the wedge has, such as steps = 21", least=2)
    increment = section.number("increment", POSITIVE, needed="the density from step to step, such as increment = 0.15")
    first = section.number("first", READING)
    assert increment is not None
    first = NOMINAL_FIRST if first is None else first
    _refuse_impossible(steps, increment, first, section.where)
    return _nominal(steps, increment, first, uncertainty, common, scale)


@lru_cache(maxsize=16)
def _nominal(
    steps: int,
    increment: float,
    first: float,
    uncertainty: float | None,
    common: float | None,
    scale_uncertainty: float | None,
) -> Wedge:
    """Return `Wedge.nominal`, made and checked once for all strips of a wedge: no wedge changes."""
    return Wedge.nominal(steps, increment, first, uncertainty, common, scale_uncertainty)


def _refuse_impossible(steps: int, increment: float, first: float, where: str, settings: tuple[str, ...] = ()) -> None:
    """Refuse a ladder of equal steps that nobody can have made."""
    if steps > MOST_STEPS:
        raise RecordError(
            "no wedge has so many steps", where=where, needed=f"at most {MOST_STEPS} steps", settings=settings
        )
    last = first + increment * (steps - 1)
    if not last < MOST_READING:
        raise RecordError(
            f"the wedge would end at density {last:g}",
            where=where,
            needed=f"less than {MOST_READING:g}",
            hint="write the increment with its decimal point, such as 0.15",
            settings=settings,
        )


def read_wedge(path: Path, uncertainty: float | None = None, common: float | None = None) -> Wedge:
    """Read a calibrated wedge: columns step, density and, if known, uncertainty.

    Args:
        path: the table.
        uncertainty: standard uncertainty of every step, in place of a column [density].
        common: standard uncertainty of all steps together [density].

    Raises:
        RecordError: the table cannot be understood, or its steps are not 1, 2, 3 and so on.
    """
    table = read_table(path, ("step", "density", "uncertainty"))
    for column in ("step", "density"):
        if column not in table.header:
            raise RecordError(
                f"the column '{column}' is missing", where=path.name, needed="columns step, density[, uncertainty]"
            )
    steps, densities = table.numbers("step"), np.array(table.numbers("density"))
    for row, step in enumerate(steps):
        if step != row + 1:
            raise RecordError(
                f"step {step:g} stands where step {row + 1} belongs",
                where=table.where(row, "step"),
                needed="every step of the wedge once, in order, from 1",
            )
        if not LEAST_READING <= densities[row] < MOST_READING:
            raise RecordError(
                f"{densities[row]:g} is not the density of a step",
                where=table.where(row, "density"),
                needed="a density",
            )
    if len(steps) < 2:
        raise RecordError("the table holds fewer than two steps", where=path.name, needed="every step of the wedge")
    if "uncertainty" in table.header:
        each: FloatArray = np.array(
            [check_number(u, table.where(row, "uncertainty"), DENSITY)
             for row, u in enumerate(table.numbers("uncertainty"))]
        )  # fmt: skip
    else:
        each = np.full(len(steps), ASSUMED_UNCERTAINTY if uncertainty is None else uncertainty)
    assumed = uncertainty is None and "uncertainty" not in table.header
    return Wedge(densities, each, calibrated=True, assumed=assumed, common=common)
