"""Tables with columns of known names; hand-written ones have a header that holds nothing else."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from curves.errors import RecordError, nearest
from curves.files.base.cells import Cell, Decimal, fraction_in, is_number, number_in, text_in
from curves.files.base.grids import DELIMITERS, lines_of, read_text, separated
from curves.sensitometry.strip.exposure import POSITIONS

_DELIMITERS = ("tab", "semicolon", "comma")
_BLANK = "".join(DELIMITERS[d] for d in _DELIMITERS) + ' "'
"""The signs of a line whose cells are all empty."""


@dataclass(frozen=True)
class Table:
    """A table: its names are different, and every row has one cell for each name.

    Attributes:
        name: the file, and its sheet or table, for errors.
        header: column names.
        rows: cells by row.
        places: where each row stands in the file, for errors.
        decimal: the sign before the decimals.
        lines: line number in the file of each row; empty where the rows are not lines.
        delimiter: what separates the cells; empty where the file itself tells cells.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    places: tuple[str, ...]
    decimal: Decimal
    lines: tuple[int, ...] = ()
    delimiter: str = ""

    def where(self, row: int, column: str) -> str:
        """Return "file, line n, column" for errors."""
        return f"{self.places[row]}, {column}"

    def texts(self, column: str) -> list[str]:
        """Return a column as texts; empty where there is no such column."""
        at = self.header.index(column) if column in self.header else None
        return ["" if at is None else text_in(row[at]) for row in self.rows]

    def numbers(self, column: str, *, fractions: bool = False) -> list[float]:
        """Return a column as numbers, NaN where a cell is empty.

        Args:
            column: its name.
            fractions: True if a cell may hold a fraction, such as 1/125.

        Raises:
            RecordError: a cell is not a number.
        """
        at = self.header.index(column)
        found = [number_in(row[at], self.decimal) for row in self.rows]
        if fractions:
            found = [fraction_in(row[at]) if n is None else n for n, row in zip(found, self.rows, strict=True)]
        if None in found:
            row = found.index(None)
            sign = " with a decimal comma" if self.decimal == "comma" else ""
            density = "a density such as 1.25, or an empty cell where nothing was read"
            raise RecordError(
                f"'{self.rows[row][at]}' is not a number{sign}",
                where=self.where(row, column),
                needed="a number" if column in POSITIONS else density,
            )
        return [number for number in found if number is not None]


def read_table(path: Path, known: Collection[str]) -> Table:
    """Read delimited text with a header row of known names.

    The delimiter is the one of tab, semicolon and comma that the header holds; where it is not the comma, a comma may
    stand for the decimal point. Blank lines and lines that begin with # are passed over.

    Args:
        path: the file.
        known: names that columns may have, in small letters.

    Raises:
        RecordError: the file cannot be read as such a table; says where and what is needed.
    """
    text = read_text(path)
    lines = map(str.strip, lines_of(text))
    first = next((line for line in lines if not line.startswith("#") and line.strip(_BLANK)), None)
    if first is None:
        raise RecordError("the table is empty", where=path.name, needed="a header row, then one row per reading")
    delimiter = next((d for d in _DELIMITERS if DELIMITERS[d] in first), "comma")
    grid = separated(text, delimiter, path.name)
    header = tuple(str(cell).lower() for cell in grid.rows[0] if cell is not None)
    _check_header(grid.where(0), header, known)
    for row in range(1, len(grid.rows)):
        grid.check_width(row, len(header))
    return Table(
        name=path.name,
        header=header,
        rows=tuple(row[: len(header)] for row in grid.rows[1:]),
        places=tuple(grid.where(row) for row in range(1, len(grid.rows))),
        decimal="point" if delimiter == "comma" else "either",
        lines=grid.lines[1:],
        delimiter=DELIMITERS[delimiter],
    )


def _check_header(where: str, header: tuple[str, ...], known: Collection[str]) -> None:
    if all(is_number(name, "either") for name in header if name):
        raise RecordError(
            "the first row holds numbers, not column names", where=where, needed="a header such as step,red,green,blue"
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
