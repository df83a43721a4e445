"""The questions of a record: what is asked, which answers each takes, and what an answer does to the record.

A draft of a record is a plain dictionary, as TOML holds it, but with the date as text.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from curves.errors import RecordError
from curves.files.base.fields import check_number
from curves.files.strips.record import LOG_H_WORDS
from curves.files.strips.wedges import parse_wedge, read_wedge
from curves.sensitometry.core.units import DENSITY_KINDS, KINDS

METHODS = ("contact", "camera", "frames")
_OWN = ("title", "date", "readings", "notes", "patches", "scan")
"""What the next strip does not take over from the last."""

Draft = dict[str, Any]


@dataclass(frozen=True)
class Answers:
    """The answers so far to the questions of one record.

    Attributes:
        draft: the record that they make.
        asked: keys of the questions answered; "all" if only what the draft lacks is to be asked.
    """

    draft: Draft
    asked: tuple[str, ...] = ()


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise RecordError(f"'{text}' is not a number", needed="a number such as 0.15") from error


def _positive(text: str) -> float:
    return check_number(_number(text), "the answer", above=0.0)


def _seconds(text: str) -> float:
    """Return a time [s]; "1/50" is understood as a shutter shows it."""
    parts = re.fullmatch(r"\s*1\s*/\s*([0-9]+(?:[.,][0-9]+)?)\s*", text)
    return 1.0 / _positive(parts[1]) if parts else _positive(text)


def _step(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", text) or int(text) < 1:
        raise RecordError(f"'{text}' is not a step", needed="a whole number from 1")
    return int(text)


def _date(text: str) -> str:
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise RecordError(f"'{text}' is not a date", needed="a date such as 2026-03-14") from error


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes:
        key: the record's key, with its section.
        asks: what is asked.
        choices: the answers, where they are few; a beginning or an end that only one of them has will do.
        usual: the answer offered where the draft has none; None if there is none.
        method: the methods of exposure, or the origins of given log H, that need the answer; empty if all do.
        may_be_empty: True if the record can do without.
        unit: written after the question.
        parse: what makes the record's value of the typed text; raises RecordError.
    """

    key: str
    asks: str
    choices: tuple[str, ...] = ()
    usual: str | None = None
    method: tuple[str, ...] = ()
    may_be_empty: bool = False
    unit: str = ""
    parse: Callable[[str], Any] = str

    def applies(self, draft: Mapping[str, Any]) -> bool:
        """Return True if a draft's method of exposure needs the answer."""
        exposure = draft.get("exposure", {})
        return not self.method or not {exposure.get("method"), exposure.get("log_h")}.isdisjoint(self.method)

    def answer_in(self, draft: Mapping[str, Any]) -> str | None:
        """Return a draft's answer as a person would type it; None if the draft has none."""
        if self.key == "wedge":
            return _wedge_as_typed(draft.get("wedge"))
        value: Any = draft
        for part in self.key.split("."):
            value = value.get(part) if isinstance(value, Mapping) else None
        return None if value is None else f"{value:g}" if isinstance(value, float) else str(value)


QUESTIONS = (
    Question("title", "Title", may_be_empty=True),
    Question("film", "Film", may_be_empty=True),
    Question("process", "Process", may_be_empty=True),
    Question("date", "Date", may_be_empty=True, parse=_date),
    Question("kind", "Kind", KINDS),
    Question("density", "Kind of density", DENSITY_KINDS),
    Question("exposure.method", "Exposed by", METHODS),
    Question("wedge", "Wedge: steps x increment, or its table", usual="21x0.15", method=("contact", "camera")),
    Question("exposure.lux", "Light on the wedge", method=("contact",), unit="lux", parse=_positive),
    Question("exposure.seconds", "Exposure time", method=("contact",), unit="seconds", parse=_seconds),
    Question("exposure.log_h", "Log H counts from", tuple(LOG_H_WORDS), usual="relative", method=("given",)),
    Question("exposure.ei", "Index the meter was set to", method=("camera", "frames", "metered grey"), parse=_positive),
    Question("exposure.metered_step", "Step that the meter read", method=("camera",), parse=_step),
    Question("exposure.offset_stops", "Stops given beyond the metered", usual="0", method=("camera",), parse=_number),
)


def open_questions(draft: Mapping[str, Any], *, every: bool) -> list[Question]:
    """Return the questions that a draft leaves open, or ``every`` one that applies to it."""
    asked = [q for q in QUESTIONS if q.applies(draft)]
    needed = [q for q in asked if not q.may_be_empty and q.usual != "0" and q.answer_in(draft) is None]
    return asked if every else needed


def carry_over(last: Mapping[str, Any]) -> Draft:
    """Return the part of the last strip's record that the next strip takes over.

    A scan's record states what the scan's readings are worth: the next strip's may come from another instrument.
    """
    left = (*_OWN, "reader") if "scan" in last else _OWN
    return {k: v for k, v in last.items() if k not in left}


def answer(draft: Mapping[str, Any], question: Question, text: str, folder: Path) -> Draft:
    """Return a draft with one more answer.

    Args:
        draft: the record so far.
        question: what was asked.
        text: the answer as typed.
        folder: where the record lies, and a wedge's table.

    Raises:
        RecordError: the text is not an answer to the question; says what is needed.
    """
    text = text.strip()
    changed = {k: dict(v) if isinstance(v, Mapping) else v for k, v in draft.items()}
    if not text and question.may_be_empty:
        changed.pop(question.key, None)
        return changed
    if question.key == "wedge":
        changed["wedge"] = _wedge(text, folder, draft.get("wedge", {}))
        return changed
    value: Any = _choice(text, question.choices) if question.choices else question.parse(text)
    section, _, key = question.key.rpartition(".")
    if question.key == "exposure.method" and value != draft.get("exposure", {}).get("method"):
        changed["exposure"] = {"method": value}
        if value == "frames":
            changed.pop("wedge", None)
    elif section:
        changed.setdefault(section, {})[key] = value
    else:
        changed[key] = value
    if question.key == "exposure.metered_step":
        _check_metered(value, changed, folder)
    return changed


def bracket_stops(text: str) -> tuple[float, ...]:
    """Return the frames of a bracket [stops], typed as first, last and spacing, such as "-3 3 1".

    Raises:
        RecordError: the text is not three numbers that make a bracket.
    """
    needed = "first, last and spacing in stops, such as -3 3 1"
    words = text.replace(",", ".").split()
    try:
        first, last, spacing = (float(w) for w in words)
    except ValueError as error:
        raise RecordError(f"'{text}' is not a bracket", needed=needed) from error
    if not 0 < abs(spacing) <= abs(last - first) <= 40 or abs((last - first) / spacing) > 200:
        raise RecordError(f"'{text}' is not a bracket", needed=needed)
    spacing = abs(spacing) if last > first else -abs(spacing)
    count = int((last - first) / spacing + 1e-6) + 1
    return tuple(round(first + i * spacing, 6) for i in range(count))


def _choice(text: str, choices: tuple[str, ...]) -> str:
    """Return the choice that a text names in full, or by a beginning or an end that only one choice has."""
    if text in choices:
        return text
    low = text.lower()
    fitting = [c for c in choices if c.lower().startswith(low)] or [c for c in choices if c.lower().endswith(" " + low)]
    if len(fitting) != 1:
        raise RecordError(f"'{text}' is not one of the choices", needed=", ".join(choices))
    return fitting[0]


def _wedge(text: str, folder: Path, before: Mapping[str, Any]) -> Draft:
    kept = {"uncertainty": before["uncertainty"]} if "uncertainty" in before else {}
    if text.lower().endswith((".csv", ".txt", ".tsv")):
        read_wedge(folder / text)
        return {"table": text} | kept
    text = text.replace(",", ".")
    parse_wedge(text)
    steps, increment, first = re.findall(r"[\d.]+", text + "@0.05")[:3]
    return {"steps": int(steps), "increment": float(increment), "first": float(first)} | kept


def _wedge_as_typed(wedge: object) -> str | None:
    if not isinstance(wedge, Mapping):
        return None
    if "table" in wedge:
        return str(wedge["table"])
    if "steps" not in wedge or "increment" not in wedge:
        return None
    first = wedge.get("first", 0.05)
    return f"{wedge['steps']}x{wedge['increment']:g}" + ("" if first == 0.05 else f"@{first:g}")


def _check_metered(step: int, draft: Mapping[str, Any], folder: Path) -> None:
    wedge = draft.get("wedge", {})
    steps = read_wedge(folder / wedge["table"]).steps if "table" in wedge else wedge.get("steps", step)
    if step > steps:
        raise RecordError(
            f"the wedge has {steps} steps, so there is no step {step}", needed=f"a step from 1 to {steps}"
        )
