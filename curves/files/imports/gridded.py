"""A grid of cells, read in one way: which row names the columns, which rows hold readings, and what they are."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from curves.errors import RecordError
from curves.files.imports.grids import Cell, Grid
from curves.files.imports.samples import pick
from curves.files.imports.words import columns, meaning
from curves.files.strips.readings import LEAST_READING, MOST_READING
from curves.sensitometry.core.units import CHANNELS, Channel, DensityKind
from curves.sensitometry.strip.exposure import POSITIONS, Position

Decimal = Literal["point", "comma"]
Direction = Literal["down", "across"]

_DEEPEST_HEADER = 60
"""Rows among which the one that names the columns is looked for [unitless]."""

AMBIGUOUS = 9
"""How far a way of reading got that a person's word would decide: further than any that simply fails [unitless]."""

_SIGNS = (",", ";", "|")
_NOT_READ = frozenset({"", "-", "–", "—", "n/a", "na", "nan"})
_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")


@dataclass(frozen=True)
class How:
    """What a person says of a table; None and empty where the table is to tell.

    Attributes:
        columns: meaning (step, stops, ei, log_h, sample, a channel) to a column's name, or its number from 1.
        delimiter: a key of `DELIMITERS`.
        decimal: what parts the decimals.
        direction: whether steps run down the file or across it.
        no_point: True if whole numbers are hundredths of density, False if they are densities.
        samples: the first and last of the samples that are the steps, as "GS0:GS23".
        first_end: the end of the wedge with which rows that have no step number begin.
        part: the sheet of a workbook, or the number of a table in an exchange text.
        density: the kind of density.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    delimiter: str | None = None
    decimal: Decimal | None = None
    direction: Direction | None = None
    no_point: bool | None = None
    samples: str | None = None
    first_end: Literal["clear", "dark"] = "clear"
    part: str | None = None
    density: DensityKind | None = None


@dataclass(frozen=True)
class Imported:
    """What a table was understood to hold.

    Attributes:
        column: what its rows are listed by.
        positions: of each row.
        readings: by channel, one for each row, NaN where not read [density].
        density: the kind of density, if the file names one.
        title: what the file calls itself; empty if it does not.
        understood: how it was read, each a sentence.
        doubtful: what is odd about it, each a sentence.
        date: when it was made, as 2026-03-14; empty if the file does not say.
    """

    column: Position
    positions: tuple[float, ...]
    readings: Mapping[Channel, tuple[float, ...]]
    density: DensityKind | None
    title: str
    understood: tuple[str, ...]
    doubtful: tuple[str, ...] = ()
    date: str = ""

    def numbers(self) -> tuple[object, ...]:
        """Return all that was read, so that two ways of reading can be compared."""
        by_channel = (tuple(None if math.isnan(v) else v for v in self.readings.get(c, ())) for c in CHANNELS)
        return (self.column, self.positions, *by_channel)


class Unfit(Exception):  # noqa: N818 - a way that does not fit is no error
    """One way of reading does not fit; how far it got, and why it failed."""

    def __init__(self, stage: int, error: RecordError) -> None:
        self.stage, self.error = stage, error
        super().__init__(str(error))


def read_grid(grid: Grid, decimal: Decimal, parted: str, how: How) -> Imported:
    """Read a grid in one way.

    Args:
        grid: the cells, turned if steps run across the file.
        decimal: what parts the decimals.
        parted: how the cells are parted, for what is told; empty for sheets.
        how: what the person says.

    Raises:
        Unfit: that way does not fit.
    """
    at, used, errors = _header(grid, how)
    if at is None:
        told = errors[0] if errors else RecordError(
            "no row names the columns",
            where=grid.name,
            needed="a row with names such as step, red, green, blue",
            hint="say which column is which, such as --column step=1 --column red=2",
        )  # fmt: skip
        raise Unfit(AMBIGUOUS if errors else 0, told)
    try:
        first, units = _first_row(grid, at, used, decimal)
        rows = _rows(grid, first, used)
        _refuse_ragged(grid, at, rows, used)
        readings = {c: _densities(grid, rows, used[c], decimal) for c in CHANNELS if c in used}
        readings = _scaled(readings, grid, rows, used, how)
        column, positions, kept, said = _positions(grid, rows, used, decimal, how)
    except RecordError as error:
        # The further a way got, the likelier it is what the person meant.
        raise Unfit(2 + len(used), error) from error
    names = [_name(grid, at, c) for c in range(len(grid.rows[0]))]
    sentences = [
        f"{parted}steps run {'across' if grid.across else 'down'}, decimals have a {decimal}.".capitalize(),
        "Columns: " + ", ".join(f"{target} is '{names[c]}'" for target, c in used.items()) + ".",
        *(["A row of units under the names is passed over."] if units else []),
        *said,
    ]
    unused = [n for c, n in enumerate(names) if n and c not in used.values()]
    if unused:
        more = f" and {len(unused) - 6} more" if len(unused) > 6 else ""
        sentences.append(f"Not used: {', '.join(unused[:6])}{more}".rstrip(".") + ".")
    picked = {c: tuple(v[i] for i in kept) for c, v in readings.items()}
    return Imported(column, positions, picked, None, "", tuple(sentences))


def _header(grid: Grid, how: How) -> tuple[int | None, dict[str, int], list[RecordError]]:
    """Return the row that names the columns, which column is what, and what spoke against rows that nearly do.

    With every column given by its number no such row is needed; -1 stands for it.
    """
    errors: list[RecordError] = []
    best: tuple[int, dict[str, int]] | None = None
    width = len(grid.rows[0]) if grid.rows else 0
    for at, row in enumerate(grid.rows[:_DEEPEST_HEADER]):
        names = [c if isinstance(c, str) else "" for c in row]
        if any(name.endswith(_SIGNS) and meaning(name.rstrip("".join(_SIGNS))) for name in names):
            # These names are parted by more than was taken for their parting.
            continue
        try:
            used = columns(names, {k: v for k, v in how.columns.items() if not v.isdigit()}, grid.where(at))
            used |= {k: int(v) - 1 for k, v in how.columns.items() if v.isdigit() and 0 < int(v) <= width}
        except RecordError as error:
            errors.append(error)
            continue
        if any(c in used and not str(how.columns.get(c, "x")).isdigit() for c in CHANNELS):
            # A title may bear a channel's name; the row that names most is the one.
            best = (at, used) if best is None or len(used) > len(best[1]) else best
    if best is not None:
        return *best, errors
    numbered = {k: int(v) - 1 for k, v in how.columns.items() if v.isdigit() and 0 < int(v) <= width}
    if any(c in numbered for c in CHANNELS) and len(numbered) == len(how.columns):
        return -1, numbered, errors
    named = [e for e in errors if "could both be" in str(e)]
    return None, {}, named or (errors if how.columns else [])


def _first_row(grid: Grid, at: int, used: Mapping[str, int], decimal: Decimal) -> tuple[int, bool]:
    """Return the row that readings begin in, and whether a row of units stands between it and the names."""
    first = at + 1
    if at < 0:
        # Without a row of names readings begin where every column used holds a number.
        first = next(
            (r for r, row in enumerate(grid.rows) if all(_is_number(row[c], decimal) for c in used.values())), 0
        )
        return first, False
    if first >= len(grid.rows):
        raise RecordError("no row of readings follows the names", where=grid.where(at))
    cells = [grid.rows[first][c] for c in used.values()]
    units = not any(_is_number(c, decimal) for c in cells) and all(isinstance(c, str) for c in cells)
    # A row of blanks is a step that was not read, and one with digits a reading gone wrong.
    units = units and not any(any(ch.isdigit() for ch in str(c)) for c in cells)
    units = units and any(str(c).lower() not in _NOT_READ for c in cells)
    return (first + 1, True) if units else (first, False)


def _rows(grid: Grid, first: int, used: Mapping[str, int]) -> list[int]:
    """Return the rows of readings: those that hold anything, or all where their place alone numbers the steps."""
    filled = [r for r in range(first, len(grid.rows)) if any(grid.rows[r][c] not in ("", None) for c in used.values())]
    if not filled or any(p in used for p in (*POSITIONS, "sample")):
        return filled
    rows = list(range(first, filled[-1] + 1))
    for before, row in itertools.pairwise([*([first - 1] if first else []), *rows]):
        if not grid.across and grid.lines[row] != grid.lines[before] + 1:
            raise RecordError(
                "a line is left out between two rows, and no column numbers the steps",
                where=f"{grid.name}, line {grid.lines[before] + 1}",
                needed="a column that numbers the steps, or rows without a gap",
            )
    return rows


def _refuse_ragged(grid: Grid, at: int, rows: Sequence[int], used: Mapping[str, int]) -> None:
    """Refuse rows that have fewer or more cells than there are names: they may have shifted."""
    if not rows:
        raise RecordError("no row of readings follows the names", where=grid.where(max(at, 0)))
    if at < 0:
        return
    width = max(i for i, c in enumerate(grid.rows[at]) if c not in ("", None)) + 1
    for row in rows:
        cells = grid.rows[row]
        short = None in [cells[c] for c in used.values()] if grid.across else None in cells[:width]
        if short or any(c not in ("", None) for c in cells[width:]):
            raise RecordError(
                "the row has fewer cells than there are names"
                if short
                else "the row has more cells than there are names",
                where=grid.where(row),
                needed="one cell for each name, empty where nothing was read",
                hint="--delimiter and --decimal say how the cells are parted",
            )


def _is_number(cell: Cell, decimal: Decimal) -> bool:
    return isinstance(cell, float) or (isinstance(cell, str) and _NUMBER.fullmatch(_pointed(cell, decimal)) is not None)


def _pointed(cell: str, decimal: Decimal) -> str:
    """Return a cell with a decimal point; one that has a point where commas part decimals is no number."""
    if decimal == "point":
        return cell
    return "" if "." in cell else cell.replace(",", ".", 1)


def _number(grid: Grid, row: int, column: int, decimal: Decimal) -> float:
    cell = grid.rows[row][column]
    if isinstance(cell, float):
        return cell
    assert cell is not None
    if cell.lower() in _NOT_READ:
        return math.nan
    if not _is_number(cell, decimal):
        raise RecordError(
            f"'{cell}' is not a number with a decimal {decimal}",
            where=grid.where(row, column),
            needed="a number, or an empty cell where nothing was read",
            hint="mend the cell, or take the line out of the table",
        )
    return float(_pointed(cell, decimal))


def _densities(grid: Grid, rows: Sequence[int], column: int, decimal: Decimal) -> tuple[float, ...]:
    found = tuple(_number(grid, row, column, decimal) for row in rows)
    for row, density in zip(rows, found, strict=True):
        if density < LEAST_READING:
            raise RecordError(f"{density:g} is below zero", where=grid.where(row, column), needed="densities")
    return found


def _scaled(
    readings: dict[Channel, tuple[float, ...]], grid: Grid, rows: Sequence[int], used: Mapping[str, int], how: How
) -> dict[Channel, tuple[float, ...]]:
    """Return densities; whole numbers are hundredths only if the person says so."""
    every = [v for values in readings.values() for v in values if not math.isnan(v)]
    whole = all(v == int(v) for v in every)
    if not every:
        raise RecordError("no cell holds a reading", where=grid.name)
    if how.no_point:
        if not whole:
            raise RecordError(
                "there are decimals in it, so it is not without a point", where=f"{grid.name}, --no-point"
            )
        return {c: tuple(v / 100 for v in values) for c, values in readings.items()}
    if whole and any(every) and how.no_point is None:
        raise RecordError(
            "every density is a whole number",
            where=grid.name,
            needed="densities such as 2.91",
            hint="--no-point if they are hundredths, as instruments without a point show them; --point if they are not",
        )
    for channel, values in readings.items():
        for row, value in zip(rows, values, strict=True):
            if value > MOST_READING:
                where = grid.where(row, used[channel])
                raise RecordError(f"{value:g} is no density", where=where, needed="densities such as 2.91")
    return readings


def _positions(
    grid: Grid, rows: Sequence[int], used: Mapping[str, int], decimal: Decimal, how: How
) -> tuple[Position, tuple[float, ...], Sequence[int], list[str]]:
    """Return what rows are listed by, their positions, which of the rows they are, and how that came about."""
    listed = [p for p in POSITIONS if p in used]
    if how.samples is not None:
        names_at = used.get("sample", used.get("step"))
        if names_at is None:
            raise RecordError(
                "no column names the samples", where=grid.name, hint="--column sample=NAME says which does"
            )
        names = [_text(grid.rows[r][names_at]) for r in rows]
        kept, steps = pick(names, how.samples, grid.name)
        return "step", steps, kept, [f"Samples {how.samples} are steps 1 to {int(max(steps))}."]
    if len(listed) > 1:
        raise RecordError(
            f"{' and '.join(listed)} both say which step a row is",
            where=grid.name,
            hint="take one of the columns out of the table",
        )
    if listed:
        column = listed[0]
        values = [_number(grid, r, used[column], decimal) for r in rows]
        _check_positions(grid, rows, used[column], column, values)
        return column, tuple(values), range(len(rows)), []
    if "sample" in used:
        names = [_text(grid.rows[r][used["sample"]]) for r in rows]
        if all(n.isascii() and n.isdigit() and int(n) > 0 for n in names):
            return "step", tuple(float(n) for n in names), range(len(rows)), ["Sample numbers are taken as steps."]
        raise RecordError(
            f"the samples have names, from {names[0]} to {names[-1]}",
            where=grid.name,
            needed="which of them are the steps of the wedge, from its clear end",
            hint=f"--samples {names[0]}:{names[-1]}",
        )
    count = len(rows)
    numbers = [float(n) for n in range(1, count + 1)]
    if how.first_end == "dark":
        numbers.reverse()
    said = f"No column numbers the steps: the {count} rows are taken in order, from the {how.first_end} end."
    return "step", tuple(numbers), range(count), [said]


def _check_positions(grid: Grid, rows: Sequence[int], at: int, column: Position, values: Sequence[float]) -> None:
    for row, value in zip(rows, values, strict=True):
        if math.isnan(value):
            raise RecordError(f"the cell of {column} is empty", where=grid.where(row, at), needed="one in every row")
        if column == "step" and (value != int(value) or not 1 <= value <= 1000):
            raise RecordError(
                f"{value:g} is not a step number",
                where=grid.where(row, at),
                needed="whole numbers from 1 at the wedge's clear end",
                hint="--samples FIRST:LAST renumbers them from 1",
            )
        if column == "ei" and not value > 0:
            raise RecordError(f"{value:g} is not an exposure index", where=grid.where(row, at), needed="above 0")


def _name(grid: Grid, at: int, column: int) -> str:
    return f"column {column + 1}" if at < 0 else _text(grid.rows[at][column])


def _text(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else cell or ""
