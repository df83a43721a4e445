"""The drawer: a table of a person's filters, one row for each, described in any of four ways."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from curves.errors import RecordError, nearest
from curves.files.base.tables import Table, read_table
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.filters.densities import (
    CC_COLOURS,
    DENSITY_SOURCES,
    DensitySource,
    Filter,
    cc_densities,
    density_of_factor,
    filter_of,
    mired_densities,
)

COLUMNS = (
    "name", "red", "green", "blue", "visual", "source", "uncertainty", "count", "cc", "colour", "mired", "factor",
)  # fmt: skip
_MOST_DENSITY = 5.0
"""Density of a filter through which nothing exposes a film any more: our own choice [density]."""

_LEAST_DENSITY = -0.05
"""A filter of less would give light: errors of reading alone [density]."""

_MOST_MIRED = 1000.0
"""No filter shifts colour temperature by more [mired]."""

_MOST_COUNT = 20
"""Most filters of one kind in a drawer: our own choice."""

_WAYS = "red, green and blue; or cc and colour; or mired; or factor"


def read_drawer(path: Path) -> tuple[Filter, ...]:
    """Read a drawer of filters.

    Columns: name, and in each row one description of the filter: ``red``, ``green``, ``blue`` (densities to the film's
    layers) with a ``source``; ``cc`` and ``colour``; ``mired``; or ``factor``. Optional: ``visual`` (density to the eye
    or the meter), ``uncertainty`` (standard, of each density), ``count`` (number of such filters).

    Args:
        path: the table.

    Raises:
        RecordError: the table cannot be understood; names line and column, and what is needed.
    """
    table = read_table(path, COLUMNS)
    if "name" not in table.header:
        raise RecordError("the column 'name' is missing", where=path.name, needed=f"name, then {_WAYS}")
    drawer = _Drawer(table)
    filters = tuple(drawer.filter(row) for row in range(len(table.rows)))
    if not filters:
        raise RecordError("the drawer is empty", where=path.name, needed="a row for each filter")
    first: dict[str, int] = {}
    for row, one in enumerate(filters):
        if one.name in first:
            raise RecordError(
                f"'{one.name}' is there already, in line {table.lines[first[one.name]]}",
                where=table.where(row, "name"),
                needed="each name once; two of a kind are one row with count 2",
            )
        first[one.name] = row
    return filters


class _Drawer:
    """The rows of a drawer's table, cell by cell."""

    def __init__(self, table: Table) -> None:
        self._table = table
        numeric = [c for c in COLUMNS if c in table.header and c not in ("name", "source", "colour")]
        self._numbers = {column: table.numbers(column) for column in numeric}

    def _text(self, row: int, column: str) -> str:
        return self._table.texts(column)[row]

    def _number(self, row: int, column: str, low: float, high: float, what: str) -> float | None:
        value = self._numbers[column][row] if column in self._numbers else math.nan
        if math.isnan(value):
            return None
        if not low <= value <= high:
            raise RecordError(
                f"{value:g} is not {what}", where=self._table.where(row, column), needed=f"{low:g} to {high:g}"
            )
        return value

    def filter(self, row: int) -> Filter:
        """Return the filter of one row."""
        name = self._text(row, "name")
        if not name:
            raise RecordError("a filter has no name", where=self._table.where(row, "name"), needed="a name of your own")
        if "+" in name:
            raise RecordError(
                f"'{name}' holds a plus sign, which joins the filters of a stack",
                where=self._table.where(row, "name"),
                needed="a name without +",
            )
        layers = [self._number(row, c, _LEAST_DENSITY, _MOST_DENSITY, "the density of a filter") for c in LAYERS]
        cc = self._number(row, "cc", 0.0, 200.0, "a CC value")
        shift = self._number(row, "mired", -_MOST_MIRED, _MOST_MIRED, "a mired shift")
        factor = self._number(row, "factor", 1.0, 10.0**_MOST_DENSITY, "a filter factor")
        visual = self._number(row, "visual", _LEAST_DENSITY, _MOST_DENSITY, "the density of a filter")
        uncertainty = self._number(row, "uncertainty", 0.0, 1.0, "a standard uncertainty of density")
        count = self._count(row)
        self._one_way(row, name, layers, cc, shift, factor)
        source = self._source(row)
        if cc is not None:
            colour = self._colour(row)
            densities = [float(d) for d in cc_densities(cc, colour)]
            source, given = source or "nominal", f"CC{cc:02.0f} {colour}"
        elif shift is not None:
            densities = [float(d) for d in mired_densities(shift)]
            source, given = source or "nominal", f"{shift:+g} mired"
        elif factor is not None:
            densities = [density_of_factor(factor)] * 3
            visual = density_of_factor(factor) if visual is None else visual
            source, given = "factor", f"factor {factor:g}"
        else:
            densities, given = [0.0 if d is None else d for d in layers], ""
            if source is None:
                raise RecordError(
                    f"the source of the densities of '{name}' is not given",
                    where=self._table.where(row, "source") if "source" in self._table.header else self._where(row),
                    needed="source = " + " or ".join(DENSITY_SOURCES[:3]),
                )
        return filter_of(name, densities, source, visual=visual, uncertainty=uncertainty, count=count, given=given)

    def _where(self, row: int) -> str:
        return f"{self._table.places[row]}"

    def _one_way(
        self,
        row: int,
        name: str,
        layers: Sequence[float | None],
        cc: float | None,
        shift: float | None,
        factor: float | None,
    ) -> None:
        """Refuse a filter that is not described in exactly one way."""
        given = [d is not None for d in layers]
        if any(given) and not all(given):
            lost = " and ".join(c for c, there in zip(LAYERS, given, strict=True) if not there)
            raise RecordError(
                f"'{name}' has no density to {lost}",
                where=self._where(row),
                needed="red, green and blue; 0 where the filter passes that light freely",
            )
        ways = [all(given), cc is not None, shift is not None, factor is not None]
        if sum(ways) != 1:
            number = "in no way" if sum(ways) == 0 else "in more than one way"
            raise RecordError(f"'{name}' is described {number}", where=self._where(row), needed=f"one of: {_WAYS}")

    def _colour(self, row: int) -> str:
        colour = self._text(row, "colour").lower()
        if colour not in CC_COLOURS:
            fault = f"'{colour}' is not a colour of CC filters" if colour else "a CC value without its colour"
            raise RecordError(fault, where=self._where(row) + ", colour", needed=", ".join(CC_COLOURS))
        return colour

    def _source(self, row: int) -> DensitySource | None:
        text = self._text(row, "source").lower()
        for source in DENSITY_SOURCES:
            if text == source:
                return source
        if text:
            raise RecordError(
                f"'{text}' is not a source of a filter's densities",
                where=self._table.where(row, "source"),
                needed=" or ".join(DENSITY_SOURCES[:3]),
            )
        return None

    def _count(self, row: int) -> int:
        count = self._numbers["count"][row] if "count" in self._numbers else math.nan
        if math.isnan(count):
            return 1
        if count != int(count) or not 0 <= count <= _MOST_COUNT:
            raise RecordError(
                f"{count:g} is not a number of filters",
                where=self._table.where(row, "count"),
                needed=f"a whole number from 0 (lent out) to {_MOST_COUNT}",
            )
        return int(count)


def stack_of(text: str, filters: Sequence[Filter]) -> tuple[int, ...]:
    """Return the positions in a drawer of the filters that a stack names, joined by plus signs.

    Args:
        text: such as "orange conversion + magenta CC40"; empty, or "none", for no filter.
        filters: the drawer.

    Raises:
        RecordError: the drawer has no such filter, or fewer of it than the stack.
    """
    names = {f.name: i for i, f in enumerate(filters)}
    members: list[int] = []
    for part in (p.strip() for p in text.split("+")):
        if part in ("", "none") and len(text.split("+")) == 1:
            return ()
        if part not in names:
            raise RecordError(
                f"'{part}' is not in the drawer", where="stack", hint=nearest(part, names), settings=("stack",)
            )
        members.append(names[part])
        if members.count(names[part]) > filters[names[part]].count:
            raise RecordError(
                f"the stack has '{part}' {members.count(names[part])} times, the drawer {filters[names[part]].count}",
                where="stack",
                settings=("stack",),
            )
    return tuple(sorted(members))
