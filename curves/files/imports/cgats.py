"""The open exchange text of colour and density measurements (ISO 28178, CGATS.17): read and written.

Written from the public description of the format: keyword lines, new keywords announced by KEYWORD, comments after #,
the fields named between BEGIN_DATA_FORMAT and END_DATA_FORMAT, the sets between BEGIN_DATA and END_DATA, all parted by
tabs or spaces, texts in quotes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from curves.errors import RecordError
from curves.files.imports.grids import Grid
from curves.sensitometry.core.units import Channel, DensityKind
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.strip import Strip

FIELD_OF: dict[Channel, str] = {"red": "D_RED", "green": "D_GREEN", "blue": "D_BLUE", "visual": "D_VIS"}
_TOKEN = re.compile(r'"([^"]*)"|(#.*)|([^\s"]+)|(")')
_STATUS = re.compile(r"\bstatus[\s_:-]*([a-z])\b", re.IGNORECASE)


@dataclass
class ExchangeTable:
    """One table of such a file.

    Attributes:
        number: its place in the file, from 1.
        keywords: names and values in order; a name may come more than once.
        comments: texts after #.
        fields: the names of the columns.
        rows, lines: the sets, and the line that each begins in.
        said: what is odd about the table, and was let pass.
    """

    number: int
    keywords: list[tuple[str, str]] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)
    fields: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def grid(self, name: str) -> Grid:
        """Return the table as a grid, its fields as the first row."""
        rows = (tuple(self.fields), *(tuple(row) for row in self.rows))
        return Grid(name, rows, (self.lines[0] if self.lines else 1, *self.lines))

    def value(self, keyword: str) -> str:
        """Return a keyword's first value; empty if it is not there."""
        return next((value for name, value in self.keywords if name == keyword), "")


def is_exchange_text(text: str) -> bool:
    """Return whether a text is of this format: it has a line that begins a block of data."""
    return re.search(r"(?:^|[\r\n])[ \t]*BEGIN_DATA(?:_FORMAT)?\b", text) is not None


def read_exchange(text: str, name: str) -> list[ExchangeTable]:
    """Return the tables of a text.

    Raises:
        RecordError: a block is missing, or a set does not fit its format; says the line.
    """
    reader = _Reader(name)
    for number, line in enumerate(text.splitlines(), start=1):
        reader.take(number, line)
    return reader.finish()


def status(tables: Sequence[ExchangeTable]) -> tuple[DensityKind | None, str]:
    """Return the kind of density that tables name, and where; None if they name none.

    Keywords are looked through first, then comments.

    Raises:
        RecordError: they name two, or one that is none of those used here.
    """
    places = [(f"{name} {value}", f"the keyword {name}") for t in tables for name, value in t.keywords]
    places += [(text, "a comment") for t in tables for text in t.comments]
    found = {m[1].upper(): place for text, place in reversed(places) for m in _STATUS.finditer(text)}
    if len(found) > 1:
        raise RecordError(
            "it names status " + " and status ".join(sorted(found)),
            needed="the one that the densities are",
            hint='say which: --density "status A"',
        )
    if not found:
        return None, ""
    letter, place = next(iter(found.items()))
    if letter == "A":
        return "status A", place
    if letter == "M":
        return "status M", place
    raise RecordError(
        f"its densities are status {letter} (named in {place})",
        needed="status A for film to be looked at, status M for film to be printed, or visual density",
        hint='if you know better: --density "status A"',
    )


def exchange_text(strip: Strip) -> str:
    """Return a strip's readings in this format, one set a row, every digit of them; "" where nothing was read.

    Positions that are no step numbers have a field of their own, announced by KEYWORD.
    """
    by_step = isinstance(strip.exposure, Contact | Camera)
    position = strip.exposure.positions[0].upper()
    fields = ["SAMPLE_ID", *([] if by_step else [position]), *(FIELD_OF[c] for c in strip.channels)]
    lines = ["CGATS.17", f"DESCRIPTOR {_quoted(strip.title)}"]
    if strip.date is not None:
        lines.append(f'CREATED "{strip.date.isoformat()}"')
    if strip.film:
        lines.append(f"MATERIAL {_quoted(strip.film)}")
    lines += ['KEYWORD "DENSITY_KIND"', f'DENSITY_KIND "{strip.density}"']
    if not by_step:
        lines.append(f'KEYWORD "{position}"')
    lines += [f"NUMBER_OF_FIELDS {len(fields)}", "BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {strip.position.size}", "BEGIN_DATA"]
    for row, place in enumerate(strip.position):
        cells = [f"{place:.0f}"] if by_step else [str(row + 1), repr(float(place))]
        cells += [_number(float(strip.readings[c][row])) for c in strip.channels]
        lines.append("\t".join(cells))
    return "\n".join([*lines, "END_DATA", ""])


def _quoted(text: str) -> str:
    """Return a text in quotes; the format knows no quote within quotes, and no other sign than printed ones."""
    printed = "".join(c if c.isprintable() else " " for c in text.replace('"', "'"))
    return '"' + " ".join(printed.split()) + '"'


def _number(value: float) -> str:
    return '""' if math.isnan(value) else repr(value)


class _Reader:
    """Goes through the lines of a text, block by block."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._tables: list[ExchangeTable] = []
        self._block = "header"
        self._begun = 0
        self._fresh(1)

    def _fresh(self, number: int) -> None:
        self._now = ExchangeTable(number)
        self._sets: int | None = None
        self._count: int | None = None
        self._formatted = False
        self._pending: list[str] = []
        self._wrapped = False

    def take(self, number: int, line: str) -> None:
        tokens = self._tokens(number, line)
        if self._block == "data":
            self._data(number, line, tokens)
        elif self._block == "format":
            self._format(tokens)
        elif tokens:
            self._header(number, tokens)

    def finish(self) -> list[ExchangeTable]:
        if self._block != "header":
            word = "BEGIN_DATA" if self._block == "data" else "BEGIN_DATA_FORMAT"
            raise RecordError(
                f"the file ends within {word}: it was cut short",
                where=f"{self._name}, line {self._begun}",
                needed=f"the whole file, to its {word.replace('BEGIN', 'END')}",
            )
        return self._tables

    def _tokens(self, number: int, line: str) -> list[str]:
        tokens = []
        for match in _TOKEN.finditer(line):
            if match[2] is not None:
                self._now.comments.append(match[2][1:].strip())
            elif match[4] is not None:
                raise RecordError("a quote is opened and not closed", where=f"{self._name}, line {number}")
            else:
                tokens.append(match[1] if match[1] is not None else match[3])
        return tokens

    def _header(self, number: int, tokens: list[str]) -> None:
        word, rest = tokens[0], tokens[1:]
        if word == "BEGIN_DATA_FORMAT":
            self._block, self._begun, self._formatted = "format", number, True
            self._format(rest)
        elif word == "BEGIN_DATA":
            if not self._formatted:
                raise RecordError(
                    f"table {self._now.number} has data, but no BEGIN_DATA_FORMAT block that names its columns",
                    where=f"{self._name}, line {number}",
                    needed="BEGIN_DATA_FORMAT, the names of the fields, END_DATA_FORMAT, before the data",
                    hint="add the block by hand if you know the order of the columns",
                )
            self._block, self._begun = "data", number
            if rest:
                self._data(number, " ".join(rest), rest)
        elif word in ("NUMBER_OF_SETS", "NUMBER_OF_FIELDS"):
            value = int(rest[0]) if rest and rest[0].isascii() and rest[0].isdigit() else None
            if word == "NUMBER_OF_SETS":
                self._sets = value
            else:
                self._count = value
        elif word != "KEYWORD":
            # A keyword that nobody announced is read like any other.
            self._now.keywords.append((word, " ".join(rest)))

    def _format(self, tokens: list[str]) -> None:
        for at, token in enumerate(tokens):
            if token == "END_DATA_FORMAT":
                self._block = "header"
                if self._count is not None and self._count != len(self._now.fields):
                    counted = len(self._now.fields)
                    self._now.said.append(
                        f"NUMBER_OF_FIELDS says {self._count}, the format names {counted}; the format counts."
                    )
                del tokens[: at + 1]
                return
            self._now.fields.append(token)

    def _data(self, number: int, line: str, tokens: list[str]) -> None:
        if tokens and tokens[0] == "END_DATA":
            self._end(number)
            return
        width, cells = len(self._now.fields), tokens
        if "\t" in line and len(tokens) < width:
            # An empty cell between two tabs is a reading that was not taken.
            by_tab = [c.strip().strip('"') for c in line.split("\t")]
            while len(by_tab) > width and not by_tab[-1]:
                by_tab.pop()
            cells = by_tab if len(by_tab) == width and tokens else tokens
        if not cells:
            return
        if not self._pending:
            self._now.lines.append(number)
        self._wrapped = self._wrapped or len(cells) != width
        self._pending += cells
        if len(self._pending) > width:
            raise RecordError(
                f"the set has {len(self._pending)} values, its format {width} fields",
                where=f"{self._name}, line {number}",
                needed="one value for each field",
            )
        if len(self._pending) == width:
            self._now.rows.append(self._pending)
            self._pending = []

    def _end(self, number: int) -> None:
        table, where = self._now, f"{self._name}, line {number}"
        if self._pending:
            raise RecordError(
                f"the last set has {len(self._pending)} values, its format {len(table.fields)} fields", where=where
            )
        if self._sets is not None and self._sets != len(table.rows):
            if self._wrapped:
                raise RecordError(
                    f"sets run over several lines, and make {len(table.rows)} where NUMBER_OF_SETS says {self._sets}",
                    where=where,
                    needed="one line for each set",
                )
            table.said.append(
                f"NUMBER_OF_SETS says {self._sets}, but there are {len(table.rows)} sets: is the file whole?"
            )
        elif self._sets is None and self._wrapped:
            raise RecordError("sets run over several lines, and nothing says how many there are", where=where)
        self._tables.append(table)
        self._block = "header"
        self._fresh(table.number + 1)
