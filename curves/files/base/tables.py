"""Tables that a person writes by hand: a header of known names, one cell for each name, errors by line."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from curves.errors import RecordError, nearest
from curves.files.base.cells import Decimal, is_number, number_in
from curves.files.base.grids import DELIMITERS, Grid, read_text, separated
from curves.sensitometry.strip.exposure import POSITIONS

_DELIMITERS = ("tab", "semicolon", "comma")


@dataclass(frozen=True)
class Table:
    """A table with a header.

    `read_table` guarantees: header names are lower case, known and different; every row has one cell per name.

    Attributes:
        path: where it was read from.
        header: column names.
        rows: cells by row, stripped.
        lines: line number in the file of each row.
        delimiter: what separates the cells.
        decimal: the sign before the decimals.
    """

    path: Path
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    delimiter: str
    decimal: Decimal

    def where(self, row: int, column: str) -> str:
        """Return "file, line n, column" for errors."""
        return f"{self.path.name}, line {self.lines[row]}, {column}"

    def numbers(self, column: str) -> list[float]:
        """Return a column as numbers, NaN where a cell is empty.

        Raises:
            RecordError: a cell is not a number.
        """
        at = self.header.index(column)
        found = []
        for row, cells in enumerate(self.rows):
            number = number_in(cells[at], self.decimal)
            if number is None:
                density = "a density such as 1.25, or an empty cell where nothing was read"
                raise RecordError(
                    f"'{cells[at]}' is not a number",
                    where=self.where(row, column),
                    needed="a number" if column in POSITIONS else density,
                )
            found.append(number)
        return found


def read_table(path: Path, known: Collection[str]) -> Table:
    """Read delimited text with a header row.

    The delimiter is the one of tab, semicolon and comma that the header holds; where it is not the comma, a comma may
    stand for the decimal point. Blank lines and lines that begin with # are passed over.

    Args:
        path: the file.
        known: names that columns may have.

    Raises:
        RecordError: the file cannot be read as such a table; says where and what is needed.
    """
    text = read_text(path)
    blank = "".join(DELIMITERS[d] for d in _DELIMITERS) + " "
    first = next((str(row[0]) for row in separated(text, "none", path.name).rows if str(row[0]).strip(blank)), None)
    if first is None:
        raise RecordError("the table is empty", where=path.name, needed="a header row, then one row per reading")
    delimiter = next((d for d in _DELIMITERS if DELIMITERS[d] in first), "comma")
    grid = separated(text, delimiter, path.name)
    rows = [tuple(str(cell) for cell in row if cell is not None) for row in grid.rows]
    header = tuple(name.lower() for name in rows[0])
    _check_header(grid.where(0), header, known)
    cells = [_as_wide(row, len(header), grid, at) for at, row in enumerate(rows[1:], start=1)]
    decimal: Decimal = "point" if delimiter == "comma" else "either"
    return Table(path, header, tuple(cells), grid.lines[1:], DELIMITERS[delimiter], decimal)


def _as_wide(cells: tuple[str, ...], width: int, grid: Grid, at: int) -> tuple[str, ...]:
    """Return a row with as many cells as the header has; empty cells beyond the header are left out."""
    if any("\n" in cell or "\r" in cell for cell in cells):
        raise RecordError(
            "the row runs over several lines",
            where=grid.where(at),
            needed="one line for each row",
            hint="close the quote",
        )
    if len(cells) > width and not any(cells[width:]):
        return cells[:width]
    if len(cells) != width:
        comma = grid.delimiter == "comma" and len(cells) > width
        raise RecordError(
            f"the row has {len(cells)} cells, the header {width}{' (a decimal comma?)' if comma else ''}",
            where=grid.where(at),
            needed="one cell for each column, empty where nothing was read",
            hint="separate the cells by semicolons if the numbers have decimal commas" if comma else "",
        )
    return cells


def _check_header(where: str, header: tuple[str, ...], known: Collection[str]) -> None:
    if all(is_number(name, "either") for name in header if name):
        raise RecordError(
            "the first row holds numbers, not column names",
            where=where,
            needed="a header such as step,red,green,blue",
        )
    for name in header:
        if name not in known:
            fault = f"'{name}' is not a known column" if name else "a column has no name"
            raise RecordError(fault, where=where, hint=nearest(name, known))
        if header.count(name) > 1:
            raise RecordError(
                f"the column '{name}' is there {header.count(name)} times",
                where=where,
                needed="each name once; repeat readings go on rows of their own",
            )
