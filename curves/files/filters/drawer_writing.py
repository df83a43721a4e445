"""Writing a measured filter into the drawer: the filter's row is written, and everything else stays as it is."""

from __future__ import annotations

import codecs
import contextlib
import csv
import io
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from curves.errors import OutputError, RecordError
from curves.files.base.grids import decode, lines_of, read_content
from curves.files.base.locking import locked
from curves.files.base.tables import Table, read_table
from curves.files.base.writing import write_atomically
from curves.files.filters.drawer import COLUMNS, read_drawer
from curves.sensitometry.filters.densities import Filter

_WRITTEN = ("name", "red", "green", "blue", "visual", "source", "uncertainty")
_CODECS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
    *((b"", codec) for codec in ("utf-8", "utf-16-le", "utf-16-be", "cp1252")),
)
"""Byte order marks and encodings of the texts that are read."""


def check_filter_name(name: str) -> None:
    """Refuse a name under which a filter could not be found in the drawer again.

    Raises:
        RecordError: the name is blank, holds a plus sign or a sign that is not printed, or has blanks at its ends.
    """
    if not name.strip():
        fault = "the filter has no name"
    elif "+" in name:
        fault = f"'{name}' holds a plus sign, which joins the filters of a stack"
    elif not name.isprintable() or name != name.strip():
        fault = f"{name!r} holds a line end, a control character or a blank at an end"
    else:
        return
    raise RecordError(fault, where="name", needed="a name for the drawer, without +", settings=("name",))


def keep_filter(path: Path, one: Filter) -> str | None:
    """Write a measured filter into a drawer: in place of the row with its name, else below the other rows.

    Other rows, comments and the delimiter stay as they are; missing columns are added; a missing drawer is made.

    Args:
        path: the table.
        one: the filter; its densities are written.

    Returns:
        The row that was replaced, or None.

    Raises:
        RecordError: the file is not a drawer, or the filter's name cannot stand in one.
        OutputError: the drawer could not be written, or would not be read back as it was meant.
    """
    check_filter_name(one.name)
    path = Path(os.path.realpath(path))
    if not path.parent.is_dir():
        raise OutputError("there is no such folder", where=str(path.parent), hint="make it, or name another drawer")
    # Two runs into one drawer, one after the other: each keeps the row of the other.
    with locked(path.with_name(f".{path.name}.lock")):
        return _kept(path, one)


def _kept(path: Path, one: Filter) -> str | None:
    """Write a filter into the drawer, which no other run writes meanwhile; return the row that was replaced."""
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
        text = "".join(_line(row, ",") + "\n" for row in (_WRITTEN, list(cells.values())))
        write_atomically(path, text, lambda new: _check_kept(new, one, ()))
        return None
    before = read_drawer(path)
    table = read_table(path, COLUMNS)
    content = read_content(path)
    mark, codec, text = _text_of(content, path.name)
    lines = [line.rstrip("\r\n") for line in lines_of(text)]
    ends = [line[len(bare) :] for line, bare in zip(lines_of(text), lines, strict=True)]
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
        ends[-1] = ends[-1] or ends[0] or "\n"
        lines.append(_row(cells, table, added, delimiter, commas))
        ends.append(ends[0])
    ends[-1] = ends[-1] or ends[0] or "\n"
    text = "".join(line + end for line, end in zip(lines, ends, strict=True))
    write_atomically(path, mark + text.encode(codec), lambda new: _check_kept(new, one, before))
    return replaced


def _text_of(content: bytes, name: str) -> tuple[bytes, str, str]:
    """Return the byte order mark, the encoding and the text of a drawer, which give its content again."""
    text, _ = decode(content, name)
    for mark, codec in _CODECS:
        with contextlib.suppress(UnicodeEncodeError):
            if mark + text.encode(codec) == content:
                return mark, codec, text
    raise RecordError("its encoding is not known", where=name, hint="save it as plain text (CSV, UTF-8)")


def _check_kept(path: Path, one: Filter, before: Sequence[Filter]) -> None:
    """Refuse a drawer that does not hold the filter as measured, and the other filters as before."""
    after = {each.name: each for each in read_drawer(path)}
    new = after.pop(one.name, None)
    others = {each.name: each for each in before if each.name != one.name}
    if (
        new is None
        or after != others
        or max(abs(a - b) for a, b in zip(new.densities, one.densities, strict=True)) > 6e-4
    ):
        raise RecordError("a filter would be lost or changed", where=path.name)


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
    writer = csv.writer(text, delimiter=delimiter, lineterminator="")
    # A line that begins with # is a comment, so a row whose first cell does is quoted.
    if cells[0].startswith("#"):
        writer = csv.writer(text, delimiter=delimiter, lineterminator="", quoting=csv.QUOTE_ALL)
    writer.writerow(cells)
    return text.getvalue()
