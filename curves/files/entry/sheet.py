"""The sheet of an entry: the lines to be typed, the readings so far, and what can be taken back.

A sheet never changes: whatever is done returns the sheet after it, which remembers what stood before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

from curves.files.entry.input import line_text
from curves.files.strips.readings import csv_text
from curves.sensitometry.core.units import Channel
from curves.sensitometry.strip.exposure import Position

End = Literal["clear", "dark"]
Grouping = Literal["step", "channel"]
Densities = Mapping[Channel, float]
StepRows = tuple[Densities, ...]
"""The rows that a table has of one step: densities by channel, repeats after the first reading [density]."""

PATCHES = {
    "base": "the support alone, no image and no fog",
    "unexposed": "film that saw no light, processed",
    "fully_exposed": "film that saw plenty of light, processed",
}
"""The patches that may be read beside the wedge, and what each is."""


@dataclass(frozen=True)
class Line:
    """One line of the sheet: a step, numbered from 1, and the channels whose densities are typed on it."""

    step: int
    channels: tuple[Channel, ...]


@dataclass(frozen=True)
class Plan:
    """A plan of the reading: which channels and steps, in which order.

    Attributes:
        channels: in the order in which they are typed.
        positions: what the readings are listed by, of every step, step 1 first.
        column: what these numbers are.
        first_end: the end of the wedge that is read first; its clear end is step 1.
        by: all channels of a step on one line, or the whole strip channel by channel.
    """

    channels: tuple[Channel, ...]
    positions: tuple[float, ...]
    column: Position = "step"
    first_end: End = "clear"
    by: Grouping = "step"

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every line of the sheet, in the order of reading."""
        steps = range(1, len(self.positions) + 1)[:: 1 if self.first_end == "clear" else -1]
        groups = [self.channels] if self.by == "step" else [(c,) for c in self.channels]
        return tuple(Line(step, group) for group in groups for step in steps)


@dataclass(frozen=True)
class Change:
    """One thing done, in words, and what stood before it.

    Attributes:
        what: such as "step 6, 0.40 0.62 0.89".
        before: fields of the sheet that it changed, other than the rows.
        line: number of the line whose rows it changed; None if it changed none.
        rows: the rows of that line's step before [density].
    """

    what: str
    before: Mapping[str, Any]
    line: int | None = None
    rows: StepRows = ()


@dataclass(frozen=True)
class Sheet:
    """The sheet of one strip; its lines are numbered from 0 in the order of reading.

    Attributes:
        plan: how the strip is read.
        rows: the readings by step.
        at: the line to be typed now; None when every line is read or left out.
        left_out: lines that are not to be typed.
        doubtful: lines whose reading was questioned and kept.
        patches: densities by patch; empty for a patch that was not read [density].
        notes: None before the person was asked for them.
        no_point: whether the instrument shows no decimal point; None before the person was asked.
        changes: what can be taken back, oldest first.
    """

    plan: Plan
    rows: Mapping[int, StepRows] = field(default_factory=dict)
    at: int | None = 0
    left_out: tuple[int, ...] = ()
    doubtful: tuple[int, ...] = ()
    patches: Mapping[str, Densities] = field(default_factory=dict)
    notes: str | None = None
    no_point: bool | None = None
    changes: tuple[Change, ...] = ()

    @property
    def next(self) -> Line | None:
        """The line to be typed now; None when every line is read or left out."""
        return None if self.at is None else self.plan.lines[self.at]

    @property
    def last(self) -> Line | None:
        """The line read last; None before the first."""
        typed = [self.plan.lines[c.line] for c in self.changes if c.line is not None]
        return next((line for line in reversed(typed) if self.is_read(line)), None)

    @property
    def lines_read(self) -> int:
        """Number of lines that have a reading [unitless]."""
        return sum(self.is_read(line) for line in self.plan.lines)

    @property
    def lines_open(self) -> tuple[int, ...]:
        """The lines that are neither read nor left out."""
        lines = enumerate(self.plan.lines)
        return tuple(n for n, line in lines if n not in self.left_out and not self.is_read(line))

    def is_read(self, line: Line) -> bool:
        """Return True if a line has a reading of any of its channels."""
        return any(c in row for row in self.rows.get(line.step, ()) for c in line.channels)

    def densities(self, *, trusted: bool = False) -> dict[Channel, dict[int, float]]:
        """Return the first readings by channel and step; ``trusted`` leaves out those that are doubtful [density]."""
        doubtful = [self.plan.lines[n] for n in self.doubtful] if trusted else []
        passed = {(line.step, c) for line in doubtful for c in line.channels}
        found: dict[Channel, dict[int, float]] = {c: {} for c in self.plan.channels}
        for step, row in self.table_rows():
            for channel, density in row.items():
                if (step, channel) not in passed:
                    found.setdefault(channel, {}).setdefault(step, density)
        return found

    def table_rows(self) -> list[tuple[int, Densities]]:
        """Return the rows of the table: step and densities, step 1 first."""
        return [(step, row) for step in sorted(self.rows) for row in self.rows[step]]

    def positioned_rows(self) -> list[tuple[float, Densities]]:
        """Return the rows of the table: what lists them, and densities, step 1 first."""
        return [(self.plan.positions[step - 1], row) for step, row in self.table_rows()]

    def table_text(self) -> str:
        """Return the table (CSV)."""
        return csv_text(self.plan.column, self.positioned_rows(), self.plan.channels)

    def enter(self, line: Line, densities: Densities, *, doubtful: bool = False) -> Sheet:
        """Return the sheet with a line's first reading, in place of an earlier first reading."""
        number, (head, *repeats) = self._number(line), self.rows.get(line.step) or ({},)
        kept = {c: d for c, d in head.items() if c not in line.channels}
        what = f"step {line.step}, {_in_words(line.channels, densities)}"
        marks = {"doubtful": (*_without(self.doubtful, number), *([number] if doubtful else []))}
        marks["left_out"] = _without(self.left_out, number)
        return self._changed(what, number, ({**kept, **densities}, *repeats), **marks)._past(number)

    def repeat(self, line: Line, densities: Densities) -> Sheet:
        """Return the sheet with a further reading of a line that has one."""
        what = f"a repeat of step {line.step}, {_in_words(line.channels, densities)}"
        return self._changed(what, self._number(line), (*self.rows[line.step], densities))

    def leave_out(self, line: Line) -> Sheet:
        """Return the sheet with a line left out, and without its readings."""
        number = self._number(line)
        rows = [{c: d for c, d in row.items() if c not in line.channels} for row in self.rows.get(line.step, ())]
        out, what = (*_without(self.left_out, number), number), f"leaving out step {line.step}"
        return self._changed(what, number, tuple(row for row in rows if row), left_out=out)._past(number)

    def go_to(self, line: Line) -> Sheet:
        """Return the sheet with a line to be typed next, read or not."""
        return self._changed(f"going to step {line.step}", at=self._number(line))

    def keep_line(self, line: Line) -> Sheet:
        """Return the sheet with a line's reading kept, and the next open line after it to be typed."""
        return self._changed(f"keeping step {line.step}")._past(self._number(line))

    def line_before(self, line: Line) -> Line | None:
        """Return the line before one in the order of reading; None before the first."""
        number = self._number(line)
        return self.plan.lines[number - 1] if number else None

    def end(self) -> Sheet:
        """Return the sheet with every open line left out."""
        return self._changed("ending", at=None, left_out=(*self.left_out, *self.lines_open))

    def add_patch(self, name: str, densities: Densities) -> Sheet:
        """Return the sheet with a patch beside the wedge; no densities say that it was not read."""
        return self._changed(f"the patch {name.replace('_', ' ')}", patches={**self.patches, name: densities})

    def add_notes(self, text: str) -> Sheet:
        """Return the sheet with the person's notes."""
        return self._changed("the notes", notes=text)

    def take_back(self) -> Sheet:
        """Return the sheet as it was before its last change."""
        change = self.changes[-1]
        sheet = replace(self, changes=self.changes[:-1], **change.before)
        return sheet if change.line is None else sheet._with_rows(self.plan.lines[change.line].step, change.rows)

    def matched(self, table: Mapping[int, StepRows]) -> Sheet:
        """Return the sheet with the readings that its table turns out to hold, by step.

        A change that the table lacks was interrupted, and is taken back; what else differs is entered as if typed.
        """
        sheet = self
        while sheet._lacks_last_change(table):
            sheet = sheet.take_back()
        for number, line in enumerate(self.plan.lines):
            before, after = sheet.rows.get(line.step, ()), table.get(line.step, ())
            if before == after:
                continue
            new = {c: d for c, d in (after or ({},))[0].items() if not before or before[0].get(c) != d}
            what = f"step {line.step}" + (f", {_in_words(self.plan.channels, new)}" if new else "")
            sheet = sheet._changed(what, number, after)
            if sheet.at is None or sheet.at not in sheet.lines_open:
                sheet = sheet._past(number)
        return sheet

    @staticmethod
    def from_content(content: Mapping[str, Any]) -> Sheet:
        """Return the sheet whose `dataclasses.asdict` went through JSON.

        Raises:
            KeyError, TypeError, ValueError: the content is not that of a sheet.
        """
        fields = _tuples(content)
        fields["plan"] = Plan(**fields["plan"])
        fields["rows"] = {int(step): rows for step, rows in fields["rows"].items()}
        fields["changes"] = tuple(Change(**change) for change in fields["changes"])
        return Sheet(**fields)

    def _number(self, line: Line) -> int:
        return self.plan.lines.index(line)

    def _past(self, number: int) -> Sheet:
        """Return the sheet with the next open line after one to be typed: further on, else from the beginning."""
        left = self.lines_open
        return replace(self, at=next((n for n in left if n > number), left[0] if left else None))

    def _with_rows(self, step: int, rows: StepRows) -> Sheet:
        others = {s: r for s, r in self.rows.items() if s != step}
        return replace(self, rows={**others, step: rows} if rows else others)

    def _lacks_last_change(self, table: Mapping[int, StepRows]) -> bool:
        if not self.changes or self.changes[-1].line is None:
            return False
        step = self.plan.lines[self.changes[-1].line].step
        return table.get(step, ()) == self.changes[-1].rows != self.rows.get(step, ())

    def _changed(self, what: str, line: int | None = None, rows: StepRows = (), **fields: Any) -> Sheet:
        """Return the sheet with other fields and, if a line is given, other rows of its step."""
        before = {name: getattr(self, name) for name in ("at", *fields)}
        step = 0 if line is None else self.plan.lines[line].step
        change = Change(what, before, line, self.rows.get(step, ()))
        sheet = replace(self, changes=(*self.changes, change), **fields)
        return sheet._with_rows(step, rows) if step else sheet


def _in_words(channels: Sequence[Channel], densities: Densities) -> str:
    return line_text([densities.get(c) for c in channels])


def _without(numbers: tuple[int, ...], number: int) -> tuple[int, ...]:
    return tuple(n for n in numbers if n != number)


def _tuples(value: Any) -> Any:
    """Return plain data with tuples for lists."""
    if isinstance(value, dict):
        return {key: _tuples(inner) for key, inner in value.items()}
    return tuple(_tuples(inner) for inner in value) if isinstance(value, list) else value
