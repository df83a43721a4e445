"""Tables from elsewhere: every way a file can be read is tried, and it is read only if one way alone makes sense.

A way is a delimiter, a decimal sign and a direction (steps down or across). What it must hold up to is strict: a row
that names the columns, whole rows under it, numbers in every cell used, densities that are densities. So a file is read
to the numbers that made it, or refused with the option that would decide.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from curves.errors import RecordError
from curves.files.imports.cgats import ExchangeTable, is_exchange_text, read_exchange, status
from curves.files.imports.gridded import AMBIGUOUS, Decimal, How, Imported, Unfit, read_grid
from curves.files.imports.grids import DELIMITERS, Grid, decoded, delimited, sheets
from curves.sensitometry.core.units import DENSITY_KINDS, DensityKind

Way = tuple[Grid, Decimal, str]
"""A grid, its decimal sign, and how its cells were parted."""


def import_table(path: Path, how: How) -> Imported:
    """Read a table from elsewhere.

    Args:
        path: delimited text, a workbook (.xlsx), or exchange text of ISO 28178.
        how: what the person says of it.

    Raises:
        RecordError: it cannot be read, or in more than one way; says what would decide.
    """
    if path.suffix.lower() in (".xlsx", ".xlsm"):
        return _one_part({name: [grid] for name, grid in sheets(path)}, how, "--sheet", path)[1]
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RecordError(f"it cannot be read: {error.strerror}", where=str(path), hint="check the name") from error
    text, encoding = decoded(content, path.name)
    if is_exchange_text(text):
        return _exchange(text, path, how)
    try:
        found = _one_way(_ways(text, path.name, how), how)
    except Unfit as unfit:
        raise unfit.error from None
    return _noting(found, () if encoding == "UTF-8" else (f"The text is {encoding}.",))


def _noting(found: Imported, more: Sequence[str], doubtful: Sequence[str] = ()) -> Imported:
    return replace(found, understood=(*more, *found.understood), doubtful=(*doubtful, *found.doubtful))


def _exchange(text: str, path: Path, how: How) -> Imported:
    """Read exchange text: the one table of it that holds densities."""
    tables = [t for t in read_exchange(text, path.name) if t.rows]
    many = len(tables) > 1
    grids = {str(t.number): [t.grid(f"{path.name}, table {t.number}" if many else path.name)] for t in tables}
    number, found = _one_part(grids, replace(how, direction="down"), "--table", path)
    table = next(t for t in tables if str(t.number) == number)
    kind, place = _kind(table, tables, how)
    named = f"It is exchange text (ISO 28178){f'; the densities are {kind}, named in {place}' if kind else ''}."
    title = table.value("DESCRIPTOR")
    date = re.search(r"\b[0-9]{4}-[0-9]{2}-[0-9]{2}\b", table.value("CREATED"))
    read = replace(found, density=kind, title=title, date=date[0] if date else "")
    return _noting(read, [named], table.said)


def _kind(table: ExchangeTable, tables: Sequence[ExchangeTable], how: How) -> tuple[DensityKind | None, str]:
    """Return the kind of density and where it is named: in the table itself, else anywhere in the file."""
    if how.density is not None:
        return None, ""
    for kind in DENSITY_KINDS:
        if table.value("DENSITY_KIND") == kind:
            return kind, "the keyword DENSITY_KIND"
    own = status([table])
    return own if own[0] else status(tables)


def _one_part(parts: Mapping[str, Sequence[Grid]], how: How, option: str, path: Path) -> tuple[str, Imported]:
    """Return the name of the one sheet or table that holds a strip, and what it was understood to hold."""
    if how.part is not None:
        if how.part not in parts:
            raise RecordError(
                f"there is no '{how.part}'",
                where=path.name,
                needed=f"{option} with one of: {', '.join(parts) or 'none'}",
            )
        parts = {how.part: parts[how.part]}
    found: dict[str, Imported] = {}
    unfits: list[Unfit] = []
    for name, grids in parts.items():
        try:
            found[name] = _one_way(itertools.chain.from_iterable(_turns(g, how) for g in grids), how)
        except Unfit as unfit:
            unfits.append(unfit)
    if len(found) > 1:
        raise RecordError(
            f"{len(found)} parts of it hold readings: {', '.join(found)}", where=path.name, hint=f"{option} says which"
        )
    # A part that names columns and then cannot be read is not passed over in favour of another.
    failed = [u for u in unfits if u.stage > 0]
    if failed or not found:
        if not unfits:
            raise RecordError(
                "it holds no table", where=path.name, needed="a row that names columns, and rows under it"
            )
        raise max(failed or unfits, key=lambda u: u.stage).error
    name, imported = next(iter(found.items()))
    kind = "sheet" if option == "--sheet" else "table"
    return name, _noting(imported, [f"It is read from {kind} {name}, one of {len(parts)}."] if len(parts) > 1 else [])


def _ways(text: str, name: str, how: How) -> Iterator[Way | Unfit]:
    """Yield the ways in which delimited text can be read, and those that fail at once."""
    for delimiter, sign in DELIMITERS.items():
        if how.delimiter not in (None, delimiter) or (sign and sign not in text):
            continue
        try:
            grid = delimited(text, delimiter, name)
        except RecordError as error:
            yield Unfit(0, error)
            continue
        for way in _turns(grid, how):
            yield (*way[:2], f"cells are parted by {delimiter}, " if delimiter != "none" else "there is one column, ")


def _turns(grid: Grid, how: How) -> Iterator[Way]:
    cells = [c for row in grid.rows for c in row if isinstance(c, str)]
    likelier = sum("," in c for c in cells) > sum("." in c for c in cells)
    both: tuple[Decimal, ...] = ("comma", "point") if likelier else ("point", "comma")
    decimals = both if how.decimal is None else (how.decimal,)
    for direction, decimal in itertools.product(("down", "across"), decimals):
        if how.direction in (None, direction):
            yield (grid if direction == "down" else grid.turned()), decimal, ""


def _one_way(ways: Iterator[Way | Unfit], how: How) -> Imported:
    """Return what a table holds if there is one way of reading it."""
    found: dict[tuple[object, ...], Imported] = {}
    unfits: list[Unfit] = []
    name = ""
    for way in ways:
        if isinstance(way, Unfit):
            unfits.append(way)
            continue
        name = way[0].name
        try:
            one = read_grid(*way, how)
            found.setdefault(one.numbers(), one)
        except Unfit as unfit:
            unfits.append(unfit)
    if len(found) > 1:
        first, second = list(found.values())[:2]
        raise Unfit(
            AMBIGUOUS,
            RecordError(
                f"it can be read in {len(found)} ways: {_brief(first)}; or {_brief(second)}",
                where=name,
                hint="say which with --delimiter, --decimal or --steps",
            ),
        )
    if found:
        return next(iter(found.values()))
    if not unfits:
        raise Unfit(
            0, RecordError("it holds no table", where=name, needed="a row that names columns, and rows under it")
        )
    raise max(unfits, key=lambda u: u.stage)


def _brief(found: Imported) -> str:
    """Return the first row as it was read."""
    cells = ", ".join(f"{c} {v[0]:g}" for c, v in found.readings.items())
    return f"{found.column} {found.positions[0]:g} with {cells}"
