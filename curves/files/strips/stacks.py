"""Stacks of filters: the frames of a bracket that were exposed behind each, and the filters that a record describes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal, TypeVar

from curves.errors import EmptyRecordError, RecordError, nearest
from curves.files.base.fields import Section
from curves.files.base.strip_table import NO_STACK, FrameColumns, StripTable
from curves.sensitometry.core.values import STOPS
from curves.sensitometry.strip.metering import FACTOR, FilterUsed

Cell = TypeVar("Cell")


def stacks_in(table: StripTable) -> list[str]:
    """Return the stacks of the frames that were judged or read, in the order of the table; empty text: no filter.

    Nothing is returned where the table has no column of stacks.
    """
    used = _used(table)
    return list(dict.fromkeys(stack for stack, row in zip(table.of_frames.stacks, used, strict=False) if row))


def of_stack(table: StripTable, stack: str | None) -> tuple[StripTable, str | None]:
    """Return the rows of one stack of a table, and the stack; None where the table has no column of stacks.

    Raises:
        RecordError: there are several stacks, and none was chosen; the chosen one is not there; or nothing was judged
            or read.
    """
    if not table.of_frames.stacks:
        return table, None
    there = stacks_in(table)
    if not there:
        raise blank(table)
    names = [name or NO_STACK for name in there]
    if stack is None and len(there) > 1:
        raise RecordError(
            f"the frames were exposed behind {len(there)} stacks, which do not form one curve: {', '.join(names)}",
            where=table.name,
            needed=f'the stack that is meant, in [exposure] of the record, such as stack = "{names[0]}"',
        )
    known = {name.casefold(): name for name in there}
    chosen = there[0] if stack is None else known.get("" if stack.casefold() == NO_STACK else stack.casefold())
    if chosen is None:
        raise RecordError(f"no frame was exposed behind '{stack}'", where=table.name, hint=nearest(str(stack), names))
    rows = [
        row
        for row, used in enumerate(_used(table))
        if used and table.of_frames.stacks[row].casefold() == chosen.casefold()
    ]
    return _only(table, rows), chosen


def blank(table: StripTable) -> EmptyRecordError:
    """Return the error of a table in which nothing is filled in yet."""
    judged = bool(table.of_frames.judgements)
    return EmptyRecordError(
        f"its {len(table.positions)} {'frames' if judged else 'rows'} are still to be filled in: none is"
        f" {'judged or ' if judged else ''}read yet",
        where=table.name,
        needed="too dark, right or too light in the column judgement, or densities" if judged else "densities",
    )


def _used(table: StripTable) -> list[bool]:
    """Return True for each row that was judged or read."""
    judgements = table.of_frames.judgements or (None,) * len(table.positions)
    read = zip(*table.readings.values(), strict=True) if table.readings else [()] * len(table.positions)
    return [
        judgement is not None or not all(map(math.isnan, values))
        for judgement, values in zip(judgements, read, strict=True)
    ]


def _only(table: StripTable, rows: Sequence[int]) -> StripTable:
    """Return some rows of a table."""

    def some(column: Sequence[Cell]) -> tuple[Cell, ...]:
        return tuple(column[row] for row in rows) if column else ()

    columns = table.of_frames
    return replace(
        table,
        positions=some(table.positions),
        readings={channel: some(values) for channel, values in table.readings.items()},
        places=some(table.places),
        of_frames=FrameColumns(some(columns.numbers), some(columns.stacks), some(columns.judgements)),
    )


def filters_described(record: Section, path: Path) -> tuple[FilterUsed, ...]:
    """Return the filters that a record describes.

    Raises:
        RecordError: a section [[filter]] cannot be understood.
    """
    listed = record.take("filter") or []
    if not isinstance(listed, list) or not all(isinstance(content, dict) for content in listed):
        raise RecordError(
            "'filter' is not a list", where=path.name, needed="a section headed [[filter]] for each filter"
        )
    found = []
    for number, content in enumerate(listed, start=1):
        section = Section(content, f"{path.name}, [[filter]] number {number}")
        section.only("name", "metered", "factor", "uncertainty_stops")
        name = section.text("name", needed='what the filter is called, such as name = "orange conversion"')
        metered: Literal["through", "without"] = section.word("metered", ("through", "without"))
        factor = section.number("factor", FACTOR)
        found.append(FilterUsed(name, metered, factor, section.number("uncertainty_stops", STOPS)))
    return tuple(found)


def filters_of(stack: str, filters: tuple[FilterUsed, ...], name: str) -> tuple[FilterUsed, ...]:
    """Return the filters of a stack that a table names, such as "orange + CC10M", as the record describes them.

    Raises:
        RecordError: the record does not describe a filter of the stack.
    """
    described = {used.name.casefold(): used for used in filters}
    found = []
    for member in filter(None, (part.strip() for part in stack.split("+"))):
        if member.casefold() not in described:
            raise RecordError(
                f"frames were exposed behind '{member}', which the record does not describe",
                where=name,
                needed=f'a section [[filter]] with name = "{member}" and metered = "through" or "without"',
            )
        found.append(described[member.casefold()])
    return tuple(found)
