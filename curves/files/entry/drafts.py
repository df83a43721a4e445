"""Drafts of a record: with one more answer, and with the part that a strip takes over from the last."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from curves.errors import RecordError
from curves.files.entry.questions import KNOWN_WEDGE, READER_UNIT, Draft, Question
from curves.files.strips.reader_section import measured_scale, scale_of
from curves.files.strips.wedges import parse_wedge, read_wedge
from curves.sensitometry.core.reader_units import READER_UNITS

NONE = "-"
"""What stands for no answer, where a record can do without one."""

OWN = ("title", "date", "readings", "notes", "patches", "scan", "match", "plan")
"""What the next strip does not take over from the last."""


def carry_over(last: Mapping[str, Any]) -> Draft:
    """Return the part of the last strip's record that the next strip takes over.

    A scan's record states what the scan's readings are worth: the next strip's may come from another instrument.
    """
    left = (*OWN, "reader") if "scan" in last else OWN
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
    section, _, key = question.key.rpartition(".")
    if question.key == READER_UNIT:
        changed["reader"] = _read_in(text, changed.get("reader", {}))
        return {name: part for name, part in changed.items() if name != "reader" or part}
    if text in ("", NONE) and question.may_be_empty:
        (changed.get(section, {}) if section else changed).pop(key, None)
        return {name: part for name, part in changed.items() if name != section or part}
    if question.key == KNOWN_WEDGE:
        _check_known_wedge(text, draft, folder)
    if question.key == "wedge":
        changed["wedge"] = _wedge(text, folder, draft.get("wedge", {}))
        return changed
    value: Any = _choice(text, question.choices) if question.choices else question.parse(_bare(text, question.unit))
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


BRACKET = (
    "One frame at each exposure: how many stops from the metered exposure the first and the last frame lie, and the"
    " stops from frame to frame; + is more exposure. -3 3 1 stands for seven frames, from three stops under to three"
    " over."
)
"""What the frames of a bracket are, for a person who is asked for them."""


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


def _bare(text: str, unit: str) -> str:
    """Return an answer without the unit of its question behind it: "500 lux", "1/50 s"."""
    typed = re.search(r"[a-z]+$", text, re.I)
    if typed is None or not unit.startswith(typed[0].lower()):
        return text
    return text[: typed.start()].strip() or text


def _choice(text: str, choices: tuple[str, ...]) -> str:
    """Return the choice that a text names in full, or by a beginning or an end that only one choice has."""
    if text in choices:
        return text
    low = text.lower()
    fitting = [c for c in choices if c.lower().startswith(low)] or [c for c in choices if c.lower().endswith(" " + low)]
    if len(fitting) != 1:
        raise RecordError(f"'{text}' is not one of the choices", needed=", ".join(choices))
    return fitting[0]


def _read_in(text: str, reader: Mapping[str, Any]) -> Draft:
    """Return the section [reader] for readings in a unit; densities need no key."""
    unit = "density" if text in ("", NONE) else _choice(text, READER_UNITS)
    if unit == reader.get("unit", "density"):
        return dict(reader)
    kept = {key: value for key, value in reader.items() if key not in ("unit", "open_gate", "known_wedge")}
    return kept if unit == "density" else kept | {"unit": unit}


def _check_known_wedge(text: str, draft: Mapping[str, Any], folder: Path) -> None:
    """Refuse a known wedge that does not show flare and scale, or that was read in another unit."""
    reader = draft.get("reader", {})
    gate = reader.get("open_gate")
    measured_scale(scale_of(reader.get("unit"), None if gate is None else str(gate)), folder / text)


def _wedge(text: str, folder: Path, before: Mapping[str, Any]) -> Draft:
    kept = {"uncertainty": before["uncertainty"]} if "uncertainty" in before else {}
    if text.lower().endswith((".csv", ".txt", ".tsv")):
        read_wedge(folder / text)
        return {"table": text} | kept
    text = text.replace(",", ".")
    parse_wedge(text)
    steps, increment, first = re.findall(r"[\d.]+", text + "@0.05")[:3]
    return {"steps": int(steps), "increment": float(increment), "first": float(first)} | kept


def _check_metered(step: int, draft: Mapping[str, Any], folder: Path) -> None:
    wedge = draft.get("wedge", {})
    steps = read_wedge(folder / wedge["table"]).steps if "table" in wedge else wedge.get("steps", step)
    if step > steps:
        raise RecordError(
            f"the wedge has {steps} steps, so there is no step {step}", needed=f"a step from 1 to {steps}"
        )
