"""Tables from elsewhere as bare grids of cells: delimited text in any encoding, and sheets of a workbook."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from curves.errors import RecordError

Cell = str | float | None
"""Text, a number that the file holds as a number, or None where a row is too short to have the cell."""

DELIMITERS = {"tab": "\t", "semicolon": ";", "comma": ",", "bar": "|", "spaces": " ", "none": ""}


@dataclass(frozen=True)
class Grid:
    """Cells by row, all rows equally long.

    Attributes:
        name: file, and sheet or table, for errors.
        rows: the cells.
        lines: the line of the file that each row begins in.
        across: True if the grid was turned, so that its rows are the file's columns.
    """

    name: str
    rows: tuple[tuple[Cell, ...], ...]
    lines: tuple[int, ...]
    across: bool = False

    def where(self, row: int, column: int | None = None) -> str:
        """Return where a cell stands in the file, for errors."""
        if self.across:
            line = "" if column is None else f", line {self.lines[column]}"
            return f"{self.name}{line}, column {row + 1}"
        beside = "" if column is None else f", column {column + 1}"
        return f"{self.name}, line {self.lines[row]}{beside}"

    def turned(self) -> Grid:
        """Return the grid with rows and columns changed over."""
        return Grid(self.name, tuple(zip(*self.rows, strict=True)), self.lines, across=not self.across)


def decoded(content: bytes, name: str) -> tuple[str, str]:
    """Return a file's text and the encoding it is taken to be in.

    A byte order mark decides; without one, text in which every second byte is zero is UTF-16, text that is valid UTF-8
    is that, and the rest is the Western European of older programs (Windows-1252).

    Raises:
        RecordError: it is no text.
    """
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    elif content[:3] == b"\xef\xbb\xbf":
        encoding = "utf-8-sig"
    else:
        zeros = [content[start::2].count(0) for start in (0, 1)]
        half = len(content) // 2
        encoding = "utf-16-be" if zeros[0] > 0.7 * half else "utf-16-le" if zeros[1] > 0.7 * half else "utf-8"
    for attempt in (encoding, "cp1252"):
        try:
            text = content.decode(attempt)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text, {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252"}.get(attempt, attempt[:6].upper())
    raise RecordError("it is not text", where=name, hint="save it as plain text (CSV, UTF-8), or as a workbook (.xlsx)")


def delimited(text: str, delimiter: str, name: str) -> Grid:
    """Return delimited text as a grid.

    Args:
        text: the file's text.
        delimiter: a key of `DELIMITERS`.
        name: the file's name, for errors.

    Raises:
        RecordError: the text cannot be split so.
    """
    rows: list[list[str]] = []
    lines: list[int] = []
    if delimiter in ("spaces", "none"):
        for number, line in enumerate(text.splitlines(), start=1):
            cells = line.split() if delimiter == "spaces" else [line.strip().strip('"')]
            rows.append(cells)
            lines.append(number)
    else:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=DELIMITERS[delimiter])
        last = 0
        try:
            for cells in reader:
                rows.append([c.strip() for c in cells])
                lines.append(last + 1)
                last = reader.line_num
        except csv.Error as error:
            raise RecordError(
                f"the row cannot be split into cells: {error}", where=f"{name}, line {last + 1}"
            ) from error
    kept = [(row, line) for row, line in zip(rows, lines, strict=True) if any(row) and not row[0].startswith("#")]
    return _squared(name, [row for row, _ in kept], [line for _, line in kept])


def sheets(path: Path) -> list[tuple[str, Grid]]:
    """Return the sheets of a workbook (.xlsx) that hold anything, each with its name.

    Raises:
        RecordError: the reader of workbooks is not installed, the file is none, or a formula in it was never computed.
    """
    try:
        import openpyxl
    except ImportError as error:
        raise RecordError(
            "reading a workbook needs the package openpyxl, which is not installed",
            where=path.name,
            hint="pip install openpyxl, or save the sheet as CSV",
        ) from error
    try:
        values, formulas = (openpyxl.load_workbook(path, data_only=computed) for computed in (True, False))
    except FileNotFoundError as error:
        raise RecordError("there is no such file", where=str(path), hint="check the name") from error
    except Exception as error:  # whatever a damaged archive makes the reader stumble over
        raise RecordError(f"it is no workbook that can be read: {error}", where=path.name) from error
    found = []
    for sheet in values.worksheets:
        name = f"{path.name}, sheet {sheet.title}"
        typed = formulas[sheet.title]
        for row in typed.iter_rows():
            for cell in row:
                if cell.data_type == "f" and sheet[cell.coordinate].value is None:
                    raise RecordError(
                        f"cell {cell.coordinate} holds a formula that was never computed",
                        where=name,
                        hint="open the workbook in a spreadsheet, and save it again",
                    )
        rows = [[_cell(v) for v in row] for row in sheet.iter_rows(values_only=True)]
        lines = [n for n, row in enumerate(rows, start=1) if any(c != "" for c in row)]
        if lines:
            found.append((str(sheet.title), _squared(name, [rows[n - 1] for n in lines], lines)))
    return found


def _cell(value: Any) -> str | float:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    return "" if value is None else re.sub(r"\s+", " ", str(value)).strip()


def _squared(name: str, rows: Sequence[Sequence[str | float]], lines: Sequence[int]) -> Grid:
    """Return a grid whose short rows are filled up with None."""
    width = max((len(row) for row in rows), default=0)
    return Grid(name, tuple((*row, *[None] * (width - len(row))) for row in rows), tuple(lines))
