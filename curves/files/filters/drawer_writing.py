"""Writing a measured filter into the drawer: the filter's row is written, and everything else stays as it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

from curves.errors import OutputError, RecordError
from curves.files.base.grids import lines_of, read_content, text_and_codec
from curves.files.base.tables import Table, read_table
from curves.files.base.writing import write_atomically
from curves.files.filters.drawer import COLUMNS, read_drawer
from curves.sensitometry.filters.densities import Filter

_WRITTEN = ("name", "red", "green", "blue", "visual", "source", "uncertainty")


def keep_filter(path: Path, one: Filter) -> str | None:
    """Write a measured filter into a drawer: in place of the row with its name, else below the other rows.

    Other rows, comments and the delimiter stay as they are; missing columns are added; a missing drawer is made.

    Args:
        path: the table.
        one: the filter; its densities are written.

    Returns:
        The row that was replaced, or None.

    Raises:
        RecordError: the file is not a drawer.
        OutputError: the drawer could not be written.
    """
    cells = {
        "name": one.name,
        "red": f"{one.red:.3f}",
        "green": f"{one.green:.3f}",
        "blue": f"{one.blue:.3f}",
        "visual": "" if one.visual_estimated else f"{one.visual:.3f}",
        "source": one.source,
        "uncertainty": f"{one.uncertainty:.3f}",
    }
    if not path.exists():
        if not path.parent.is_dir():
            raise OutputError("there is no such folder", where=str(path.parent), hint="make it, or name another drawer")
        text = "".join(_line(row, ",") + "\n" for row in (_WRITTEN, list(cells.values())))
        write_atomically(path, text, check=partial(_holds, one))
        return None
    read_drawer(path)
    table = read_table(path, COLUMNS)
    content = read_content(path)
    whole, encoding = text_and_codec(content, path.name)
    ending = "\r\n" if "\r\n" in whole else "\n"
    lines = [line.rstrip("\r\n") for line in lines_of(whole)]
    delimiter = table.delimiter
    added = [c for c in _WRITTEN if c not in table.header]
    header = next(n for n, line in enumerate(lines) if _is_data(line))
    lines[header] += "".join(delimiter + c for c in added)
    for number in table.lines:
        lines[number - 1] += delimiter * len(added)
    commas = delimiter != "," and any("," in cell for column in table.header for cell in table.texts(column))
    names = table.texts("name")
    replaced = None
    if one.name in names:
        at = names.index(one.name)
        replaced = lines[table.lines[at] - 1]
        lines[table.lines[at] - 1] = _row({**cells, "count": table.texts("count")[at]}, table, added, delimiter, commas)
    else:
        lines.append(_row(cells, table, added, delimiter, commas))
    write_atomically(path, ending.join(lines) + ending, encoding, partial(_holds, one))
    return replaced


def _holds(one: Filter, path: Path) -> None:
    """Read a drawer and refuse it if the drawer does not hold a filter as it is meant.

    Raises:
        OutputError: the filter's name or densities do not come back.
    """
    meant = (one.name, *(round(d, 3) for d in (one.red, one.green, one.blue)))
    try:
        found = [(f.name, *(round(d, 3) for d in (f.red, f.green, f.blue))) for f in read_drawer(path)]
    except RecordError:
        found = []
    if meant not in found:
        raise OutputError(
            f"{one.name!r} cannot stand in a drawer: it would not be read back",
            where="name",
            needed="letters, digits, blanks and signs on one line, with no # in front",
        )


def _row(cells: Mapping[str, str], table: Table, added: Sequence[str], delimiter: str, commas: bool) -> str:
    """Return a row in the order of the header, its numbers with the table's decimal sign."""
    row = []
    for column in (*table.header, *added):
        cell = cells.get(column, "")
        row.append(cell.replace(".", ",") if commas and column not in ("name", "source") else cell)
    return _line(row, delimiter)


def _is_data(line: str) -> bool:
    return bool(line.strip(" \t;,")) and not line.lstrip().startswith("#")


def _line(cells: Sequence[str], delimiter: str) -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="").writerow(cells)
    return text.getvalue()
