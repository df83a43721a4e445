"""A grid of cells, read in one way: which row names the columns, which rows hold readings, and what they are."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from curves.errors import RecordError
from curves.files.base.cells import NOT_READ, Decimal, is_number, number_in, text_in
from curves.files.base.grids import Grid
from curves.files.base.strip_table import StripTable, strip_table_of
from curves.files.base.tables import Table
from curves.files.imports.columns import column_number, columns, meaning
from curves.files.imports.readers import TableDescription
from curves.files.imports.samples import listed_by_step
from curves.files.imports.transmittance import densities_of, without_densities
from curves.sensitometry.core.reader_units import DENSITOMETER
from curves.sensitometry.core.units import CHANNELS
from curves.sensitometry.strip.exposure import POSITIONS

AMBIGUOUS = 9
"""Progress of a way of reading that a word of the person would decide: more than any that simply fails [unitless]."""

NO_DENSITIES = 1
"""Progress of a way of reading that finds names of columns, and none of densities [unitless]."""

_DEEPEST_HEADING = 60
"""Rows among which the row that names the columns is looked for [unitless]."""

_EVEN = 0.03
"""How much the steps of a ladder of log H may differ, at most: own choice [log10]."""

_SIGNS = ",;|"


@dataclass(frozen=True)
class Misfit:
    """A way of reading that does not hold up.

    Attributes:
        progress: how far the reading got; the further, the likelier the person means that way [unitless].
        error: why it failed.
    """

    progress: int
    error: RecordError


def read_layout(grid: Grid, decimal: Literal["point", "comma"], description: TableDescription) -> StripTable | Misfit:
    """Return the strip's table that a grid holds if it is read in one way, or the reason that the way does not hold up.

    Args:
        grid: the cells, turned if steps run across the file.
        decimal: the sign before the decimals.
        description: what the person says.
    """
    heading = _heading(grid, description, decimal)
    if isinstance(heading, Misfit):
        return heading
    at, used = heading
    try:
        first = _first_row(grid, at, used, decimal)
        rows = _rows(grid, at, first, used)
        cells = tuple(tuple(grid.rows[row][column] for column in used.values()) for row in rows)
        table = Table(grid.name, tuple(used), cells, tuple(grid.where(row) for row in rows), decimal)
        table, doubtful = (table, []) if description.transmittance is None else densities_of(table, decimal)
        scale = description.scale or DENSITOMETER
        by_meter = description.transmittance is not None or scale.by_meter
        hundredths = not by_meter and _in_hundredths(table, description.no_point)
        listed, remarks = listed_by_step(table, description)
        found = strip_table_of(listed, hundredths=hundredths, settings=("samples=FIRST:LAST",), scale=scale)
    except RecordError as error:
        return Misfit(2 + len(used), error)
    names = [f"column {c}" if at < 0 else text_in(cell) for c, cell in enumerate(grid.rows[at], start=1)]
    unused = tuple(name for c, name in enumerate(names) if name and c not in used.values())
    understood = [
        _separation(grid, decimal),
        "Columns: " + ", ".join(f"{target} is '{names[c]}'" for target, c in used.items()) + ".",
        *(["A row of units under the names is passed over."] if first > at + 1 > 0 else []),
        *remarks,
        *([f"Not used: {', '.join(unused[:6])}".rstrip(".") + "."] if 0 < len(unused) <= 6 else []),
        *([f"Not used: {', '.join(unused[:6])} and {len(unused) - 6} more."] if len(unused) > 6 else []),
    ]
    return replace(found, understood=tuple(understood), doubtful=tuple(doubtful), unused=unused)


def _separation(grid: Grid, decimal: Literal["point", "comma"]) -> str:
    """Return a sentence on how cells, steps and decimals are separated."""
    special = {"": "", "none": "there is one column, "}
    cells = special.get(grid.delimiter, f"cells are separated by {grid.delimiter}, ")
    return f"{cells}steps run {'across' if grid.across else 'down'}, decimals have a {decimal}.".capitalize()


def _heading(grid: Grid, description: TableDescription, decimal: Decimal) -> tuple[int, dict[str, int]] | Misfit:
    """Return the row that names the columns, and which column holds what.

    Where every column is given by its number such a row is not needed; -1 stands for it.
    """
    width = len(grid.rows[0]) if grid.rows else 0
    chosen = dict(description.columns)
    if description.transmittance is not None:
        chosen["visual"] = description.transmittance
    given = {target: column_number(name, width) for target, name in chosen.items()}
    numbered = {target: column for target, column in given.items() if column is not None}
    best: tuple[int, dict[str, int]] | None = None
    errors: list[RecordError] = []
    for at, row in enumerate(grid.rows[:_DEEPEST_HEADING]):
        names = [cell if isinstance(cell, str) else "" for cell in row]
        if any(name.endswith(tuple(_SIGNS)) and meaning(name.rstrip(_SIGNS)) for name in names):
            # More separates these names than the delimiter of this way.
            continue
        try:
            used = columns(names, chosen, grid.where(at))
        except RecordError as error:
            errors.append(error)
            continue
        # A title may bear a channel's name; the row that names most columns is the heading.
        if any(c in used and c not in numbered for c in CHANNELS) and (best is None or len(used) > len(best[1])):
            best = at, used
    if best is not None:
        return best
    # A number is that of a column of the file, unless the person says that steps run across.
    turned = grid.across and description.steps is None
    if len(numbered) == len(given) and any(c in numbered for c in CHANNELS) and not turned:
        return -1, numbered
    # An error that a setting would mend is about a row that nearly is the heading.
    told = [e for e in errors if e.settings]
    if told:
        return Misfit(AMBIGUOUS, told[0])
    if errors and given:
        return Misfit(NO_DENSITIES if width > 1 else 0, errors[0])
    if (without := without_densities(grid.name, grid.rows[:_DEEPEST_HEADING])) is not None:
        return Misfit(NO_DENSITIES, without)
    proposed = _proposed(grid, decimal)
    return Misfit(
        NO_DENSITIES if proposed else 0,
        RecordError(
            "no row names the columns",
            where=grid.name,
            needed="a row with names such as step, red, green, blue",
            hint="say which column is which",
            settings=proposed or ("columns=step=1", "columns=red=2"),
        ),
    )


def _proposed(grid: Grid, decimal: Decimal) -> tuple[str, ...]:
    """Return the likely meaning of the columns of a grid of numbers alone, steps down; empty for any other grid."""
    if grid.across or not grid.rows or not all(is_number(cell, decimal) for cell in grid.rows[0]):
        return ()
    first = [number_in(row[0], decimal) for row in grid.rows]
    by_step = all(number is not None and number > 0 and number == int(number) for number in first)
    channels = {1: ("visual",), 3: CHANNELS[:3], 4: CHANNELS}
    width = len(grid.rows[0])
    if width in (3, 4) and not by_step and _uneven(first):
        return tuple(f"columns={name}={number}" for number, name in enumerate(channels[width], start=1))
    names = ("visual",) if width == 1 else ("step" if by_step else "log_h", *channels.get(width - 1, ("visual",)))
    return tuple(f"columns={name}={number}" for number, name in enumerate(names, start=1))


def _uneven(numbers: list[float | None]) -> bool:
    """Return True for numbers that may be densities: none negative, and not the even steps of a ladder of log H."""
    known = [number for number in numbers if number is not None]
    gaps = [abs(after - before) for before, after in itertools.pairwise(known)]
    return bool(gaps) and min(known) >= 0.0 and max(gaps) - min(gaps) > _EVEN


def _first_row(grid: Grid, at: int, used: Mapping[str, int], decimal: Literal["point", "comma"]) -> int:
    """Return the row that readings begin in: under the names, and under a row of units if there is one."""
    if at < 0:
        whole = (r for r, row in enumerate(grid.rows) if all(is_number(row[c], decimal) for c in used.values()))
        return next(whole, 0)
    if at + 1 >= len(grid.rows):
        raise RecordError("no row of readings follows the names", where=grid.where(at))
    cells = [grid.rows[at + 1][c] for c in used.values()]
    # A row of blanks is a step that was not read, and one with digits a reading gone wrong.
    words = all(isinstance(cell, str) and not any(sign.isdigit() for sign in cell) for cell in cells)
    return at + 2 if words and any(str(cell).lower() not in NOT_READ for cell in cells) else at + 1


def _rows(grid: Grid, at: int, first: int, used: Mapping[str, int]) -> list[int]:
    """Return the rows of readings: those that hold anything, or all where their place alone numbers the steps."""
    rows = [r for r in range(first, len(grid.rows)) if any(grid.rows[r][c] not in ("", None) for c in used.values())]
    if not rows:
        raise RecordError("no row of readings follows the names", where=grid.where(max(at, 0)))
    if not any(p in used for p in (*POSITIONS, "sample")):
        rows = list(range(first, rows[-1] + 1))
        for before, row in itertools.pairwise([*([first - 1] if first else []), *rows]):
            if not grid.across and grid.lines[row] != grid.lines[before] + 1:
                raise RecordError(
                    "a line is left out between two rows, and no column numbers the steps",
                    where=f"{grid.name}, line {grid.lines[before] + 1}",
                    needed="a column that numbers the steps, or rows without a gap",
                )
    width = len(grid.rows[0])
    if at >= 0:
        width = max(i for i, cell in enumerate(grid.rows[at]) if cell not in ("", None)) + 1
    for row in rows:
        needed = list(used.values()) if grid.across or at < 0 else None
        grid.check_width(row, width, needed, ("delimiter", "decimal"))
    return rows


def _in_hundredths(table: Table, no_point: bool | None) -> bool:
    """Return True if a table holds hundredths of density: whole numbers do, if the person says so."""
    numbers = [v for c in CHANNELS if c in table.header for v in table.numbers(c) if not math.isnan(v)]
    whole = all(v == int(v) for v in numbers)
    if not numbers:
        raise RecordError("no cell holds a reading", where=table.name)
    if no_point and not whole:
        raise RecordError(
            "some numbers have decimals", where="no_point", needed="whole numbers alone", settings=("no_point",)
        )
    if whole and any(numbers) and no_point is None:
        raise RecordError(
            "every density is a whole number",
            where=table.name,
            needed="densities such as 2.91, not the numbers of pixels",
            hint="say whether they are hundredths, as instruments without a point show them, or densities",
            settings=("no_point=True", "no_point=False"),
        )
    return bool(no_point)
