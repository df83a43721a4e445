"""Samples picked by name, such as the grey scale of a target: from one to another, as steps."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curves.errors import RecordError


def pick(names: Sequence[str], wanted: str, where: str) -> tuple[list[int], tuple[float, ...]]:
    """Return which rows a range of samples are, and the step of each.

    Where both ends are a word and a number ("GS0:GS23"), the numbers between are looked up by name, wherever the rows
    stand, and either way round; else the rows from the one to the other are taken as they stand. A sample that is there
    several times is a step with repeats.

    Args:
        names: the sample of each row.
        wanted: first and last, parted by a colon; the first becomes step 1.
        where: file, for errors.

    Raises:
        RecordError: it is no range, or a sample of it is not there.
    """
    first, colon, last = (part.strip() for part in wanted.partition(":"))
    if not (first and colon and last):
        raise RecordError(
            f"'{wanted}' is no range of samples", where="--samples", needed="first:last, such as GS0:GS23"
        )
    ends = _parted(first), _parted(last)
    if ends[0] is None or ends[1] is None or ends[0][0] != ends[1][0]:
        return _as_they_stand(names, first, last, where)
    (prefix, begin), (_, end) = ends[0], ends[1]
    numbers = range(begin, end + 1) if begin <= end else range(begin, end - 1, -1)
    step_of = {(prefix, number): step for step, number in enumerate(numbers, start=1)}
    found = [(row, step_of[key]) for row, name in enumerate(names) if (key := _parted(name)) in step_of]
    there = {step for _, step in found}
    missing = [f"{prefix}{number}" for (prefix, number), step in step_of.items() if step not in there]
    if missing:
        raise RecordError(
            f"sample {missing[0]} is not there{f', nor {len(missing) - 1} more' if len(missing) > 1 else ''}",
            where=where,
            needed=f"every sample from {first} to {last}",
        )
    found.sort(key=lambda pair: pair[1])
    return [row for row, _ in found], tuple(float(step) for _, step in found)


def _parted(name: str) -> tuple[str, int] | None:
    """Return a name as a word and a number; None if it is not of that form."""
    match = re.fullmatch(r"(.*?)([0-9]{1,6})", name.strip(), re.ASCII)
    return (match[1].strip().casefold(), int(match[2])) if match else None


def _as_they_stand(names: Sequence[str], first: str, last: str, where: str) -> tuple[list[int], tuple[float, ...]]:
    ends = []
    for name in (first, last):
        rows = [row for row, there in enumerate(names) if there.casefold() == name.casefold()]
        if len(rows) != 1:
            raise RecordError(f"sample {name} is there {len(rows)} times", where=where, needed="it once")
        ends.append(rows[0])
    rows = list(range(ends[0], ends[1] + 1)) if ends[0] <= ends[1] else list(range(ends[0], ends[1] - 1, -1))
    return rows, tuple(float(step) for step in range(1, len(rows) + 1))
