"""Grids of cells out of files: which encoding a text has, where its lines end, and what separates its cells.

Hand-written tables and tables from elsewhere are read by these rules alike.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from curves.errors import RecordError
from curves.files.base.cells import Cell

DELIMITERS = {"tab": "\t", "semicolon": ";", "comma": ",", "bar": "|", "spaces": " ", "none": ""}
_ENCODINGS = {"utf-8-sig": "UTF-8", "utf-8": "UTF-8", "cp1252": "Windows-1252"}
ARCHIVE = b"PK\x03\x04"
"""The first bytes of a workbook, and of any other archive of its kind."""

MOST_READ = 64_000_000
"""The largest text or workbook that is read: our own choice, a thousand times the largest strip [bytes]."""

_CONTROL = re.compile(r"[\x00-\x08\x0e-\x19\x1b-\x1f]")
"""Signs that no text of an older program has."""


@dataclass(frozen=True)
class Grid:
    """Cells by row, all rows equally long.

    Attributes:
        name: file, and sheet or table, for errors.
        rows: the cells.
        lines: the line of the file that each row begins in.
        delimiter: what separates the cells in the file, a key of `DELIMITERS`; empty where the file itself tells cells.
        across: True if the grid was turned, so that its rows are the file's columns.
    """

    name: str
    rows: tuple[tuple[Cell, ...], ...]
    lines: tuple[int, ...]
    delimiter: str = ""
    across: bool = False

    @classmethod
    def of(cls, name: str, rows: Sequence[Sequence[Cell]], lines: Sequence[int], delimiter: str = "") -> Grid:
        """Return a grid whose short rows are filled up with None."""
        width = max((len(row) for row in rows), default=0)
        filled = tuple((*row, *[None] * (width - len(row))) for row in rows)
        return cls(name, filled, tuple(lines), delimiter)

    def where(self, row: int, column: int | None = None) -> str:
        """Return the place of a cell in the file, for errors."""
        if self.across:
            line = "" if column is None else f", line {self.lines[column]}"
            return f"{self.name}{line}, column {row + 1}"
        beside = "" if column is None else f", column {column + 1}"
        return f"{self.name}, line {self.lines[row]}{beside}"

    def check_width(
        self, row: int, width: int, used: Sequence[int] | None = None, settings: Sequence[str] = ()
    ) -> None:
        """Refuse a row that has fewer or more cells than there are names: cells may have shifted.

        Args:
            row: the row.
            width: how many names there are; empty cells beyond are passed over.
            used: the columns that must be there; all of them if None.
            settings: those that decide how cells are separated, for errors.

        Raises:
            RecordError: a cell is missing, or too many are there, or a cell holds the end of a line.
        """
        cells = self.rows[row]
        if any(isinstance(cell, str) and ("\n" in cell or "\r" in cell) for cell in cells):
            raise RecordError("the row runs over several lines", where=self.where(row), hint="close the quote")
        short = None in [cells[c] for c in (range(width) if used is None else used)]
        if short or any(cell not in ("", None) for cell in cells[width:]):
            comma = self.delimiter == "comma" and not short
            count = len([cell for cell in cells if cell is not None])
            raise RecordError(
                f"the row has {count} cells, the header {width}{' (a decimal comma?)' if comma else ''}",
                where=self.where(row),
                needed="one cell for each column, empty where nothing was read",
                hint="separate the cells by semicolons if the numbers have decimal commas" if comma else "",
                settings=() if comma else settings,
            )

    def turned(self) -> Grid:
        """Return the grid with rows and columns exchanged."""
        return Grid(self.name, tuple(zip(*self.rows, strict=True)), self.lines, self.delimiter, not self.across)


def separated(text: str, delimiter: str, name: str) -> Grid:
    """Return a text as a grid, without blank lines and lines that begin with #.

    Args:
        text: the file's text.
        delimiter: a key of `DELIMITERS`.
        name: the file's name, for errors.

    Raises:
        RecordError: the text cannot be separated so.
    """
    lines = ["\n" if line.lstrip().startswith("#") else line for line in lines_of(text)]
    rows: list[list[str]] = []
    numbers: list[int] = []
    if delimiter in ("spaces", "none"):
        rows = [line.split() if delimiter == "spaces" else [line.strip().strip('"')] for line in lines]
        numbers = list(range(1, len(lines) + 1))
    else:
        reader = csv.reader(lines, delimiter=DELIMITERS[delimiter])
        try:
            # A row begins in the line after the end of the row before.
            while (number := reader.line_num + 1) <= len(lines):
                rows.append([cell.strip() for cell in next(reader)])
                numbers.append(number)
        except csv.Error as error:
            raise RecordError(
                f"the row cannot be split into cells: {error}",
                where=f"{name}, line {number}",
                hint="save the table as plain text (CSV, UTF-8)",
            ) from error
    kept = [(row, number) for row, number in zip(rows, numbers, strict=True) if any(row)]
    return Grid.of(name, [row for row, _ in kept], [number for _, number in kept], delimiter)


def lines_of(text: str) -> list[str]:
    """Return the lines of a text, each with its end: a line feed, a carriage return or both."""
    return list(io.StringIO(text, newline=""))


def read_text(path: Path, most: int = MOST_READ) -> str:
    """Return a text file's contents, decoded as `decode` does.

    Args:
        path: the file.
        most: the largest size that is read [bytes].

    Raises:
        RecordError: there is no such file, the name is a folder's, or the file is not text or too large.
    """
    return decode(read_content(path, most), path.name)[0]


def read_content(path: Path, most: int = MOST_READ) -> bytes:
    """Return the bytes of an ordinary file; a device, a pipe or a socket, which may never end, is refused unread.

    Args:
        path: the file, or a link to it.
        most: the largest size that is read [bytes].

    Raises:
        RecordError: there is no such file, or the file cannot be read, is not an ordinary one or is too large.
    """
    try:
        found = path.stat()
        if not (stat.S_ISREG(found.st_mode) or stat.S_ISDIR(found.st_mode)):
            raise RecordError(
                "it is a device, a pipe or a socket",
                where=path.name,
                needed="an ordinary file",
                hint="save what comes from there into a file, and give that",
            )
        if found.st_size > most:
            raise RecordError(
                f"the file has {found.st_size / 1e6:.1f} MB", where=path.name, needed=f"{most / 1e6:g} MB at most"
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        others = []
        if path.parent.is_dir():
            beside = sorted(p.name for p in path.parent.iterdir())
            others = [name for name in beside if Path(name).suffix == path.suffix]
            others = difflib.get_close_matches(path.name, others, 3, 0.8) or others
            others = others or difflib.get_close_matches(path.name, beside, 3, 0.8)
        named = ", ".join(others[:5]) or "nothing of that kind"
        raise RecordError(
            "there is no such file", where=str(path), hint=f"check the name; beside it there is {named}"
        ) from error
    except (OSError, ValueError) as error:
        # A name with a zero byte in it is a ValueError.
        reason = error.strerror if isinstance(error, OSError) else "no file can have such a name"
        raise RecordError(f"it cannot be read: {reason}", where=repr(str(path))[1:-1], needed="a text file") from error


def decode(content: bytes, name: str) -> tuple[str, str]:
    """Return a file's text, and the name of its encoding.

    A byte order mark decides. Without one, text in which every second byte is zero is UTF-16, text that is valid UTF-8
    is UTF-8, and the rest is the Western European text of older programs (Windows-1252).

    Raises:
        RecordError: the content is not text.
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
        if "\0" not in text and not (attempt == "cp1252" and _CONTROL.search(text)):
            return text, _ENCODINGS.get(attempt, "UTF-16")
    if content.startswith(ARCHIVE):
        raise RecordError(
            "it is a workbook or another archive, not text",
            where=name,
            hint="save the sheet as CSV, or run curves import on it",
        )
    raise RecordError("it is not text", where=name, hint="save it as plain text (CSV, UTF-8), or as a workbook (.xlsx)")
