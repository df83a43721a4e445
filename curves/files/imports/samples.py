"""The rows of a table that are the steps of the wedge: by number, by the names of samples, or by their order."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from curves.errors import RecordError
from curves.files.base.tables import Table
from curves.files.imports.readers import TableDescription
from curves.sensitometry.core.units import CHANNELS, FEWEST_STEPS
from curves.sensitometry.strip.exposure import POSITIONS

_GREY = re.compile(r"gs|gr[ae]y.*|grau.*|gris.*|grigio.*|wedge.*|keil.*|step.*|stufe.*|palier.*")
"""Words that name the samples of a grey scale or of a wedge."""

_LONGEST = 24
"""Longest name of a sample that a message shows whole [unitless]."""


def listed_by_step(table: Table, description: TableDescription) -> tuple[Table, list[str]]:
    """Return a table whose rows are listed by a position, and sentences on how the position was found.

    Args:
        table: columns of a position, of samples or of neither, and channels.
        description: what the person says.

    Raises:
        RecordError: the steps cannot be found, or not without a word of the person; says which would decide.
    """
    samples, count = description.samples, len(table.rows)
    numbers, names = table.texts("sample"), table.texts("name")
    if samples is not None:
        steps = _picked_from([numbers, names, table.texts("step")], samples, table.name)
        remark = f"Samples {samples} are steps 1 to {max(step for _, step in steps)}."
    elif any(p in table.header for p in POSITIONS):
        return table, []
    elif "sample" in table.header:
        grey = next((found for found in map(_grey_scale, (names, numbers)) if found), "")
        numbered = all(re.fullmatch("[0-9]{1,6}", name) and int(name) > 0 for name in numbers)
        if grey or not numbered:
            raise RecordError(
                f"the samples have names, from {_first(names, numbers)} to {_last(names, numbers)}",
                where=table.name,
                needed="which of them are the steps of the wedge, from its clear end",
                hint=f"take the grey scale {grey}" if grey else "",
                settings=(f"samples={grey or _whole_run(numbers)}",),
            )
        steps = [(row, int(name)) for row, name in enumerate(numbers)]
        remark = "Sample numbers are taken as steps."
    else:
        end = description.first_end
        steps = list(enumerate(range(1, count + 1) if end == "clear" else range(count, 0, -1)))
        remark = f"No column numbers the steps: the {count} rows are taken in order, from the {end} end."
    channels = [(c, table.header.index(c)) for c in CHANNELS if c in table.header]
    rows = tuple((float(step), *(table.rows[row][at] for _, at in channels)) for row, step in steps)
    places = tuple(table.places[row] for row, _ in steps)
    return replace(table, header=("step", *(c for c, _ in channels)), rows=rows, places=places), [remark]


def _first(names: Sequence[str], numbers: Sequence[str]) -> str:
    return _short(names[0] if any(names) else numbers[0])


def _last(names: Sequence[str], numbers: Sequence[str]) -> str:
    return _short(names[-1] if any(names) else numbers[-1])


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST else f"{name[:_LONGEST]}..."


def _whole_run(names: Sequence[str]) -> str:
    """Return all samples as a range; a pattern where the names are too long to type."""
    longest = max(len(names[0]), len(names[-1]))
    return "FIRST:LAST" if longest > _LONGEST else f"{names[0]}:{names[-1]}"


def _grey_scale(names: Iterable[str]) -> str:
    """Return the range of the grey scale among samples, such as "GS0:GS23"; empty where there is none."""
    found: dict[str, dict[int, str]] = {}
    for name in names:
        parts = _word_and_number(name)
        if parts is not None and _GREY.fullmatch(parts[0].strip(" _-")):
            found.setdefault(parts[0], {})[parts[1]] = name
    runs = [run for run in found.values() if len(run) >= FEWEST_STEPS]
    longest = max(runs, key=len, default=None)
    return "" if longest is None else f"{longest[min(longest)]}:{longest[max(longest)]}"


def _picked_from(lists: Sequence[Sequence[str]], samples: str, where: str) -> list[tuple[int, int]]:
    """Return the rows that a range of samples are, from the first list of names that has them all.

    Args:
        lists: the identity of each row, its name and its step; a list of empty texts where there is no such column.
        samples, where: as for `_picked`.

    Raises:
        RecordError: no list has all of them, or no column names samples.
    """
    errors = []
    for names in filter(any, lists):
        try:
            return _picked(names, samples, where)
        except RecordError as error:
            errors.append(error)
    if errors:
        raise errors[-1]
    raise RecordError(
        "no column names the samples", where=where, hint="say which column does", settings=("columns=sample=NAME",)
    )


def _picked(names: Sequence[str], samples: str, where: str) -> list[tuple[int, int]]:
    """Return the rows that a range of samples are, each with its step; the first sample is step 1.

    Where both ends are a word and a number ("GS0:GS23"), the numbers between are looked up by name, wherever the rows
    stand, and either way round; else the rows from the one to the other are taken as they stand. A sample that is there
    several times is a step with repeats.

    Args:
        names: the sample of each row.
        samples: first and last, separated by a colon.
        where: file, for errors.

    Raises:
        RecordError: the text is not a range, or a sample of the range is not there.
    """
    first, colon, last = (part.strip() for part in samples.partition(":"))
    if not (first and colon and last):
        raise RecordError(
            f"'{samples}' is not a range of samples",
            where="samples",
            needed="first:last, such as GS0:GS23",
            settings=("samples",),
        )
    begin, end = _word_and_number(first), _word_and_number(last)
    if begin is None or end is None or begin[0] != end[0]:
        ends = [_only_row(names, name, where) for name in (first, last)]
        return [(row, step) for step, row in enumerate(_span(*ends), start=1)]
    step_of = {(begin[0], number): step for step, number in enumerate(_span(begin[1], end[1]), start=1)}
    found = [(row, step_of[key]) for row, name in enumerate(names) if (key := _word_and_number(name)) in step_of]
    there = {step for _, step in found}
    missing = [f"{word}{number}" for (word, number), step in step_of.items() if step not in there]
    if missing:
        raise RecordError(
            f"sample {missing[0]} is not there{f', nor {len(missing) - 1} more' if len(missing) > 1 else ''}",
            where=where,
            needed=f"every sample from {first} to {last}",
        )
    return sorted(found, key=lambda pair: pair[1])


def _only_row(names: Sequence[str], name: str, where: str) -> int:
    """Return the one row of a sample."""
    rows = [row for row, there in enumerate(names) if there.casefold() == name.casefold()]
    if len(rows) != 1:
        raise RecordError(f"sample {name} is there {len(rows)} times", where=where, needed="it once")
    return rows[0]


def _span(begin: int, end: int) -> range:
    """Return the whole numbers from one to another, either way round."""
    return range(begin, end + 1) if begin <= end else range(begin, end - 1, -1)


def _word_and_number(name: str) -> tuple[str, int] | None:
    """Return a name as a word and a number; None if it is not of that form."""
    match = re.fullmatch(r"(.*?)([0-9]{1,6})", name.strip(), re.ASCII)
    return (match[1].strip().casefold(), int(match[2])) if match else None
