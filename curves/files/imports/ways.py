"""The ways in which a table from elsewhere can be read: all that hold up must give the same numbers.

A way is a delimiter, a decimal sign and a direction (steps down or across). What it must hold up to is strict: a row
that names the columns, whole rows under it, numbers in every cell used, densities that are densities. A way that leaves
too few steps for a curve does not count beside one that leaves enough. So a file is read
to the numbers that made it, or refused with the setting that would decide.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Literal

from curves.errors import RecordError
from curves.files.base.grids import Grid
from curves.files.base.strip_table import StripTable
from curves.files.imports.layout import AMBIGUOUS, NO_DENSITIES, Misfit, read_layout
from curves.files.imports.readers import TableDescription
from curves.sensitometry.core.units import FEWEST_STEPS


def read_grids(grids: Iterable[Grid | Misfit], description: TableDescription, name: str) -> StripTable:
    """Return the strip's table that a file holds.

    Args:
        grids: the file's cells, once for each way to separate them; a way that fails at once is a misfit.
        description: what the person says.
        name: the file, for errors.

    Raises:
        RecordError: the file cannot be read, or in more than one way; says what would decide.
    """
    found = _one_table(grids, description, name)
    if isinstance(found, Misfit):
        raise found.error
    return found


def read_part(
    parts: Mapping[str, Grid], description: TableDescription, name: str, setting: Literal["sheet", "table"]
) -> tuple[str, StripTable]:
    """Return the name of the one part of a file that holds a strip's table, and the table.

    Args:
        parts: the parts by name.
        description: what the person says.
        name: the file, for errors.
        setting: what a part is, and the setting that picks it.

    Raises:
        RecordError: no part can be read, or more than one; says what would decide.
    """
    chosen: str | None = getattr(description, setting)
    if chosen is not None and chosen not in parts:
        needed = f"one of: {', '.join(parts) or 'none'}"
        raise RecordError(f"the file has no {setting} {chosen}", where=name, needed=needed, settings=(setting,))
    tried = {part: _one_table([grid], description, grid.name) for part, grid in parts.items() if chosen in (None, part)}
    found = {part: one for part, one in tried.items() if isinstance(one, StripTable)}
    # A part that names columns and then cannot be read is not passed over in favour of another.
    failed = [one for one in tried.values() if isinstance(one, Misfit) and (one.progress > NO_DENSITIES or not found)]
    if len(found) > 1:
        listed = f"{len(found)} {setting}s hold readings: {', '.join(found)}"
        raise RecordError(listed, where=name, hint="say which", settings=(setting,))
    if failed or not found:
        raise _furthest(failed, name).error
    part, table = next(iter(found.items()))
    remark = f"It is read from {setting} {part}, one of {len(tried)}."
    return part, with_remarks(table, [remark] if len(tried) > 1 else [])


def with_remarks(table: StripTable, understood: Iterable[str], doubtful: Iterable[str] = ()) -> StripTable:
    """Return a table with sentences put before those on how it was read, and on what is odd about it."""
    return replace(table, understood=(*understood, *table.understood), doubtful=(*doubtful, *table.doubtful))


def _one_table(grids: Iterable[Grid | Misfit], description: TableDescription, name: str) -> StripTable | Misfit:
    """Return the strip's table of grids if all ways of reading them that hold up give the same numbers."""
    found: dict[tuple[object, ...], StripTable] = {}
    misfits = []
    for one in itertools.chain.from_iterable(_readings(grid, description) for grid in grids):
        if isinstance(one, Misfit):
            misfits.append(one)
        else:
            found.setdefault(one.numbers(), one)
    enough = {numbers: table for numbers, table in found.items() if table.steps_read >= FEWEST_STEPS}
    found = enough or found
    if len(found) > 1:
        first, second = (_first_row(table) for table in list(found.values())[:2])
        error = RecordError(
            f"it can be read in {len(found)} ways: {first}; or {second}",
            where=name,
            hint="say which",
            settings=("delimiter", "decimal", "steps"),
        )
        return Misfit(AMBIGUOUS, error)
    return next(iter(found.values())) if found else _furthest(misfits, name)


def _readings(grid: Grid | Misfit, description: TableDescription) -> Iterator[StripTable | Misfit]:
    """Yield the strip's table of a grid by every direction and decimal sign."""
    if isinstance(grid, Misfit):
        yield grid
        return
    cells = [cell for row in grid.rows for cell in row if isinstance(cell, str)]
    likelier = sum("," in cell for cell in cells) > sum("." in cell for cell in cells)
    signs: tuple[Literal["point", "comma"], ...] = ("comma", "point") if likelier else ("point", "comma")
    for direction, sign in itertools.product(("down", "across"), signs):
        if description.steps in (None, direction) and description.decimal in (None, sign):
            yield read_layout(grid if direction == "down" else grid.turned(), sign, description)


def _furthest(misfits: Iterable[Misfit], name: str) -> Misfit:
    """Return the way that got furthest: the person likely means that one."""
    needed = "a row that names columns, and rows under it"
    nothing = Misfit(0, RecordError("it holds no table", where=name, needed=needed))
    return max(misfits, key=lambda misfit: misfit.progress, default=nothing)


def _first_row(table: StripTable) -> str:
    cells = ", ".join(f"{channel} {values[0]:g}" for channel, values in table.readings.items())
    return f"{table.column} {table.positions[0]:g} with {cells}"
