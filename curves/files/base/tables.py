"""Tables that a person typed or a spreadsheet saved: read as they are, each cell with its line for errors."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from curves.errors import RecordError, nearest

_DELIMITERS = ("\t", ";", ",")


@dataclass(frozen=True)
class Table:
    """A table with a header.

    `read_table` guarantees: header names are lower case, known and different; every row has one cell per name.

    Attributes:
        path: where it was read from.
        header: column names.
        rows: cells by row, stripped.
        lines: line number in the file of each row.
        comma_decimals: True if a comma may stand for the decimal point.
    """

    path: Path
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    comma_decimals: bool

    def where(self, row: int, column: str) -> str:
        """Return "file, line n, column" for errors."""
        return f"{self.path.name}, line {self.lines[row]}, {column}"

    def numbers(self, column: str) -> list[float]:
        """Return a column as numbers, NaN where a cell is empty.

        Raises:
            RecordError: a cell is not a number.
        """
        at = self.header.index(column)
        return [self._number(row, column, cells[at]) for row, cells in enumerate(self.rows)]

    def _number(self, row: int, column: str, cell: str) -> float:
        if not cell:
            return math.nan
        text = cell.replace(",", ".") if self.comma_decimals else cell
        try:
            # Python would read 1_25 as 125.
            number = math.nan if "_" in text else float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise RecordError(
                f"'{cell}' is not a number",
                where=self.where(row, column),
                needed="a density such as 1.25, or an empty cell where nothing was read"
                if column not in ("step", "stops", "ei", "log_h")
                else "a number",
            )
        return number


def read_table(path: Path, known: Collection[str]) -> Table:
    """Read delimited text with a header row.

    The delimiter is the one of tab, semicolon and comma that the header holds; where it is not the comma, a comma may
    stand for the decimal point. UTF-8 with or without a mark, UTF-16 with one, and any line end are understood. Blank
    lines and lines that begin with # are passed over.

    Args:
        path: the file.
        known: names that columns may have.

    Raises:
        RecordError: the file cannot be read as such a table; says where and what is needed.
    """
    text = read_text(path)
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip(" \t;,")]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise RecordError("the table is empty", where=path.name, needed="a header row, then one row per reading")
    first = lines[0][1]
    delimiter = next((d for d in _DELIMITERS if d in first), ",")
    header = tuple(name.strip().strip('"').lower() for name in _cells(path, lines[0][0], first, delimiter))
    _check_header(path, lines[0][0], header, known)
    rows = []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in _cells(path, number, line, delimiter)]
        if len(cells) > len(header) and not any(cells[len(header) :]):
            cells = cells[: len(header)]
        if len(cells) != len(header):
            comma = " (a decimal comma?)" if delimiter == "," and len(cells) > len(header) else ""
            raise RecordError(
                f"the row has {len(cells)} cells, the header {len(header)}{comma}",
                where=f"{path.name}, line {number}",
                needed="one cell for each column, empty where nothing was read",
                hint="separate the cells by semicolons if the numbers have decimal commas" if comma else "",
            )
        rows.append(tuple(cells))
    return Table(path, header, tuple(rows), tuple(n for n, _ in lines[1:]), comma_decimals=delimiter != ",")


def _cells(path: Path, number: int, line: str, delimiter: str) -> list[str]:
    """Return the cells of one line."""
    try:
        return next(csv.reader(io.StringIO(line), delimiter=delimiter))
    except csv.Error as error:
        raise RecordError(
            f"the row cannot be split into cells: {error}",
            where=f"{path.name}, line {number}",
            hint="save the table as plain text (CSV, UTF-8)",
        ) from error


def read_text(path: Path) -> str:
    """Return a text file's contents, its encoding told by its byte order mark.

    Raises:
        RecordError: there is no such file, it is a folder, or it is not text.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError as error:
        others = sorted(p.name for p in path.parent.glob(f"*{path.suffix}")) if path.parent.is_dir() else []
        beside = ", ".join(others[:5]) or "nothing of that kind"
        raise RecordError(
            "there is no such file", where=str(path), hint=f"check the name; beside it there is {beside}"
        ) from error
    except (OSError, ValueError) as error:
        # A name with a zero byte in it is a ValueError.
        said = error.strerror if isinstance(error, OSError) else "no file can have such a name"
        raise RecordError(f"it cannot be read: {said}", where=repr(str(path))[1:-1], needed="a text file") from error
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise RecordError(
            "it is not text in UTF-8 or UTF-16",
            where=f"{path.name}, line {line}",
            hint="save it as plain text (CSV, UTF-8)",
        ) from error


def _check_header(path: Path, line: int, header: tuple[str, ...], known: Collection[str]) -> None:
    where = f"{path.name}, line {line}"
    if all(_is_number(name) for name in header if name):
        raise RecordError(
            "the first row holds numbers, not column names",
            where=where,
            needed="a header such as step,red,green,blue",
        )
    for name in header:
        if name not in known:
            said = f"'{name}' is not a known column" if name else "a column has no name"
            raise RecordError(said, where=where, hint=nearest(name, known))
        if header.count(name) > 1:
            raise RecordError(
                f"the column '{name}' is there {header.count(name)} times",
                where=where,
                needed="each name once; repeat readings go on rows of their own",
            )


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True
