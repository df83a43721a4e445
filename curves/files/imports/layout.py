"""A grid of cells, read in one way: which row names the columns, which rows hold readings, and what they are."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from curves.errors import RecordError
from curves.files.base.cells import NOT_READ, Cell, check_density, check_position, is_number, number_in
from curves.files.base.grids import Grid
from curves.files.base.strip_table import StripTable
from curves.files.imports.columns import column_number, columns, meaning
from curves.files.imports.description import TableDescription
from curves.sensitometry.core.units import CHANNELS, Channel
from curves.sensitometry.strip.exposure import POSITIONS, Position

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
    """Return what a grid holds if it is read in one way, or why that way does not hold up.

    Args:
        grid: the cells, turned if steps run across the file.
        decimal: the sign before the decimals.
        description: what the person says.
    """
    heading = _heading(grid, description)
    if isinstance(heading, Misfit):
        return heading
    layout = _Layout(grid, decimal, description, *heading)
    try:
        return layout.table()
    except RecordError as error:
        return Misfit(2 + len(layout.used), error)


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


@dataclass(frozen=True)
class _Layout:
    """One way of reading a grid.

    Attributes:
        grid, decimal, description: as `read_layout` has them.
        heading: the row that names the columns; -1 if there is none.
        used: which column holds what.
    """

    grid: Grid
    decimal: Literal["point", "comma"]
    description: TableDescription
    heading: int
    used: Mapping[str, int]

    def table(self) -> StripTable:
        """Return what the grid holds.

        Raises:
            RecordError: this way of reading does not hold up.
        """
        grid, used = self.grid, self.used
        first = self._first_row()
        rows = self._rows(first)
        self._refuse_ragged(rows)
        readings = self._scaled({c: [self._number(row, used[c]) for row in rows] for c in CHANNELS if c in used}, rows)
        column, positions, kept, remarks = self._listing(rows)
        names = [f"column {c + 1}" if self.heading < 0 else _text(grid.rows[self.heading][c])
                 for c in range(len(grid.rows[0]))]  # fmt: skip
        unused = tuple(name for c, name in enumerate(names) if name and c not in used.values())
        direction = "across" if grid.across else "down"
        separation = {"": "", "none": "there is one column, "}.get(
            grid.delimiter, f"cells are separated by {grid.delimiter}, "
        )
        understood = [
            f"{separation}steps run {direction}, decimals have a {self.decimal}.".capitalize(),
            "Columns: " + ", ".join(f"{target} is '{names[c]}'" for target, c in used.items()) + ".",
            *(["A row of units under the names is passed over."] if first > self.heading + 1 > 0 else []),
            *remarks,
        ]
        if unused:
            more = f" and {len(unused) - 6} more" if len(unused) > 6 else ""
            understood.append(f"Not used: {', '.join(unused[:6])}{more}".rstrip(".") + ".")
        return StripTable(
            name=grid.name,
            column=column,
            positions=positions,
            readings={c: tuple(values[i] for i in kept) for c, values in readings.items()},
            places=tuple(grid.where(rows[i]) for i in kept),
            understood=tuple(understood),
            unused=unused,
        )

    def _first_row(self) -> int:
        """Return the row that readings begin in: under the names, and under a row of units if there is one."""
        grid, places = self.grid, self.used.values()
        first = self.heading + 1
        if self.heading < 0:
            filled = (r for r, row in enumerate(grid.rows) if all(is_number(row[c], self.decimal) for c in places))
            return next(filled, 0)
        if first >= len(grid.rows):
            raise RecordError("no row of readings follows the names", where=grid.where(self.heading))
        cells = [grid.rows[first][c] for c in places]
        # A row of blanks is a step that was not read, and one with digits a reading gone wrong.
        words = all(isinstance(cell, str) and not any(sign.isdigit() for sign in cell) for cell in cells)
        units = words and any(str(cell).lower() not in NOT_READ for cell in cells)
        return first + 1 if units else first

    def _rows(self, first: int) -> list[int]:
        """Return the rows of readings: those that hold anything, or all where their place alone numbers the steps."""
        grid, used = self.grid, self.used
        rows = [
            r for r in range(first, len(grid.rows)) if any(grid.rows[r][c] not in ("", None) for c in used.values())
        ]
        if not rows:
            raise RecordError("no row of readings follows the names", where=grid.where(max(self.heading, 0)))
        if any(p in used for p in (*POSITIONS, "sample")):
            return rows
        rows = list(range(first, rows[-1] + 1))
        for before, row in itertools.pairwise([*([first - 1] if first else []), *rows]):
            if not grid.across and grid.lines[row] != grid.lines[before] + 1:
                raise RecordError(
                    "a line is left out between two rows, and no column numbers the steps",
                    where=f"{grid.name}, line {grid.lines[before] + 1}",
                    needed="a column that numbers the steps, or rows without a gap",
                )
        return rows

    def _refuse_ragged(self, rows: Sequence[int]) -> None:
        """Refuse rows that have fewer or more cells than there are names: cells may have shifted."""
        if self.heading < 0:
            return
        grid = self.grid
        width = max(i for i, cell in enumerate(grid.rows[self.heading]) if cell not in ("", None)) + 1
        for row in rows:
            cells = grid.rows[row]
            short = None in [cells[c] for c in self.used.values()] if grid.across else None in cells[:width]
            if short or any(cell not in ("", None) for cell in cells[width:]):
                raise RecordError(
                    f"the row has {'fewer' if short else 'more'} cells than there are names",
                    where=grid.where(row),
                    needed="one cell for each name, empty where nothing was read",
                    hint="say what separates the cells",
                    settings=("delimiter", "decimal"),
                )

    def _number(self, row: int, column: int) -> float:
        cell = self.grid.rows[row][column]
        number = number_in(cell, self.decimal)
        if number is None:
            raise RecordError(
                f"'{cell}' is not a number with a decimal {self.decimal}",
                where=self.grid.where(row, column),
                needed="a number, or an empty cell where nothing was read",
                hint="mend the cell, or take the line out of the table",
            )
        return number

    def _scaled(self, readings: dict[Channel, list[float]], rows: Sequence[int]) -> dict[Channel, list[float]]:
        """Return readings as densities; whole numbers are hundredths only if the person says so."""
        every = [v for values in readings.values() for v in values if not math.isnan(v)]
        whole, no_point = all(v == int(v) for v in every), self.description.no_point
        if not every:
            raise RecordError("no cell holds a reading", where=self.grid.name)
        if no_point and not whole:
            raise RecordError(
                "some numbers have decimals", where="no_point", needed="whole numbers alone", settings=("no_point",)
            )
        if whole and any(every) and no_point is None:
            raise RecordError(
                "every density is a whole number",
                where=self.grid.name,
                needed="densities such as 2.91",
                hint="say whether they are hundredths, as instruments without a point show them, or densities",
                settings=("no_point=True", "no_point=False"),
            )
        if no_point:
            readings = {c: [v / 100 for v in values] for c, values in readings.items()}
        for channel, values in readings.items():
            for row, value in zip(rows, values, strict=True):
                check_density(value, self.grid.where(row, self.used[channel]))
        return readings

    def _listing(self, rows: Sequence[int]) -> tuple[Position, tuple[float, ...], Sequence[int], list[str]]:
        """Return what rows are listed by, their positions, which of the rows they are, and how that came about."""
        grid, used, samples = self.grid, self.used, self.description.samples
        listed = [p for p in POSITIONS if p in used]
        if samples is not None:
            names_at = used.get("sample", used.get("step"))
            if names_at is None:
                raise RecordError(
                    "no column names the samples",
                    where=grid.name,
                    hint="say which column does",
                    settings=("columns=sample=NAME",),
                )
            kept, steps = _picked([_text(grid.rows[r][names_at]) for r in rows], samples, grid.name)
            return "step", steps, kept, [f"Samples {samples} are steps 1 to {int(max(steps))}."]
        if len(listed) > 1:
            raise RecordError(
                f"{' and '.join(listed)} both say which step a row is",
                where=grid.name,
                hint="take one of the columns out of the table",
            )
        if listed:
            column = listed[0]
            values = [self._number(r, used[column]) for r in rows]
            for row, value in zip(rows, values, strict=True):
                check_position(column, value, grid.where(row, used[column]), ("samples=FIRST:LAST",))
            return column, tuple(values), range(len(rows)), []
        if "sample" in used:
            names = [_text(grid.rows[r][used["sample"]]) for r in rows]
            if all(n.isascii() and n.isdigit() and int(n) > 0 for n in names):
                return "step", tuple(float(n) for n in names), range(len(rows)), ["Sample numbers are taken as steps."]
            raise RecordError(
                f"the samples have names, from {names[0]} to {names[-1]}",
                where=grid.name,
                needed="which of them are the steps of the wedge, from its clear end",
                settings=(f"samples={names[0]}:{names[-1]}",),
            )
        count, end = len(rows), self.description.first_end
        numbers = tuple(float(n) for n in (range(1, count + 1) if end == "clear" else range(count, 0, -1)))
        remark = f"No column numbers the steps: the {count} rows are taken in order, from the {end} end."
        return "step", numbers, range(count), [remark]


def _picked(names: Sequence[str], samples: str, where: str) -> tuple[list[int], tuple[float, ...]]:
    """Return which rows a range of samples are, and the step of each.

    Where both ends are a word and a number ("GS0:GS23"), the numbers between are looked up by name, wherever the rows
    stand, and either way round; else the rows from the one to the other are taken as they stand. A sample that is there
    several times is a step with repeats.

    Args:
        names: the sample of each row.
        samples: first and last, separated by a colon; the first becomes step 1.
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
        return _as_they_stand(names, first, last, where)
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
    found.sort(key=lambda pair: pair[1])
    return [row for row, _ in found], tuple(float(step) for _, step in found)


def _as_they_stand(names: Sequence[str], first: str, last: str, where: str) -> tuple[list[int], tuple[float, ...]]:
    ends = []
    for name in (first, last):
        rows = [row for row, there in enumerate(names) if there.casefold() == name.casefold()]
        if len(rows) != 1:
            raise RecordError(f"sample {name} is there {len(rows)} times", where=where, needed="it once")
        ends.append(rows[0])
    rows = list(_span(*ends))
    return rows, tuple(float(step) for step in range(1, len(rows) + 1))


def _span(begin: int, end: int) -> range:
    """Return the whole numbers from one to another, either way round."""
    return range(begin, end + 1) if begin <= end else range(begin, end - 1, -1)


def _word_and_number(name: str) -> tuple[str, int] | None:
    """Return a name as a word and a number; None if it is not of that form."""
    match = re.fullmatch(r"(.*?)([0-9]{1,6})", name.strip(), re.ASCII)
    return (match[1].strip().casefold(), int(match[2])) if match else None


def _text(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else cell or ""
