"""The open exchange text of colour and density measurements (ISO 28178, CGATS.17): read and written.

Written from the public description of the format: keyword lines, new keywords announced by KEYWORD, comments after #,
the fields named between BEGIN_DATA_FORMAT and END_DATA_FORMAT, the sets between BEGIN_DATA and END_DATA, all separated
by tabs or spaces, texts in quotes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from curves.errors import RecordError
from curves.files.base.grids import Grid, lines_of
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import TableDescription, TableFile
from curves.files.imports.ways import read_part, with_remarks
from curves.sensitometry.core.units import DENSITY_KINDS, Channel, DensityKind
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.strip import Strip

FIELD_OF: dict[Channel, str] = {"red": "D_RED", "green": "D_GREEN", "blue": "D_BLUE", "visual": "D_VIS"}
_TOKEN = re.compile(r'"([^"]*)"|(#.*)|([^\s"]+)|(")')
_STATUS = re.compile(r"\bstatus[\s_:-]*([a-z])\b", re.IGNORECASE)


@dataclass
class ExchangeTable:
    """One table of an exchange text.

    Attributes:
        number: its place in the file, from 1.
        keywords: names and values in order; a name may come more than once.
        comments: texts after #.
        fields: the names of the columns.
        rows, lines: the sets, and the line that each begins in.
        oddities: what is odd about the table, each a sentence.
    """

    number: int
    keywords: list[tuple[str, str]] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)
    fields: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    oddities: list[str] = field(default_factory=list)

    def grid(self, name: str) -> Grid:
        """Return the table as a grid, its fields as the first row."""
        return Grid.of(name, [self.fields, *self.rows], [self.lines[0], *self.lines])

    def value(self, keyword: str) -> str:
        """Return a keyword's first value; empty if it is not there."""
        return next((value for name, value in self.keywords if name == keyword), "")


def recognises(file: TableFile) -> bool:
    """Return True if a file is exchange text: one of its lines begins a block of data."""
    return re.search(r"(?:^|[\r\n])[ \t]*BEGIN_DATA(?:_FORMAT)?\b", file.text) is not None


def read(file: TableFile, description: TableDescription) -> StripTable:
    """Return the strip's table that an exchange text holds.

    Raises:
        RecordError: no table of the text can be read, or more than one; says what would decide.
    """
    tables = {str(table.number): table for table in read_exchange(file.text, file.name) if table.rows}
    name = f"{file.name}, table {{}}" if len(tables) > 1 else file.name
    grids = {number: table.grid(name.format(number)) for number, table in tables.items()}
    number, found = read_part(grids, replace(description, steps="down"), file.name, "table")
    table = tables[number]
    density, place = (None, "") if description.density else _kind(table, list(tables.values()), file.name)
    named = f"; the densities are {density}, named in {place}" if density else ""
    date = re.search(r"\b[0-9]{4}-[0-9]{2}-[0-9]{2}\b", table.value("CREATED"))
    found = replace(found, density=density, title=table.value("DESCRIPTOR"), date=date[0] if date else "")
    return with_remarks(found, [f"It is exchange text (ISO 28178){named}."], table.oddities)


def read_exchange(text: str, name: str) -> list[ExchangeTable]:
    """Return the tables of a text.

    Raises:
        RecordError: a block is missing, or a set does not fit its format; says the line.
    """
    parser = _Parser(name)
    for number, line in enumerate(lines_of(text), start=1):
        parser.take(number, line)
    return parser.finish()


def _kind(table: ExchangeTable, tables: Sequence[ExchangeTable], name: str) -> tuple[DensityKind | None, str]:
    """Return the kind of density, and where it is named: in the table itself, else anywhere in the file."""
    for kind in DENSITY_KINDS:
        if table.value("DENSITY_KIND") == kind:
            return kind, "the keyword DENSITY_KIND"
    own = _status([table], name)
    return own if own[0] else _status(tables, name)


def _status(tables: Sequence[ExchangeTable], name: str) -> tuple[DensityKind | None, str]:
    """Return the kind of density that tables name, and where; None if they name none.

    Keywords are looked through first, then comments.

    Raises:
        RecordError: they name two kinds, or a kind that is not used here.
    """
    places = [(f"{keyword} {value}", f"the keyword {keyword}") for t in tables for keyword, value in t.keywords]
    places += [(text, "a comment") for t in tables for text in t.comments]
    found = {m[1].upper(): place for text, place in reversed(places) for m in _STATUS.finditer(text)}
    if len(found) > 1:
        raise RecordError(
            "the file names status " + " and status ".join(sorted(found)),
            where=name,
            needed="one kind of density",
            hint="say which",
            settings=("density=status A", "density=status M"),
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
        where=name,
        needed="status A for film to be looked at, status M for film to be printed, or visual density",
        hint="say what they are, if you know better",
        settings=("density=status A",),
    )


def exchange_text(strip: Strip) -> str:
    """Return a strip's readings as exchange text, one set a row, every digit of them; "" where nothing was read.

    Positions other than step numbers have a field of their own, announced by KEYWORD.
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
    if strip.match is not None:
        lines.append(f"# densities of a scan, {strip.match.sentence}")
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
    """Return a text in quotes; the format has neither quotes within quotes nor unprinted signs."""
    printed = "".join(c if c.isprintable() else " " for c in text.replace('"', "'"))
    return '"' + " ".join(printed.split()) + '"'


def _number(value: float) -> str:
    return '""' if math.isnan(value) else repr(value)


class _Parser:
    """The tables of a text, taken line by line, block by block."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._tables: list[ExchangeTable] = []
        self._block = "header"
        self._begun = 0
        self._begin_table()

    def _begin_table(self) -> None:
        self._now = ExchangeTable(len(self._tables) + 1)
        self._stated: dict[str, int] = {}
        self._pending: list[str] = []
        self._wrapped = False

    def take(self, number: int, line: str) -> None:
        tokens = self._tokens(number, line)
        if self._block == "BEGIN_DATA":
            self._data(number, line, tokens)
        elif self._block == "BEGIN_DATA_FORMAT":
            self._format(tokens)
        elif tokens:
            self._header(number, line, tokens[0], tokens[1:])

    def finish(self) -> list[ExchangeTable]:
        if self._block != "header":
            raise self._error(
                self._begun,
                f"the file ends within {self._block}: it was cut short",
                f"the whole file, to its {self._block.replace('BEGIN', 'END')}",
            )
        return self._tables

    def _tokens(self, number: int, line: str) -> list[str]:
        tokens = []
        for match in _TOKEN.finditer(line):
            if match[2] is not None:
                self._now.comments.append(match[2][1:].strip())
            elif match[4] is not None:
                raise self._error(number, "a quote is opened and not closed")
            else:
                tokens.append(match[1] if match[1] is not None else match[3])
        return tokens

    def _header(self, number: int, line: str, word: str, rest: list[str]) -> None:
        if word == "BEGIN_DATA_FORMAT":
            self._block, self._begun = word, number
            self._format(rest)
        elif word == "BEGIN_DATA":
            if not self._now.fields:
                raise self._error(
                    number,
                    f"table {self._now.number} has data, but no BEGIN_DATA_FORMAT block that names its columns",
                    "BEGIN_DATA_FORMAT, the names of the fields, END_DATA_FORMAT, before the data",
                    "add the block by hand if you know the order of the columns",
                )
            self._block, self._begun = word, number
            self._data(number, line.partition(word)[2], rest)
        elif word in ("NUMBER_OF_SETS", "NUMBER_OF_FIELDS"):
            if rest and re.fullmatch("[0-9]{1,9}", rest[0]):
                self._stated[word] = int(rest[0])
        elif word != "KEYWORD":
            # A keyword that nobody announced is read like any other.
            self._now.keywords.append((word, " ".join(rest)))

    def _format(self, tokens: list[str]) -> None:
        fields = self._now.fields
        for token in tokens:
            if token == "END_DATA_FORMAT":
                self._block = "header"
                stated = self._stated.get("NUMBER_OF_FIELDS", len(fields))
                if stated != len(fields):
                    self._now.oddities.append(
                        f"NUMBER_OF_FIELDS says {stated}, the format names {len(fields)}; the format counts."
                    )
                return
            fields.append(token)

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
            raise self._error(
                number,
                f"the set has {len(self._pending)} values, its format {width} fields",
                "one value for each field",
            )
        if len(self._pending) == width:
            self._now.rows.append(self._pending)
            self._pending = []

    def _end(self, number: int) -> None:
        table, stated = self._now, self._stated.get("NUMBER_OF_SETS")
        if self._pending:
            raise self._error(
                number, f"the last set has {len(self._pending)} values, its format {len(table.fields)} fields"
            )
        if self._wrapped and stated != len(table.rows):
            says = "nothing says how many there are" if stated is None else f"NUMBER_OF_SETS says {stated}"
            raise self._error(
                number, f"sets run over several lines and make {len(table.rows)}, but {says}", "one line for each set"
            )
        if stated not in (None, len(table.rows)):
            table.oddities.append(
                f"NUMBER_OF_SETS says {stated}, but there are {len(table.rows)} sets: is the file whole?"
            )
        self._tables.append(table)
        self._block = "header"
        self._begin_table()

    def _error(self, number: int, what: str, needed: str = "", hint: str = "") -> RecordError:
        return RecordError(what, where=f"{self._name}, line {number}", needed=needed, hint=hint)
