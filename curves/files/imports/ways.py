"""The ways in which a table from elsewhere can be read: all that hold up must give the same numbers.

A way is a delimiter, a decimal sign and a direction (steps down or across). What it must hold up to is strict: a row
that names the columns, whole rows under it, numbers in every cell used, densities that are densities. So a file is read
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
from curves.files.imports.description import TableDescription
from curves.files.imports.layout import AMBIGUOUS, Misfit, read_layout


def read_grids(grids: Iterable[Grid | Misfit], description: TableDescription, name: str) -> StripTable:
    """Return the strip's table that a file holds.

    Args:
        grids: the file's cells, once for each way to separate them; a way that fails at once is a misfit.
        description: what the person says.
        name: the file, for errors.

    Raises:
        RecordError: the file cannot be read, or in more than one way; says what would decide.
    """
    found = _one_way(grids, description, name)
    if isinstance(found, Misfit):
        raise found.error
    return found


def read_part(
    parts: Mapping[str, Grid], description: TableDescription, name: str, setting: Literal["sheet", "table"]
) -> tuple[str, StripTable]:
    """Return the one part of a file that holds a strip's table, and its name.

    Args:
        parts: the parts by name.
        description: what the person says.
        name: the file, for errors.
        setting: what a part is, and the setting that picks it.

    Raises:
        RecordError: no part can be read, or more than one; says what would decide.
    """
    chosen = description.sheet if setting == "sheet" else description.table
    if chosen is not None and chosen not in parts:
        raise RecordError(
            f"the file has no {setting} {chosen}",
            where=name,
            needed=f"one of: {', '.join(parts) or 'none'}",
            settings=(setting,),
        )
    looked_at = parts if chosen is None else {chosen: parts[chosen]}
    found: dict[str, StripTable] = {}
    misfits = []
    for part, grid in looked_at.items():
        one = _one_way([grid], description, grid.name)
        if isinstance(one, Misfit):
            misfits.append(one)
        else:
            found[part] = one
    if len(found) > 1:
        raise RecordError(
            f"{len(found)} {setting}s hold readings: {', '.join(found)}",
            where=name,
            hint="say which",
            settings=(setting,),
        )
    # A part that names columns and then cannot be read is not passed over in favour of another.
    failed = [misfit for misfit in misfits if misfit.progress > 0]
    if failed or not found:
        raise max(failed or misfits or [_nothing(name)], key=lambda misfit: misfit.progress).error
    part, table = next(iter(found.items()))
    remark = f"It is read from {setting} {part}, one of {len(looked_at)}."
    return part, with_remarks(table, [remark] if len(looked_at) > 1 else [])


def with_remarks(table: StripTable, understood: Iterable[str], doubtful: Iterable[str] = ()) -> StripTable:
    """Return a table with sentences put before those on how it was read, and on what is odd about it."""
    return replace(table, understood=(*understood, *table.understood), doubtful=(*doubtful, *table.doubtful))


def _one_way(grids: Iterable[Grid | Misfit], description: TableDescription, name: str) -> StripTable | Misfit:
    """Return what grids hold if all ways of reading them that hold up give the same numbers."""
    found: dict[tuple[object, ...], StripTable] = {}
    misfits = []
    for one in itertools.chain.from_iterable(_readings(grid, description) for grid in grids):
        if isinstance(one, Misfit):
            misfits.append(one)
        else:
            found.setdefault(one.numbers(), one)
    if len(found) > 1:
        first, second = (_brief(table) for table in list(found.values())[:2])
        return Misfit(
            AMBIGUOUS,
            RecordError(
                f"it can be read in {len(found)} ways: {first}; or {second}",
                where=name,
                hint="say which",
                settings=("delimiter", "decimal", "steps"),
            ),
        )
    if found:
        return next(iter(found.values()))
    return max(misfits or [_nothing(name)], key=lambda misfit: misfit.progress)


def _readings(grid: Grid | Misfit, description: TableDescription) -> Iterator[StripTable | Misfit]:
    """Yield what a grid holds by every decimal sign and direction."""
    if isinstance(grid, Misfit):
        yield grid
        return
    cells = [cell for row in grid.rows for cell in row if isinstance(cell, str)]
    likelier = sum("," in cell for cell in cells) > sum("." in cell for cell in cells)
    both: tuple[Literal["point", "comma"], ...] = ("comma", "point") if likelier else ("point", "comma")
    decimals = both if description.decimal is None else (description.decimal,)
    for direction, decimal in itertools.product(("down", "across"), decimals):
        if description.steps in (None, direction):
            yield read_layout(grid if direction == "down" else grid.turned(), decimal, description)


def _nothing(name: str) -> Misfit:
    return Misfit(0, RecordError("it holds no table", where=name, needed="a row that names columns, and rows under it"))


def _brief(found: StripTable) -> str:
    """Return the first row as it was read."""
    cells = ", ".join(f"{channel} {values[0]:g}" for channel, values in found.readings.items())
    return f"{found.column} {found.positions[0]:g} with {cells}"
