"""A grid of cells, read in one way: which row names the columns, which rows hold readings, and what they are."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from curves.errors import RecordError
from curves.files.base.cells import NOT_READ, is_number, text_in
from curves.files.base.grids import Grid
from curves.files.base.strip_table import StripTable, strip_table_of
from curves.files.base.tables import Table
from curves.files.imports.columns import column_number, columns, meaning
from curves.files.imports.readers import TableDescription
from curves.sensitometry.core.units import CHANNELS
from curves.sensitometry.strip.exposure import POSITIONS

AMBIGUOUS = 9
"""Progress of a way of reading that a word of the person would decide: more than any that simply fails [unitless]."""

_DEEPEST_HEADING = 60
"""Rows among which the row that names the columns is looked for [unitless]."""

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
    heading = _heading(grid, description)
    if isinstance(heading, Misfit):
        return heading
    at, used = heading
    try:
        first = _first_row(grid, at, used, decimal)
        rows = _rows(grid, at, first, used)
        cells = tuple(tuple(grid.rows[row][column] for column in used.values()) for row in rows)
        table = Table(grid.name, tuple(used), cells, tuple(grid.where(row) for row in rows), decimal)
        hundredths = _in_hundredths(table, description.no_point)
        listed, remarks = _listed(table, description)
        found = strip_table_of(listed, hundredths=hundredths, settings=("samples=FIRST:LAST",))
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
    return replace(found, understood=tuple(understood), unused=unused)


def _separation(grid: Grid, decimal: Literal["point", "comma"]) -> str:
    """Return a sentence on how cells, steps and decimals are separated."""
    special = {"": "", "none": "there is one column, "}
    cells = special.get(grid.delimiter, f"cells are separated by {grid.delimiter}, ")
    return f"{cells}steps run {'across' if grid.across else 'down'}, decimals have a {decimal}.".capitalize()


def _heading(grid: Grid, description: TableDescription) -> tuple[int, dict[str, int]] | Misfit:
    """Return the row that names the columns, and which column holds what.

    Where every column is given by its number such a row is not needed; -1 stands for it.
    """
    width = len(grid.rows[0]) if grid.rows else 0
    given = {target: column_number(name, width) for target, name in description.columns.items()}
    numbered = {target: column for target, column in given.items() if column is not None}
    best: tuple[int, dict[str, int]] | None = None
    errors: list[RecordError] = []
    for at, row in enumerate(grid.rows[:_DEEPEST_HEADING]):
        names = [cell if isinstance(cell, str) else "" for cell in row]
        if any(name.endswith(tuple(_SIGNS)) and meaning(name.rstrip(_SIGNS)) for name in names):
            # More separates these names than the delimiter of this way.
            continue
        try:
            used = columns(names, description.columns, grid.where(at))
        except RecordError as error:
            errors.append(error)
            continue
        # A title may bear a channel's name; the row that names most columns is the heading.
        if any(c in used and c not in numbered for c in CHANNELS) and (best is None or len(used) > len(best[1])):
            best = at, used
    if best is not None:
        return best
    if len(numbered) == len(given) and any(c in numbered for c in CHANNELS):
        return -1, numbered
    # An error that a setting would mend is about a row that nearly is the heading.
    told = [e for e in errors if e.settings] or (errors if given else [])
    if told:
        return Misfit(AMBIGUOUS, told[0])
    return Misfit(
        0,
        RecordError(
            "no row names the columns",
            where=grid.name,
            needed="a row with names such as step, red, green, blue",
            hint="say which column is which",
            settings=("columns=step=1", "columns=red=2"),
        ),
    )


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
    if at >= 0:
        width = max(i for i, cell in enumerate(grid.rows[at]) if cell not in ("", None)) + 1
        for row in rows:
            grid.check_width(row, width, list(used.values()) if grid.across else None, ("delimiter", "decimal"))
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
            needed="densities such as 2.91",
            hint="say whether they are hundredths, as instruments without a point show them, or densities",
            settings=("no_point=True", "no_point=False"),
        )
    return bool(no_point)


def _listed(table: Table, description: TableDescription) -> tuple[Table, list[str]]:
    """Return a table whose rows are listed by a position, and how that came about."""
    samples, count = description.samples, len(table.rows)
    names = table.texts("sample" if "sample" in table.header else "step")
    if samples is not None:
        if not any(names):
            raise RecordError(
                "no column names the samples",
                where=table.name,
                hint="say which column does",
                settings=("columns=sample=NAME",),
            )
        steps = _picked(names, samples, table.name)
        remark = f"Samples {samples} are steps 1 to {max(step for _, step in steps)}."
    elif any(p in table.header for p in POSITIONS):
        return table, []
    elif "sample" in table.header:
        if not all(name.isascii() and name.isdigit() and int(name) > 0 for name in names):
            raise RecordError(
                f"the samples have names, from {names[0]} to {names[-1]}",
                where=table.name,
                needed="which of them are the steps of the wedge, from its clear end",
                settings=(f"samples={names[0]}:{names[-1]}",),
            )
        steps = [(row, int(name)) for row, name in enumerate(names)]
        remark = "Sample numbers are taken as steps."
    else:
        end = description.first_end
        steps = list(enumerate(range(1, count + 1) if end == "clear" else range(count, 0, -1)))
        remark = f"No column numbers the steps: the {count} rows are taken in order, from the {end} end."
    channels = [(c, table.header.index(c)) for c in CHANNELS if c in table.header]
    rows = tuple((float(step), *(table.rows[row][at] for _, at in channels)) for row, step in steps)
    places = tuple(table.places[row] for row, _ in steps)
    return replace(table, header=("step", *(c for c, _ in channels)), rows=rows, places=places), [remark]


def _picked(names: Sequence[str], samples: str, where: str) -> list[tuple[int, int]]:
    """Return the rows that a range of samples are, each with its step; the first sample is step 1.

    Where both ends are a word and a number ("GS0:GS23"), the numbers between are looked up by name, wherever the rows
    stand, and either way round; else the rows from the one to the other are taken as they stand. A sample that is there
    several times is a step with repeats.

    Args:
        names: the sample of each row.
        samples: first and last, separated by a colon.
        where: file, for errors.

    Raises:
        RecordError: the text is not a range, or a sample of the range is not there.
    """
    first, colon, last = (part.strip() for part in samples.partition(":"))
    if not (first and colon and last):
        raise RecordError(
            f"'{samples}' is not a range of samples",
            where="samples",
            needed="first:last, such as GS0:GS23",
            settings=("samples",),
        )
    begin, end = _word_and_number(first), _word_and_number(last)
    if begin is None or end is None or begin[0] != end[0]:
        ends = [_only_row(names, name, where) for name in (first, last)]
        return [(row, step) for step, row in enumerate(_span(*ends), start=1)]
    step_of = {(begin[0], number): step for step, number in enumerate(_span(begin[1], end[1]), start=1)}
    found = [(row, step_of[key]) for row, name in enumerate(names) if (key := _word_and_number(name)) in step_of]
    there = {step for _, step in found}
    missing = [f"{word}{number}" for (word, number), step in step_of.items() if step not in there]
    if missing:
        raise RecordError(
            f"sample {missing[0]} is not there{f', nor {len(missing) - 1} more' if len(missing) > 1 else ''}",
            where=where,
            needed=f"every sample from {first} to {last}",
        )
    return sorted(found, key=lambda pair: pair[1])


def _only_row(names: Sequence[str], name: str, where: str) -> int:
    """Return the one row of a sample."""
    rows = [row for row, there in enumerate(names) if there.casefold() == name.casefold()]
    if len(rows) != 1:
        raise RecordError(f"sample {name} is there {len(rows)} times", where=where, needed="it once")
    return rows[0]


def _span(begin: int, end: int) -> range:
    """Return the whole numbers from one to another, either way round."""
    return range(begin, end + 1) if begin <= end else range(begin, end - 1, -1)


def _word_and_number(name: str) -> tuple[str, int] | None:
    """Return a name as a word and a number; None if it is not of that form."""
    match = re.fullmatch(r"(.*?)([0-9]{1,6})", name.strip(), re.ASCII)
    return (match[1].strip().casefold(), int(match[2])) if match else None
