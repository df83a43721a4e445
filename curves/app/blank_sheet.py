"""A blank sheet for a strip: the facts that are known already, and the lines that a person fills in by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from curves.files.base.record_edits import last_record, record_content
from curves.files.entry.entry import Entry, steps_of, usual_channels
from curves.files.entry.questions import METHODS, QUESTIONS, Draft, open_questions
from curves.files.entry.sheet import End, Plan
from curves.files.strips.wedges import wedge_named
from curves.sensitometry.core.reader_units import ReaderUnit
from curves.sensitometry.core.units import LAYERS, Channel
from curves.sensitometry.strip.exposure import Position

_USUAL_STEPS, _USUAL_FRAMES = 21, 11
"""Lines of a sheet whose record names no wedge, or no frames: our own choice."""


@dataclass(frozen=True)
class Fact:
    """One answer that the record asks for, known or to be filled in.

    Attributes:
        name: what is asked.
        unit: its unit; empty if it has none.
        value: the answer as a person would type it; empty if it is not known.
        choices: the answers to choose from, if they are few.
    """

    name: str
    unit: str
    value: str
    choices: tuple[str, ...]


@dataclass(frozen=True)
class BlankSheet:
    """A sheet to fill in at the densitometer.

    Attributes:
        title: title of the strip; empty if there is none.
        facts: the answers that the record asks for.
        plan: channels and steps; the positions of frames that are not known are not a number.
        wedge: density of each step of the wedge, step 1 first [density]; empty where no wedge is known.
        unit: what the readings are.
    """

    title: str
    facts: tuple[Fact, ...]
    plan: Plan
    wedge: tuple[float, ...]
    unit: ReaderUnit = "density"


def blank_sheet(record: Path, channels: tuple[Channel, ...] | None, first_end: End | None) -> BlankSheet:
    """Return the sheet of a strip, with what its record, its entry under way, or its table states.

    A strip that nothing is known of takes over the wedge of the last strip in the folder.

    Args:
        record: the record; it need not be there.
        channels: what is read, in the order typed; None for what the entry or its table has, or the usual.
        first_end: the end of the wedge that is read first; None for that of the entry, or the clear end.

    Raises:
        RecordError: the record, its wedge or the entry cannot be understood.
    """
    entry = Entry(record)
    draft = _known(entry)
    wedge = _wedge_of(draft, record)
    usual: tuple[Channel, ...] = ("visual",) if draft.get("density") == "visual" else LAYERS
    column: Position = "stops" if draft.get("exposure", {}).get("method") == "frames" else "step"
    positions: tuple[float, ...] = ()
    if entry.begun:
        plan = entry.sheet.plan
        column, positions, usual = plan.column, plan.positions, plan.channels
        first_end = first_end or plan.first_end
    elif record.exists() and not open_questions(draft, every=False):
        column, positions, usual = steps_of(record)
        usual = usual or usual_channels(record)
    if column != "step":
        wedge, positions = (), positions or (math.nan,) * _USUAL_FRAMES
    positions = positions or tuple(float(n) for n in range(1, 1 + (len(wedge) or _USUAL_STEPS)))
    unit: ReaderUnit = draft.get("reader", {}).get("unit", "density")
    plan = Plan(channels or usual, positions, column, first_end or "clear")
    return BlankSheet(str(draft.get("title", "")), _facts(draft), plan, wedge, unit)


def _known(entry: Entry) -> Draft:
    """Return the draft of a strip: by the answers of an entry that has no sheet yet, else by the record."""
    if entry.answers is not None and not entry.begun:
        return dict(entry.answers.draft)
    return record_content(entry.record) if entry.record.exists() else {}


def _wedge_of(draft: Draft, record: Path) -> tuple[float, ...]:
    """Return the densities of the wedge of a strip, or of the last strip where nothing is known of this one."""
    if not draft and (last := last_record(record.parent, but=record)) is not None:
        draft = record_content(last)
    text = next(q for q in QUESTIONS if q.key == "wedge").answer_in(draft)
    return () if text is None else tuple(float(x) for x in wedge_named(text, record.parent).density)


def _facts(draft: Draft) -> tuple[Fact, ...]:
    """Return the questions of a record but for its title, answered or open; all methods' where none is known."""
    methods = [question for question in QUESTIONS if not set(METHODS).isdisjoint(question.method)]
    asked = open_questions(draft, every=True)
    if not draft.get("exposure", {}).get("method"):
        asked += methods
    return tuple(
        Fact(q.asks.partition(":")[0], q.unit, q.answer_in(draft) or "", q.choices) for q in asked if q.key != "title"
    )
