"""Strip records as a person writes them: a TOML file beside a table of readings."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from curves.errors import RecordError, StripError
from curves.files.base.cells import check_density, fraction_in
from curves.files.base.fields import MOST_OF_RECORD, Section, check_number, toml_in
from curves.files.base.grids import read_text
from curves.files.base.strip_table import converted
from curves.files.strips.patch_table import scan_origin
from curves.files.strips.plan_section import planned_ends
from curves.files.strips.readings import read_strip_table, readings_of
from curves.files.strips.stacks import filters_described, filters_of, stacks_in
from curves.files.strips.wedges import wedge_of
from curves.sensitometry.core.judgement import RIGHT_WITHIN, Eye
from curves.sensitometry.core.reader_units import ASSUMED_SCATTER, READER_UNITS, ReaderScale
from curves.sensitometry.core.units import (
    CHANNELS,
    DENSITY_KINDS,
    KINDS,
    Channel,
    DensityKind,
    Kind,
)
from curves.sensitometry.core.values import DENSITY, FRACTION, METER_CONSTANT, POSITIVE, READING, STOPS
from curves.sensitometry.strip.exposure import (
    OFFSET,
    Camera,
    Contact,
    Exposure,
    Frames,
    GivenExposure,
    LogHUnit,
    Pieces,
)
from curves.sensitometry.strip.reciprocity import EXPONENT, Reciprocity, Schwarzschild, TableOfTimes
from curves.sensitometry.strip.strip import CALLIER, REPEATABILITY, Patches, Strip, diffuse
from curves.sensitometry.strip.wedge import Wedge

_FIELDS = (
    "title", "film", "process", "sample", "date", "kind", "density", "readings", "notes",
    "wedge", "exposure", "patches", "reader", "filter", "scan", "plan",
)  # fmt: skip
_FIELDS_OF_SCALE = ("unit", "open_gate", "flare", "flare_uncertainty")
_METHODS = ("contact", "camera", "frames", "given")
_FIELDS_OF_PIECES = ("between_stops", "step_stops", "scale_uncertainty")
_FIELDS_OF = {
    "contact": ("lux", "meter_uncertainty_stops", "evenness_stops"),
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
    title = record.text("title") or path.stem
    film, process, notes = record.text("film"), record.text("process"), record.text("notes")
    date = record.date("date")
    kind = record.word("kind", KINDS)
    density = record.word("density", DENSITY_KINDS)
    table = record.text("readings", needed='the name of a table beside this file, such as "strip.csv"')
    exposure, needs_wedge = _exposure(record, path)
    wedge = _wedge(record, path, needed=needs_wedge)
    reader = record.section("reader", f"{path.name}, [reader]")
    scale = _reader_scale(reader)
    patches = _patches(record, path, scale)
    stated = reader.number("repeatability", REPEATABILITY)
    callier = reader.number("callier", CALLIER)
    _metered_step_exists(exposure, wedge, path)
    meant = record.section("exposure", f"{path.name}, [exposure]").text("stack") or None if stack is None else stack
    readings = readings_of(read_strip_table(path.parent / table, exposure, scale), exposure, wedge, density, meant)
    exposure = _joined(exposure, record.section("exposure", f"{path.name}, [exposure]"), readings.exposures)
    filters = filters_described(record, path)
    if readings.stack is not None:
        filters = filters_of(readings.stack, filters, path.name)
    return Strip(
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
        repeatability=ASSUMED_SCATTER.get(scale.unit) if stated is None else stated,
        repeatability_assumed=stated is None and scale.by_meter,
        read_as=scale,
        reader=reader.text("name"),
        reader_zero=reader.number("zero", DENSITY),
        reader_scale=reader.number("scale_uncertainty", FRACTION),
        filters=filters,
        reciprocity=_reciprocity(record.section("exposure", f"{path.name}, [exposure]")),
        meter_constant=_meter_constant(record.section("exposure", f"{path.name}, [exposure]")),
        callier=callier,
        planned=planned_ends(record.section("plan", f"{path.name}, [plan]")),
        scan=scan_origin(record, path, density, readings.position, exposure, wedge),
        film=film,
        process=process,
        sample=record.text("sample"),
        date=date,
        notes=notes,
    )


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
    stacks = stacks_in(read_strip_table(path.parent / table, None))
    return [load_strip(path, stack) for stack in stacks] if len(stacks) > 1 else [load_strip(path)]


def _refuse_calibration(record: Section, path: Path) -> None:
    """Refuse the calibration of a scanner as what it is.

    Raises:
        RecordError: the file holds clear and dark, and no kind of film.
    """
    if "clear" in record and "kind" not in record:
        raise RecordError(
            "this is the calibration of a scanner, not a strip",
            where=path.name,
            needed="the record of a strip",
            hint="name the strip's own record, which names this file",
        )


@dataclass(frozen=True)
class Setup:
    """The part of a record that is known before any reading: how the strip was exposed, and through which wedge."""

    kind: Kind
    density: DensityKind
    exposure: Exposure
    wedge: Wedge | None
    readings: str


def read_setup(path: Path) -> Setup:
    """Read a record whose readings may not be there yet.

    Args:
        path: the record.

    Raises:
        RecordError: the record, as far as it goes, cannot be understood.
    """
    record = Section(_toml(path), path.name)
    record.only(*_FIELDS)
    exposure, needs_wedge = _exposure(record, path)
    wedge = _wedge(record, path, needed=needs_wedge)
    _metered_step_exists(exposure, wedge, path)
    kind, density = record.word("kind", KINDS), record.word("density", DENSITY_KINDS)
    return Setup(kind, density, exposure, wedge, record.text("readings"))


def _toml(path: Path) -> dict[str, Any]:
    text = read_text(path, MOST_OF_RECORD)
    try:
        return toml_in(text, path.name)
    except ValueError as error:  # bad TOML, or a number of thousands of digits
        found = re.search(r"at line (\d+)", str(error))
        where = f"{path.name}, line {found[1]}" if found else path.name
        line = text.splitlines()[int(found[1]) - 1] if found and int(found[1]) <= len(text.splitlines()) else ""
        comma = re.search(r"=\s*\d+,\d", line)
        raise RecordError(
            "this is not TOML",
            where=where,
            needed="key = value; texts in quotes, numbers with a decimal point",
            hint="write a point for the decimal comma" if comma else "",
        ) from error


def _exposure(record: Section, path: Path) -> tuple[Exposure, bool]:
    """Return the exposure of the strip, and True if it needs a wedge."""
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
        lux = section.number("lux", POSITIVE, needed="the light on the wedge in lux, such as lux = 25.0")
        seconds = section.number("seconds", POSITIVE, needed="the exposure time in seconds, such as seconds = 0.02")
        assert lux is not None
        assert seconds is not None
        exposure = Contact(
            lux,
            seconds,
            stops,
            section.number("meter_uncertainty_stops", STOPS),
            section.number("evenness_stops", STOPS),
            light,
        )
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
        frame = section.number("frame_uncertainty_stops", STOPS)
        sure = section.number("judgement_uncertainty_stops", STOPS)
        eye = Eye(sure, section.number("right_within_stops", RIGHT_WITHIN))
        exposure = Frames(_ei(section), stops, seconds, frame, light, eye)
    else:
        meter = section.number("meter_uncertainty_stops", STOPS)
        exposure = GivenExposure(*_origin(section), stops, seconds, meter, light)
    return exposure, method in ("contact", "camera")


def _origin(section: Section) -> tuple[LogHUnit, float | None]:
    """Return the origin of given log H, and the index at which mid-grey was metered where that is the origin."""
    stated = section.word("log_h", tuple(LOG_H_WORDS)) if "log_h" in section else "relative"
    ei = section.number("ei", POSITIVE)
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
    ei = section.number("ei", POSITIVE, needed="the index that the meter was set to, such as ei = 80")
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


def _reader_scale(reader: Section) -> ReaderScale:
    """Return the scale on which the strip was read."""
    reader.only("name", "repeatability", "zero", "scale_uncertainty", "callier", *_FIELDS_OF_SCALE)
    unit = reader.word("unit", READER_UNITS) if "unit" in reader else "density"
    gate = reader.take("open_gate")
    fraction = fraction_in(gate) if unit == "seconds" else None
    try:
        return ReaderScale(
            unit,
            reader.number("open_gate") if fraction is None else fraction,
            reader.number("flare", FRACTION),
            reader.number("flare_uncertainty", FRACTION),
        )
    except StripError as error:
        raise RecordError(error.what, where=reader.where, needed=error.needed) from error


def _patches(record: Section, path: Path, scale: ReaderScale) -> Patches:
    section = record.section("patches", f"{path.name}, [patches]")
    section.only("base", "unexposed", "fully_exposed")
    found = {name: _patch(section, name, scale) for name in ("base", "unexposed", "fully_exposed")}
    return Patches(**found)


def _patch(section: Section, name: str, scale: ReaderScale) -> dict[Channel, float]:
    patch = section.section(
        name, f"{section.where} {name}", needed=f"{name} = {{ red = 0.21, green = 0.25, blue = 0.32 }}"
    )
    patch.only(*CHANNELS)
    densities: dict[Channel, float] = {}
    for channel in CHANNELS:
        fraction = fraction_in(patch.take(channel)) if scale.unit == "seconds" else None
        reading = patch.number(channel) if fraction is None else fraction
        if reading is not None:
            density = converted(reading, scale, patch.at(channel))
            if scale.by_meter:
                check_density(density, patch.at(channel), by_meter=True)
            densities[channel] = check_number(density, patch.at(channel), READING)
    return densities


def _metered_step_exists(exposure: Exposure, wedge: Wedge | None, path: Path) -> None:
    if isinstance(exposure, Camera) and wedge is not None and exposure.metered_step > wedge.steps:
        raise RecordError(
            f"the wedge has {wedge.steps} steps, so there is no step {exposure.metered_step}",
            where=f"{path.name}, [exposure] metered_step",
            needed=f"a step from 1 to {wedge.steps}",
        )
