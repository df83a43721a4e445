"""Strip records as a person writes them: a TOML file beside a table of readings."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from curves.errors import EmptyRecordError, RecordError, StripError, visible
from curves.files.base.fields import MOST_OF_RECORD, Section, check_number, toml_in
from curves.files.base.grids import read_text
from curves.files.sections.plan_section import planned_in
from curves.files.strips.reader_section import grey_frame_of, instrument_of, patches_of
from curves.files.strips.readings import Readings, read_strip_table, readings_of
from curves.files.strips.stacks import filters_described, filters_of, stacks_in
from curves.files.strips.wedges import wedge_of
from curves.sensitometry.core.reader_units import ReaderScale
from curves.sensitometry.core.units import DENSITY_KINDS, KINDS, DensityKind, Kind
from curves.sensitometry.core.values import FRACTION, METER_CONSTANT, POSITIVE, STOPS
from curves.sensitometry.strip.exposure import (
    INDEX,
    OFFSET,
    RIGHT_WITHIN,
    Camera,
    Contact,
    Exposure,
    Eye,
    Frames,
    GivenExposure,
    LogHUnit,
)
from curves.sensitometry.strip.reciprocity import EXPONENT, Reciprocity, Schwarzschild, TableOfTimes
from curves.sensitometry.strip.strip import Strip, diffuse
from curves.sensitometry.strip.wedge import Pieces, Wedge

_FIELDS = (
    "title", "film", "process", "sample", "batch", "run", "date", "kind", "density", "readings", "notes",
    "wedge", "exposure", "patches", "reader", "conditions", "filter", "scan", "match", "plan",
)  # fmt: skip
_METHODS = ("contact", "camera", "frames", "given")
_FIELDS_OF_PIECES = ("between_stops", "step_stops", "scale_uncertainty")
_FIELDS_OF = {
    "contact": ("lux", "meter_uncertainty_stops", "evenness_stops", "grey_frame"),
    "camera": ("ei", "metered_step", "offset_stops", "flare", "flare_uncertainty"),
    "frames": ("ei", "frame_uncertainty_stops", "judgement_uncertainty_stops", "right_within_stops", "stack"),
    "given": ("log_h", "ei", "meter_uncertainty_stops", *_FIELDS_OF_PIECES),
}
StatedOrigin = Literal["lux-seconds", "metered grey", "relative"]
LOG_H_WORDS: dict[StatedOrigin, LogHUnit] = {
    "lux-seconds": "lux-seconds", "metered grey": "relative to metered mid-grey", "relative": "relative",
}  # fmt: skip
"""What a record says that given log H counts from."""

_FIELDS_OF_ALL = (
    "method", "light", "seconds", "uncertainty_stops", "meter_constant", "schwarzschild", "reciprocity",
)  # fmt: skip


def load_strip(path: Path | str, stack: str | None = None) -> Strip:
    """Load a strip record (TOML) and its table of readings (CSV).

    Args:
        path: the record; the readings it names are looked for beside it.
        stack: of a bracket that was exposed behind several stacks, the stack whose frames are meant; None for the stack
            that the record names, or the only one.

    Returns:
        The strip, complete and consistent.

    Raises:
        RecordError: something in the record, the readings or the wedge table cannot be understood; says the file, the
            line or key, what is needed and what to try.
    """
    path = Path(path)
    record = Section(_toml(path), path.name)
    _refuse_calibration(record, path)
    record.only(*_FIELDS)
    title = visible(record.text("title") or path.stem)
    film, process, notes = record.text("film"), record.text("process"), record.text("notes")
    kind = record.word("kind", KINDS)
    density = record.word("density", DENSITY_KINDS)
    table = record.text("readings", needed='the name of a table beside this file, such as "strip.csv"')
    reader = instrument_of(record.section("reader", f"{path.name}, [reader]"), path.parent)
    exposure, needs_wedge = _exposure(record, path, reader.scale)
    wedge = _wedge(record, path, needed=needs_wedge)
    patches, callier = patches_of(record, path, reader.scale), reader.callier
    _metered_step_exists(exposure, wedge, path)
    meant = record.section("exposure", f"{path.name}, [exposure]").text("stack") or None if stack is None else stack
    _readings_are_there(record, path)
    read = read_strip_table(path.parent / table, exposure, reader.scale)
    readings = readings_of(read, exposure, wedge, density, meant)
    exposure = _with_place(exposure, readings, wedge, kind, reader.repeatability, path)
    exposure = _joined(exposure, record.section("exposure", f"{path.name}, [exposure]"), readings.exposures)
    filters = filters_described(record, path)
    if readings.stack is not None:
        filters = filters_of(readings.stack, filters, path.name)
    scan = None
    if "scan" in record:
        # What knows of pictures is loaded for a scan alone.
        from curves.files.strips.patch_table import scan_origin

        scan = scan_origin(record, path, density, readings.position, exposure, wedge)
    loaded = Strip(
        title=title if stack is None else f"{title}, behind {stack or 'no filter'}",
        kind=kind,
        density=density,
        exposure=exposure,
        position=readings.position,
        readings={c: diffuse(values, callier) for c, values in readings.densities.items()},
        wedge=wedge,
        labels=readings.labels,
        judgements=readings.judgements,
        patches=patches if callier is None else patches.divided(callier),
        repeatability=reader.repeatability,
        repeatability_assumed=reader.repeatability_assumed,
        read_as=reader.scale,
        reader=reader.name,
        reader_zero=reader.zero,
        reader_scale=reader.scale_uncertainty,
        filters=filters,
        reciprocity=_reciprocity(record.section("exposure", f"{path.name}, [exposure]")),
        meter_constant=_meter_constant(record.section("exposure", f"{path.name}, [exposure]")),
        callier=callier,
        planned=planned_in(record.section("plan", f"{path.name}, [plan]")),
        scan=scan,
        film=film,
        process=process,
        sample=record.text("sample"),
        batch=record.text("batch"),
        run=record.text("run"),
        date=record.date("date"),
        notes=notes,
        conditions=_conditions(record, path),
    )
    if "match" not in record:
        return loaded
    # The same holds for what matches a scan to a densitometer.
    from curves.files.sections.match_section import matched_in

    return matched_in(record, path, loaded)


def _conditions(record: Section, path: Path) -> dict[str, float]:
    """Return the conditions that the record states, each a number."""
    section = record.section("conditions", f"{path.name}, [conditions]")
    return {key: check_number(section.take(key), section.at(key)) for key in section.keys}


def load_by_stack(path: Path) -> list[Strip]:
    """Load the strips of a record: one, or one for each stack that a bracket of frames was exposed behind.

    Args:
        path: the record.

    Raises:
        RecordError: as for `load_strip`.
    """
    record = Section(_toml(path), path.name)
    exposure = record.section("exposure", f"{path.name}, [exposure]")
    table = record.text("readings")
    if exposure.take("method") != "frames" or "stack" in exposure or not table:
        return [load_strip(path)]
    _readings_are_there(record, path)
    stacks = stacks_in(read_strip_table(path.parent / table, None))
    return [load_strip(path, stack) for stack in stacks] if len(stacks) > 1 else [load_strip(path)]


def _readings_are_there(record: Section, path: Path) -> None:
    """Refuse a record whose table of readings is not there.

    Raises:
        EmptyRecordError: a plan wrote the record, and nobody has entered readings yet.
        RecordError: another record names a table that is not there.
    """
    table = record.text("readings")
    if "\0" in table or (path.parent / table).exists():
        return
    entering = f"run curves enter {shlex.quote(str(path.with_suffix('')))}"
    if "plan" in record:
        raise EmptyRecordError("the readings are still to be entered", where=path.name, hint=entering)
    others = ", ".join(sorted(p.name for p in path.parent.glob("*.csv"))[:5])
    raise RecordError(
        f"the table of readings that the record names, {table}, is not there",
        where=path.name,
        hint=f"{entering} to enter them, or correct 'readings' in the record; beside it there is"
        f" {others or 'no table (.csv)'}",
    )


def _with_place(
    exposure: Exposure, readings: Readings, wedge: Wedge | None, kind: Kind, scatter: float | None, path: Path
) -> Exposure:
    """Return an exposure whose grey frame, if there is one, lies on the readings; a refusal names the record."""
    if not isinstance(exposure, Contact):
        return exposure
    try:
        return exposure.placed(readings.position, wedge, readings.densities, kind, scatter)
    except StripError as error:
        raise RecordError(error.what, where=f"{path.name}, [exposure] grey_frame", needed=error.needed) from error


def _refuse_calibration(record: Section, path: Path) -> None:
    """Refuse the calibration of a scanner as what it is: it holds clear and dark, and no kind of film."""
    if "clear" in record and "kind" not in record:
        raise RecordError(
            "this is the calibration of a scanner, not a strip",
            where=path.name,
            needed="the record of a strip",
            hint="name the strip's own record, which names this file",
        )


@dataclass(frozen=True)
class Setup:
    """The part of a record that is known before any reading: exposure, wedge, and the scale of the readings."""

    kind: Kind
    density: DensityKind
    exposure: Exposure
    wedge: Wedge | None
    readings: str
    scale: ReaderScale


def read_setup(path: Path) -> Setup:
    """Read a record whose readings may not be there yet.

    Args:
        path: the record.

    Raises:
        RecordError: the record, as far as it goes, cannot be understood.
    """
    record = Section(_toml(path), path.name)
    record.only(*_FIELDS)
    reader = instrument_of(record.section("reader", f"{path.name}, [reader]"), path.parent)
    exposure, needs_wedge = _exposure(record, path, reader.scale)
    wedge = _wedge(record, path, needed=needs_wedge)
    _metered_step_exists(exposure, wedge, path)
    kind, density = record.word("kind", KINDS), record.word("density", DENSITY_KINDS)
    return Setup(kind, density, exposure, wedge, record.text("readings"), reader.scale)


def _toml(path: Path) -> dict[str, Any]:
    text = read_text(path, MOST_OF_RECORD)
    try:
        return toml_in(text, path.name)
    except ValueError as error:  # bad TOML, or a number of thousands of digits
        found = re.search(r"at line (\d+)", str(error))
        where = f"{path.name}, line {found[1]}" if found else path.name
        line = text.splitlines()[int(found[1]) - 1] if found and int(found[1]) <= len(text.splitlines()) else ""
        comma = re.search(r"=\s*\d+,\d", line)
        other = "" if path.suffix.lower() == ".toml" else "name a record (.toml)"
        raise RecordError(
            "this is not TOML",
            where=where,
            needed="key = value; texts in quotes, numbers with a decimal point",
            hint="write a point for the decimal comma" if comma else other,
        ) from error


def _exposure(record: Section, path: Path, scale: ReaderScale) -> tuple[Exposure, bool]:
    """Return the exposure of the strip, and True if it needs a wedge; a grey frame's readings are on a scale."""
    if "exposure" not in record:
        raise RecordError(
            "the section [exposure] is missing",
            where=path.name,
            needed="method = " + " or ".join(f'"{m}"' for m in _METHODS) + " and what it asks for",
        )
    section = record.section("exposure", f"{path.name}, [exposure]")
    method = section.word("method", _METHODS)
    others = {f: f'it goes with method = "{m}"' for m, fields in _FIELDS_OF.items() for f in fields}
    section.only(*_FIELDS_OF_ALL, *_FIELDS_OF[method], elsewhere=others)
    stops = section.number("uncertainty_stops", STOPS)
    seconds = section.number("seconds", POSITIVE)
    light = section.text("light")
    exposure: Exposure
    if method == "contact":
        lux = section.number("lux", POSITIVE)
        if lux is not None:
            section.number("seconds", POSITIVE, needed="the exposure time in seconds, such as seconds = 0.02")
        meter, uneven = section.number("meter_uncertainty_stops", STOPS), section.number("evenness_stops", STOPS)
        frame = grey_frame_of(section, scale)
        try:
            exposure = Contact(lux, seconds, stops, meter, uneven, light, frame)
        except StripError as error:
            raise RecordError(error.what, where=section.where, needed=error.needed) from error
    elif method == "camera":
        step = section.whole("metered_step", needed="the step that the meter read, such as metered_step = 11", least=1)
        exposure = Camera(
            _ei(section),
            step,
            section.number("offset_stops", OFFSET) or 0.0,
            section.number("flare", FRACTION) or 0.0,
            stops,
            seconds,
            section.number("flare_uncertainty", FRACTION),
            light,
        )
    elif method == "frames":
        shutter = section.number("frame_uncertainty_stops", STOPS)
        sure = section.number("judgement_uncertainty_stops", STOPS)
        eye = Eye(sure, section.number("right_within_stops", RIGHT_WITHIN))
        exposure = Frames(_ei(section), stops, seconds, shutter, light, eye)
    else:
        meter = section.number("meter_uncertainty_stops", STOPS)
        exposure = GivenExposure(*_origin(section), stops, seconds, meter, light)
    return exposure, method in ("contact", "camera")


def _origin(section: Section) -> tuple[LogHUnit, float | None]:
    """Return the origin of given log H, and the index at which mid-grey was metered where that is the origin."""
    stated = section.word("log_h", tuple(LOG_H_WORDS)) if "log_h" in section else "relative"
    ei = section.number("ei", INDEX)
    if (ei is not None) != (stated == "metered grey"):
        fault = "'ei' is missing" if ei is None else f"'ei' does not go with log H that is {stated}"
        raise RecordError(
            fault,
            where=section.where,
            needed='log_h = "metered grey" and the index at which mid-grey was metered, such as ei = 80'
            if ei is None
            else 'log_h = "metered grey" where log H counts from the mid-grey metered at that index',
            hint="" if ei is None else "write it, or leave ei out",
        )
    return LOG_H_WORDS[stated], ei


def _joined(exposure: Exposure, section: Section, exposures: tuple[str, ...]) -> Exposure:
    """Return the exposure of a joined strip, which knows to which exposure each row belongs; any other as it is."""
    if isinstance(exposure, GivenExposure) and exposures:
        between, step = (section.number(key, STOPS) for key in _FIELDS_OF_PIECES[:2])
        return replace(exposure, pieces=Pieces(exposures, between, step, section.number("scale_uncertainty", FRACTION)))
    stray = next((key for key in _FIELDS_OF_PIECES if key in section), None)
    if stray is not None:
        raise RecordError(
            f"'{stray}' is of several exposures, and the readings do not tell which row belongs to which",
            where=section.where,
            needed="a column exposure in the table of readings, a name in each row",
        )
    return exposure


def _reciprocity(section: Section) -> Reciprocity | None:
    """Return the film's failure at long exposures; None if the record does not state it."""
    exponent, listed = section.number("schwarzschild", EXPONENT), section.take("reciprocity")
    if listed is None:
        return None if exponent is None else Schwarzschild(exponent)
    where = section.at("reciprocity")
    needed = "pairs of metered and corrected seconds, such as reciprocity = [[1, 1.2], [10, 20], [60, 200]]"
    if exponent is not None:
        raise RecordError("'schwarzschild' and 'reciprocity' are both given", where=section.where, needed="one of them")
    if not isinstance(listed, list) or not all(isinstance(pair, list) and len(pair) == 2 for pair in listed):
        raise RecordError(f"{listed!r} is not a list of pairs", where=where, needed=needed)
    pairs = tuple((check_number(m, where, POSITIVE), check_number(c, where, POSITIVE)) for m, c in listed)
    try:
        return TableOfTimes(pairs)
    except StripError as error:
        raise RecordError(error.what, where=where, needed=error.needed) from error


def _meter_constant(section: Section) -> float | None:
    """Return K of the meter that the index is meant for, if the record says."""
    return section.number("meter_constant", METER_CONSTANT)


def _ei(section: Section) -> float:
    ei = section.number("ei", INDEX, needed="the index that the meter was set to, such as ei = 80")
    assert ei is not None
    return ei


def _wedge(record: Section, path: Path, *, needed: bool) -> Wedge | None:
    if "wedge" not in record:
        if needed:
            raise RecordError(
                "the section [wedge] is missing",
                where=path.name,
                needed="steps and increment of a nominal wedge, or the table of a calibrated one",
            )
        return None
    if not needed:
        raise RecordError(
            "there is a section [wedge], but the exposure did not go through one",
            where=path.name,
            needed='[wedge] only with method = "contact" or "camera"',
            hint="remove the section, or mend the method",
        )
    return wedge_of(record.section("wedge", f"{path.name}, [wedge]"), path.parent)


def _metered_step_exists(exposure: Exposure, wedge: Wedge | None, path: Path) -> None:
    if isinstance(exposure, Camera) and wedge is not None and exposure.metered_step > wedge.steps:
        raise RecordError(
            f"the wedge has {wedge.steps} steps, so there is no step {exposure.metered_step}",
            where=f"{path.name}, [exposure] metered_step",
            needed=f"a step from 1 to {wedge.steps}",
        )
