"""The records of planned strips: all that is known before a strip is exposed. Densities alone are left to enter.

A bracket of frames gets a table as well, which lists its frames and has no density yet. A strip that comes after
another takes over film, process, wedge and reader from that strip's record.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from curves.errors import OutputError
from curves.files.base.record_edits import record_content, record_path, write_record
from curves.files.base.writing import all_or_none, write_atomically
from curves.files.entry.drafts import answer, carry_over
from curves.files.entry.questions import QUESTIONS, Draft
from curves.files.sections.plan_section import plan_section
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, DensityKind, exact_ei
from curves.sensitometry.next_exposure.proposals import Proposal, strip_of
from curves.sensitometry.planning.ways import FILTER_STOPS, FirstPlan, PlannedStrip
from curves.sensitometry.strip.exposure import Camera, Contact, Frames, GivenExposure
from curves.sensitometry.strip.metering import metered_exposure
from curves.sensitometry.strip.origin import Expected, PlannedEnds, PlannedNumber
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import ASSUMED_LIGHT

_DIGITS = 6


@dataclass(frozen=True)
class KnownBefore:
    """The part of a record beyond its plan that is known before the strip is exposed.

    Attributes:
        density: the kind of density that will be read.
        wedge: steps x increment, or the path of a wedge's table; None for a bracket.
        film, process: empty where not given.
        meter_constant: K of the meter [cd s / m2]; None if not given.
        schwarzschild: exponent of the film's law for long times; None if not given.
    """

    density: DensityKind
    wedge: str | None
    film: str
    process: str
    meter_constant: float | None
    schwarzschild: float | None


def write_planned(name: Path, plan: FirstPlan, known: KnownBefore) -> list[Path]:
    """Write a record for each planned strip, or one for a bracket; return their paths.

    Args:
        name: the record's name, with or without .toml; several strips get numbers behind it.
        plan: the plan.
        known: what else the records state.

    Raises:
        OutputError: a record or its table is there already, or cannot be written.
    """
    record = record_path(name)
    count = 1 if plan.way == "frames" else len(plan.strips)
    paths = [record] if count == 1 else [record.with_stem(f"{record.stem}-{n}") for n in range(1, count + 1)]
    tables = [path.with_suffix(".csv") for path in paths]
    for path in (*paths, *tables):
        if path.exists():
            raise OutputError("there is already such a file", where=str(path), hint="give the plan another name")
    with all_or_none(*paths, *tables):
        for number, path in enumerate(paths, start=1):
            if plan.way == "frames":
                write_atomically(path.with_suffix(".csv"), _table_of_frames(plan, known.density))
            write_record(path, _content(path, plan, number, known))
    return paths


def write_next(name: Path, record: Path, first: Strip, proposal: Proposal, expected: PlannedNumber) -> Path:
    """Write the record of a further strip, with what the plan expects of it; return its path.

    Args:
        name: the record's name, with or without .toml.
        record: the record of the strip that the plan was made from.
        first: that strip.
        proposal: the further strip, which is exposed.
        expected: what the plan expects of it.

    Raises:
        OutputError: the record or its table is there already, or cannot be written.
        RecordError: the record of the first strip is not TOML.
    """
    path = record_path(name)
    table = path.with_suffix(".csv")
    for file in (path, table):
        if file.exists():
            raise OutputError("there is already such a file", where=str(file), hint="give the plan another name")
    draft = carry_over(record_content(record))
    for section in ("wedge", "reader"):
        listed = draft.get(section, {})
        if "table" in listed:
            there = os.path.relpath(record.parent / listed["table"], path.parent)
            draft[section] = {**listed, "table": Path(there).as_posix()}
    further, _ = strip_of(proposal, first)
    if further.wedge is None:
        draft.pop("wedge", None)
    draft |= {
        "title": path.stem,
        "readings": table.name,
        "exposure": _exposure_after(draft["exposure"], further),
        "plan": plan_section(expected),
    }
    rows = _rows_to_read(proposal, further)
    with all_or_none(path, table):
        if rows:
            channels = ("visual",) if first.density == "visual" else LAYERS
            header, *values = rows
            lines = [",".join((header, *channels)), *(f"{value}{',' * len(channels)}" for value in values)]
            write_atomically(table, "\n".join(lines) + "\n")
        write_record(path, draft)
    return path


def _exposure_after(before: Mapping[str, Any], further: Strip) -> dict[str, Any]:
    """Return the section [exposure] of a further strip, from that of the strip before it."""
    exposure = further.exposure
    match exposure:
        case Contact(seconds=float(seconds)):
            return {**before, "seconds": _rounded(seconds)}
        case Camera() if before["method"] == "camera":
            return {**before, "offset_stops": _rounded(exposure.offset_stops)}
        case Frames() | GivenExposure() if before["method"] in ("frames", "given"):
            return dict(before)
    of_all = {key: before[key] for key in ("light", "meter_constant", "schwarzschild") if key in before}
    if isinstance(exposure, Camera):
        return {"method": "camera", "ei": exposure.ei, "metered_step": exposure.metered_step, **of_all}
    return {"method": "frames", "ei": exposure.ei, **of_all}


def _rows_to_read(proposal: Proposal, further: Strip) -> list[str]:
    """Return the column of a table's rows, its name first; empty where the wedge's steps are the rows."""
    if proposal.way == "bracket":
        return ["ei", *(f"{index:g}" for index in proposal.indexes)]
    match further.exposure:
        case Frames():
            return ["stops", *(f"{stops:.2f}" for stops in further.position)]
        case GivenExposure():
            return ["log_h", *(f"{log_h:.4f}" for log_h in further.position)]
    return []


def _content(path: Path, plan: FirstPlan, number: int, known: KnownBefore) -> Draft:
    """Return the contents of the record of one strip, or of a bracket."""
    strip = plan.strips[number - 1]
    texts = {"film": known.film, "process": known.process}
    draft: Draft = {
        "title": path.stem,
        **{key: text for key, text in texts.items() if text},
        "kind": plan.guess.kind,
        "density": known.density,
        "readings": f"{path.stem}.csv",
        "exposure": _exposure(plan, strip, known),
        "plan": plan_section(_prediction(plan, number)),
    }
    if plan.light is not None:
        draft["notes"] = _notes(plan, strip)
    if known.wedge is not None and plan.way != "frames":
        question = next(q for q in QUESTIONS if q.key == "wedge")
        draft = answer(draft, question, _beside(known.wedge, path.parent), path.parent)
    return draft


def _exposure(plan: FirstPlan, strip: PlannedStrip, known: KnownBefore) -> dict[str, Any]:
    """Return the section [exposure]."""
    section: dict[str, Any] = {"method": plan.way}
    if plan.way == "contact":
        if plan.light is not None and strip.time is not None:
            behind = plan.light.lux * 10.0**-strip.filter_density
            section |= {"lux": _rounded(behind), "seconds": _rounded(strip.time.exact)}
            u = math.hypot(plan.light.uncertainty_stops, FILTER_STOPS if strip.filter_density else 0.0)
            if u != ASSUMED_LIGHT:
                section["uncertainty_stops"] = round(u, 3)
    else:
        assert plan.ei is not None
        section["ei"] = int(plan.ei) if plan.ei == int(plan.ei) else plan.ei
        if plan.way == "camera":
            assert strip.offset_stops is not None
            section |= {
                "metered_step": plan.metered_step,
                "offset_stops": _rounded(strip.offset_stops + strip.lost_stops),
            }
            if strip.time is not None:
                section["seconds"] = _rounded(strip.time.exact)
    for key, value in (("meter_constant", known.meter_constant), ("schwarzschild", known.schwarzschild)):
        if value is not None:
            section[key] = value
    return section


def _prediction(plan: FirstPlan, number: int) -> PlannedEnds:
    """Return the prediction for one strip, on the strip's own scale of log H."""
    zero = 0.0
    if plan.ei is not None:
        zero = math.log10(metered_exposure(plan.constant) / float(exact_ei(plan.ei)))
    if plan.way != "frames":
        # A record counts light times time; the film counts less of a long time.
        zero -= plan.strips[number - 1].lost_stops * STOP
    least, most = (plan.expected.end(most_exposed=end) for end in (False, True))
    thin, dense = (most, least) if plan.guess.kind == "reversal" else (least, most)
    frames = plan.way == "frames"
    alone = plan.chance if frames else plan.strips[number - 1].alone
    return PlannedEnds(
        _on_scale(thin, zero),
        _on_scale(dense, zero),
        plan.chance.value or 0.0,
        alone.value or 0.0,
        number,
        1 if frames else len(plan.strips),
        plan.guess.box,
        plan.guess.off_stops,
    )


def _on_scale(end: Quantity, zero: float) -> Expected:
    """Return an end of the curve in log H that counts from ``zero`` [log10 lux-seconds]."""
    assert end.value is not None
    assert end.low is not None
    assert end.high is not None
    return end.low - zero, end.value - zero, end.high - zero


def _notes(plan: FirstPlan, strip: PlannedStrip) -> str:
    """Return the settings of a planned contact exposure, for a later reader."""
    assert plan.light is not None
    set_to = f", shutter at {strip.time.engraved} s" if strip.time is not None else ""
    behind = f", behind a grey filter of density {strip.filter_density:.1f}" if strip.filter_density else ""
    return f"Planned: {plan.light.lux:.3g} lux {plan.light.origin}{behind}{set_to}."


def _table_of_frames(plan: FirstPlan, density: DensityKind) -> str:
    """Return the table of a bracket without its densities."""
    channels = ("visual",) if density == "visual" else LAYERS
    rows = [f"{frame.offset_stops:.2f}{',' * len(channels)}" for frame in plan.strips]
    return "\n".join([",".join(("stops", *channels)), *rows]) + "\n"


def _beside(wedge: str, folder: Path) -> str:
    """Return a wedge's table by its path from the record's folder; steps x increment as they are."""
    return os.path.relpath(wedge, folder) if wedge.lower().endswith((".csv", ".txt", ".tsv")) else wedge


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
