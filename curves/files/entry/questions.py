"""The questions of a record: what is asked, and which answers each takes.

A draft of a record is a plain dictionary, as TOML holds it, but with the date as text.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from curves.errors import RecordError
from curves.files.base.cells import fraction_in
from curves.files.base.fields import check_number
from curves.files.strips.record import LOG_H_WORDS
from curves.sensitometry.core.reader_units import READER_UNITS
from curves.sensitometry.core.units import DENSITY_KINDS, KINDS
from curves.sensitometry.core.values import POSITIVE

READER_UNIT, KNOWN_WEDGE = "reader.unit", "reader.known_wedge"

METHODS = ("contact", "camera", "frames")
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
    return check_number(_number(text), "the answer", POSITIVE)


def _seconds(text: str) -> float:
    """Return a time [s]; "1/50" is understood as a shutter shows it."""
    parts = re.fullmatch(r"\s*1\s*/\s*([0-9]+(?:[.,][0-9]+)?)\s*", text)
    return 1.0 / _positive(parts[1]) if parts else _positive(text)


def _shown(text: str) -> float | str:
    """Return the reading of an instrument: a number, or an exposure time as it is marked."""
    return text if fraction_in(text) is not None else _number(text)


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
        explains: what the answer is, and where a person finds it: a sentence or two.
        example: an answer.
        choices: the answers, where they are few; a beginning or an end that only one of them has will do.
        meanings: what each choice stands for, as a clause.
        usual: the answer offered where the draft has none; None if there is none.
        method: the methods of exposure, the origins of given log H, or the units of the readings, that need the answer;
            empty if all do.
        may_be_empty: True if the record can do without.
        worth_asking: True if a person is asked although the record can do without.
        unit: written after the question.
        parse: what makes the record's value of the typed text; raises RecordError.
    """

    key: str
    asks: str
    explains: str
    example: str
    choices: tuple[str, ...] = ()
    meanings: tuple[str, ...] = ()
    usual: str | None = None
    method: tuple[str, ...] = ()
    may_be_empty: bool = False
    worth_asking: bool = False
    unit: str = ""
    parse: Callable[[str], Any] = str

    @property
    def setting(self) -> str:
        """The setting that answers the question, with an example."""
        return f"{self.key.rpartition('.')[2]}={self.example}"

    def applies(self, draft: Mapping[str, Any]) -> bool:
        """Return True if a draft's method of exposure, or the unit of its readings, needs the answer."""
        exposure, unit = draft.get("exposure", {}), draft.get("reader", {}).get("unit")
        if self.key == "exposure.seconds" and "lux" not in exposure:
            return False
        return not self.method or not {exposure.get("method"), exposure.get("log_h"), unit}.isdisjoint(self.method)

    def answer_in(self, draft: Mapping[str, Any]) -> str | None:
        """Return a draft's answer as a person would type it; None if the draft has none."""
        if self.key == "wedge":
            return _wedge_as_typed(draft.get("wedge"))
        value: Any = draft
        for part in self.key.split("."):
            value = value.get(part) if isinstance(value, Mapping) else None
        return None if value is None else f"{value:g}" if isinstance(value, float) else str(value)


QUESTIONS = (
    Question(
        "title",
        "Title",
        "The name by which you will know this strip on pages and in tables.",
        "Heron 80, first developer 7:00",
        may_be_empty=True,
    ),
    Question(
        "film",
        "Film",
        "The film, as its box names it, with the batch if you note batches.",
        "Heron 80, batch 0417",
        may_be_empty=True,
    ),
    Question(
        "process",
        "Process",
        "How the film was processed: above all what may differ from strip to strip.",
        "reversal, first developer 7 min at 38 C",
        may_be_empty=True,
    ),
    Question(
        "date",
        "Date",
        "The day of the exposure: year, month, day.",
        "2026-03-14",
        may_be_empty=True,
        parse=_date,
    ),
    Question(
        "kind",
        "Kind",
        "Whether more light makes the processed film denser or thinner. What counts is the picture on this strip:"
        " negative film that was developed as a transparency is reversal.",
        "reversal",
        KINDS,
        (
            "more light, more density: film that is printed or scanned",
            "more light, less density: a transparency, to be looked at or projected",
        ),
    ),
    Question(
        "density",
        "Kind of density",
        "What the densitometer measures; its display, its label or its manual names it.",
        "status A",
        DENSITY_KINDS,
        (
            "red, green and blue of pictures that are looked at or projected: transparencies",
            "red, green and blue of negatives that are printed: colour negative film",
            "one density, as the eye sees it: black and white",
            "by a scanner's own red, green and blue light",
        ),
    ),
    Question(
        READER_UNIT,
        "Instrument shows",
        "A densitometer shows densities. A spot meter over a light table does, too, in its own units; the tool makes"
        " densities of them, and of the patches. Read the light with no film in it as well: the open gate.",
        "stops",
        READER_UNITS,
        (
            "a densitometer, zeroed on an empty gate",
            "stops below the open gate, in tenths",
            "exposure values: less for denser film",
            "exposure times at one aperture, such as 1/125",
            "per cent of the light of the open gate",
        ),
        usual="density",
        may_be_empty=True,
    ),
    Question(
        "reader.open_gate",
        "Reading of the open gate",
        "What the meter shows of the light table with no film on it, through the same mask.",
        "14.2",
        method=("ev", "seconds"),
        parse=_shown,
    ),
    Question(
        KNOWN_WEDGE,
        "Known wedge read on the same set-up: its table",
        "A table of a wedge whose densities are known, read on this light table with this meter: columns density and"
        " reading, four steps or more. It shows stray light and the meter's scale, which are then taken out; without it"
        " both count as errors.",
        "known-wedge.csv",
        method=("stops", "ev", "seconds", "percent"),
        may_be_empty=True,
    ),
    Question(
        "exposure.method",
        "Exposed by",
        "How the film got its exposures. A table that holds log H already (method given) has no need of these"
        " questions: write its record by hand.",
        "contact",
        METHODS,
        (
            "the wedge lay on the film, under a light of known lux for known seconds",
            "a wedge lit from behind was photographed, and a meter read one of its steps",
            "a grey card was photographed, once a frame, over and under what the meter asked for",
        ),
    ),
    Question(
        "wedge",
        "Wedge: steps x increment, or its table",
        "The number of steps and the density that each adds, as the wedge's label says; @ and the density of step 1,"
        " the clear end, if that is not 0.05. For a calibrated wedge the name of its table, such as wedge-0417.csv,"
        " with the columns step and density.",
        "21x0.15@0.08",
        usual="21x0.15",
        method=("contact", "camera"),
    ),
    Question(
        "exposure.lux",
        "Light on the wedge",
        "What a lux meter shows where the wedge will lie, with the shutter open and the wedge away. Without it, under a"
        " light that was constant, all but an index and the speeds can be found; one metered grey frame on the same"
        " film then adds these.",
        "25",
        method=("contact",),
        may_be_empty=True,
        worth_asking=True,
        unit="lux",
        parse=_positive,
    ),
    Question(
        "exposure.seconds",
        "Exposure time",
        "How long the light was on the wedge; 1/50 is understood.",
        "0.5",
        method=("contact",),
        unit="seconds",
        parse=_seconds,
    ),
    Question(
        "exposure.log_h",
        "Log H counts from",
        "What the log exposures of the table are.",
        "relative",
        tuple(LOG_H_WORDS),
        (
            "log10 of lux-seconds on the film",
            "mid-grey, as a meter set to a known index placed it",
            "nothing known: the curve has its shape, and no index follows",
        ),
        usual="relative",
        method=("given",),
    ),
    Question(
        "exposure.ei",
        "Index the meter was set to",
        "The exposure index (the film speed) that was set on the meter or the camera for this test.",
        "80",
        method=("camera", "frames", "metered grey"),
        parse=_positive,
    ),
    Question(
        "exposure.metered_step",
        "Step that the meter read",
        "The number of the step at which the meter was pointed. Step 1 is the wedge's clear end.",
        "11",
        method=("camera",),
        parse=_step,
    ),
    Question(
        "exposure.offset_stops",
        "Stops given beyond the metered",
        "0 if the camera was set as the meter asked; +1 if the film got a stop more, -1 if it got a stop less.",
        "0",
        usual="0",
        method=("camera",),
        parse=_number,
    ),
)


def open_questions(draft: Mapping[str, Any], *, every: bool) -> list[Question]:
    """Return the questions that a draft leaves open, or ``every`` one that applies to it."""
    asked = [q for q in QUESTIONS if q.applies(draft)]
    needed = [
        q for q in asked if (q.worth_asking or not q.may_be_empty) and q.usual != "0" and q.answer_in(draft) is None
    ]
    return asked if every else needed


def all_keys(draft: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the keys of every question that applies to a draft."""
    return tuple(question.key for question in open_questions(draft, every=True))


def _wedge_as_typed(wedge: object) -> str | None:
    if not isinstance(wedge, Mapping):
        return None
    if "table" in wedge:
        return str(wedge["table"])
    if "steps" not in wedge or "increment" not in wedge:
        return None
    first = wedge.get("first", 0.05)
    return f"{wedge['steps']}x{wedge['increment']:g}" + ("" if first == 0.05 else f"@{first:g}")
