"""What an entry has come to: the plan of the reading, what was done, and from these the rows and the next step.

An entry is a list of acts. Everything else follows from them: taking back is leaving the last act out, and going on
after a power cut is reading the list again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from curves.sensitometry.core.units import CHANNELS, Channel
from curves.sensitometry.strip.exposure import Position

Way = Literal["clear", "dark"]
Grouping = Literal["step", "channel"]


@dataclass(frozen=True)
class Plan:
    """How a strip is read.

    Attributes:
        channels: in the order in which they are typed.
        positions: what the readings are listed by, of every step, step 1 first.
        column: what these numbers are.
        first_end: which end of the wedge is read first: its clear end is step 1.
        by: all channels of a step on one line, or the whole strip channel by channel.
    """

    channels: tuple[Channel, ...]
    positions: tuple[float, ...]
    column: Position = "step"
    first_end: Way = "clear"
    by: Grouping = "step"

    @property
    def steps(self) -> int:
        """Number of steps [unitless]."""
        return len(self.positions)

    def slots(self) -> list[Slot]:
        """Return every line that is to be typed, in order."""
        order = list(range(1, self.steps + 1))
        if self.first_end == "dark":
            order.reverse()
        if self.by == "step":
            return [Slot(step, self.channels) for step in order]
        return [Slot(step, (channel,)) for channel in self.channels for step in order]


@dataclass(frozen=True)
class Slot:
    """One line to be typed: a step, and the channels whose readings the line holds."""

    step: int
    channels: tuple[Channel, ...]


@dataclass(frozen=True)
class Act:
    """One thing done.

    Attributes:
        what: "read", "repeat" (a further reading of a step already read), "skip", "go" (to a step) or "end".
        slot: where.
        values: the readings, by channel; None where not read [density].
        kept: True if the reading was questioned and kept.
    """

    what: Literal["read", "repeat", "skip", "go", "end"]
    slot: Slot
    values: tuple[float | None, ...] = ()
    kept: bool = False

    def readings(self) -> dict[Channel, float]:
        """Return what was read, by channel [density]."""
        return {c: v for c, v in zip(self.slot.channels, self.values, strict=False) if v is not None}


@dataclass(frozen=True)
class Standing:
    """Where an entry stands.

    Attributes:
        next: what is to be typed now; None when every step is read or left out.
        rows: the readings as the table will hold them: step, and density by channel; repeats follow their step.
        read: first readings, by channel and step, those questioned and kept among them [density].
        trusted: the same without those questioned and kept.
        done: how many lines of the plan are read.
        left: how many are neither read nor left out.
        last: the slot read last; None before the first.
    """

    next: Slot | None
    rows: tuple[tuple[int, Mapping[Channel, float]], ...]
    read: Mapping[Channel, Mapping[int, float]]
    trusted: Mapping[Channel, Mapping[int, float]]
    done: int
    left: int
    last: Slot | None


def standing(plan: Plan, acts: Iterable[Act]) -> Standing:
    """Return what a list of acts has come to."""
    work = _Work(plan.slots())
    for act in acts:
        work.do(act)
    return work.standing(plan)


@dataclass
class _Work:
    """The acts so far, as they are gone through."""

    slots: list[Slot]
    first: dict[Slot, Act] = field(default_factory=dict)
    repeats: list[Act] = field(default_factory=list)
    out: set[Slot] = field(default_factory=set)
    at: Slot | None = None
    last: Slot | None = None

    def do(self, act: Act) -> None:
        if act.what == "repeat":
            self.repeats.append(act)
            self.last = act.slot
            return
        if act.what == "end":
            self.out |= {s for s in self.slots if s not in self.first}
            self.at = None
            return
        if act.what == "go":
            self.at = act.slot
            return
        if act.what == "read":
            self.first[act.slot] = act
            self.out.discard(act.slot)
            self.last = act.slot
        else:
            self.first.pop(act.slot, None)
            self.out.add(act.slot)
        self.at = self._after(act.slot)

    def _after(self, slot: Slot) -> Slot | None:
        """Return the next slot that is neither read nor left out: further on, else anywhere."""
        here = self.slots.index(slot) + 1
        return next(
            (s for s in self.slots[here:] + self.slots[:here] if s not in self.first and s not in self.out), None
        )

    def standing(self, plan: Plan) -> Standing:
        left = [s for s in self.slots if s not in self.first and s not in self.out]
        at = self.at if self.at is not None else next(iter(left), None)
        read: dict[Channel, dict[int, float]] = {c: {} for c in plan.channels}
        trusted: dict[Channel, dict[int, float]] = {c: {} for c in plan.channels}
        for act in self.first.values():
            for channel, density in act.readings().items():
                read[channel][act.slot.step] = density
                if not act.kept:
                    trusted[channel][act.slot.step] = density
        rows = _rows(read, self.repeats)
        return Standing(at, rows, read, trusted, len(self.first), len(left), self.last)


def _rows(
    read: Mapping[Channel, Mapping[int, float]], repeats: Sequence[Act]
) -> tuple[tuple[int, Mapping[Channel, float]], ...]:
    """Return rows by step, repeats after the step's first reading."""
    steps = sorted({s for by_step in read.values() for s in by_step} | {a.slot.step for a in repeats})
    rows: list[tuple[int, Mapping[Channel, float]]] = []
    for step in steps:
        first = {c: by_step[step] for c, by_step in read.items() if step in by_step}
        rows += [(step, first)] if first else []
        rows += [(step, a.readings()) for a in repeats if a.slot.step == step]
    return tuple(rows)


def table_text(plan: Plan, rows: Sequence[tuple[int, Mapping[Channel, float]]]) -> str:
    """Return rows, each a step and its densities, as a table of readings (CSV)."""
    return csv_text(plan.column, [(plan.positions[step - 1], densities) for step, densities in rows], plan.channels)


def csv_text(column: Position, rows: Sequence[tuple[float, Mapping[Channel, float]]], usual: Sequence[Channel]) -> str:
    """Return readings as a table (CSV) that `files.readings` reads; a channel that was not read has no column.

    Args:
        column: what the rows are listed by.
        rows: position and density by channel.
        usual: the channels of a table without rows.
    """
    channels = [c for c in CHANNELS if any(c in densities for _, densities in rows)] or list(usual)
    lines = [",".join([column, *channels])]
    for position, densities in rows:
        cells = [_density(densities[c]) if c in densities else "" for c in channels]
        lines.append(",".join([_position(position), *cells]))
    return "\n".join(lines) + "\n"


def acts_of_rows(plan: Plan, positions: Sequence[float], readings: Mapping[Channel, Sequence[float]]) -> list[Act]:
    """Return the acts that a table read before stands for, so that an entry can go on from it.

    Args:
        plan: how the strip is read; its positions hold those of the table.
        positions: what each row is listed by.
        readings: density by channel, one for each row, NaN where not read [density].
    """
    acts: list[Act] = []
    for row, position in enumerate(positions):
        step = plan.positions.index(position) + 1
        values = {c: float(v[row]) for c, v in readings.items() if v[row] == v[row]}
        slots = [Slot(step, plan.channels)] if plan.by == "step" else [Slot(step, (c,)) for c in plan.channels]
        for slot in slots:
            cells = tuple(values.get(c) for c in slot.channels)
            if any(v is not None for v in cells):
                again = any(a.slot == slot for a in acts)
                acts.append(Act("repeat" if again else "read", slot, cells))
    return acts


def _position(value: float) -> str:
    return f"{value:.0f}" if value == int(value) else repr(value)


def _density(value: float) -> str:
    """Return a density with two decimals, or as many as it was typed with."""
    text = f"{value:.2f}"
    return text if float(text) == value else repr(value)
