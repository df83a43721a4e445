"""A bare table of readings, whose strip is described by a few settings in place of a record."""

from __future__ import annotations

import datetime
import math
import shlex
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

from curves.errors import RecordError
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import READERS, TableDescription, open_table
from curves.files.strips.reader_section import scale_of
from curves.files.strips.readings import read_strip_table, readings_of
from curves.files.strips.record import LOG_H_WORDS, StatedOrigin
from curves.files.strips.wedges import wedge_named
from curves.sensitometry.core.reader_units import DENSITOMETER, ReaderScale, ReaderUnit
from curves.sensitometry.core.units import Channel, DensityKind, Kind
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, Frames, GivenExposure
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Pieces, Wedge

_ORIGIN = "Stating what log H counts from, lux-seconds or metered grey with its index, would give an index."


_LIGHT, _METER = "lux=25 & seconds=0.02", "ei=80 & metered_step=11"
_BY_STEP = tuple(f"wedge=21x0.15 & {exposure}" for exposure in (_LIGHT, _METER))
"""What describes an exposure through a wedge: by a known light, or by a meter."""


def strip_from_table(
    path: Path | str,
    *,
    kind: Kind | None = None,
    wedge: str | None = None,
    ei: float | None = None,
    metered_step: int | None = None,
    lux: float | None = None,
    seconds: float | None = None,
    log_h: StatedOrigin | None = None,
    density: DensityKind | None = None,
    unit: ReaderUnit | None = None,
    open_gate: str | None = None,
) -> Strip:
    """Make a strip of a bare table of readings.

    Args:
        path: the table, hand-written, or one from elsewhere that `import` reads and whose columns are all understood.
        kind: "negative" or "reversal"; must be given.
        wedge: "21x0.15" or "21x0.15@0.05", or the name of a calibrated wedge's table; for readings listed by step.
        ei: index the meter was set to.
        metered_step: the step that the meter read, where the index goes with a wedge.
        lux, seconds: light and time of a contact exposure [lux], [s].
        log_h: what log H counts from, for readings listed by log H: "lux-seconds", "metered grey", which needs ``ei``,
            or "relative"; relative if None. With a wedge alone, "relative" stands for a light that nobody measured.
        density: kind of density; if None, the kind that the file names, else visual for a visual column alone, else
            status A for a reversal and status M for a negative.
        unit: what the readings are: "density", "stops", "ev", "seconds" or "percent"; densities if None.
        open_gate: reading of the light with no film in it, as typed: "14.2", or "1/1000" where readings are seconds.

    Returns:
        The strip; its ``assumptions`` say what was assumed, and how a table from elsewhere was read.

    Raises:
        RecordError: settings are missing or contradict each other, or the table cannot be understood.
    """
    path = Path(path)
    if kind is None:
        by_step = (wedge, lux, seconds, metered_step) == (None,) * 4 and read_bare(path).column == "step"
        raise RecordError(
            "a bare table does not state the kind of film" + (", nor how the strip was exposed" if by_step else ""),
            where=path.name,
            needed="reversal or negative" + (", the wedge, and its exposure" if by_step else ""),
            hint=f"write a record (.toml) beside the table, or give the {'rest' if by_step else 'kind'}",
            settings=[f"kind=reversal & {given}" for given in _BY_STEP] if by_step else ("kind=reversal",),
        )
    ladder, scale = None if wedge is None else wedge_named(wedge, Path()), scale_of(unit, open_gate)
    for setting, value in (("ei", ei), ("lux", lux), ("seconds", seconds)):
        if value is not None and not 0 < value < math.inf:
            raise RecordError(f"{value:g} is out of range", where=setting, needed="more than 0", settings=(setting,))
    assumed: list[str] = []
    exposure: Exposure
    if wedge is None and (lux, seconds, metered_step) == (None, None, None):
        table = read_bare(path, scale=scale)
        exposure = _listed_exposure(table, ei, log_h)
        if table.column == "log_h" and log_h is None:
            assumed.append(f"Log H is taken as relative: nothing states what it counts from. {_ORIGIN}")
    else:
        if log_h == "relative" and ladder is not None and (ei, metered_step, lux, seconds) == (None,) * 4:
            exposure = Contact()
        elif log_h is not None:
            raise RecordError(
                "log H is for readings that are listed by it; with a wedge alone it may be relative",
                where="log_h",
                settings=("log_h",),
            )
        else:
            exposure = _exposure(path.name, ladder, ei=ei, metered_step=metered_step, lux=lux, seconds=seconds)
        table = read_bare(path, exposure, scale)
    readings = readings_of(table, exposure, ladder, density)
    if density is None:
        density = table.density or _usual_density(readings.densities, kind)
        if table.density is None and readings.densities:
            assumed.append(f"The kind of density is not given; {density} is assumed.")
    if readings.stack:
        assumed.append(f"The meter is assumed not to have looked through {readings.stack}.")
    return Strip.from_readings(
        readings.densities,
        kind=kind,
        exposure=replace(exposure, pieces=Pieces(readings.exposures))
        if readings.exposures and isinstance(exposure, GivenExposure)
        else exposure,
        wedge=ladder,
        positions=readings.position,
        density=density,
        read_as=scale,
        title=table.title or path.stem,
        labels=readings.labels,
        judgements=readings.judgements,
        filters=(FilterUsed(readings.stack),) if readings.stack else (),
        date=_date(table.date),
        assumptions=(*assumed, *table.understood, *table.doubtful),
    )


def read_bare(path: Path, exposure: Exposure | None = None, scale: ReaderScale = DENSITOMETER) -> StripTable:
    """Read a table that stands alone: hand-written, or from elsewhere.

    A table from elsewhere is read only if every column of it is understood, so that the slip of a pen in a hand-written
    table does not lose a column.

    Args:
        path: the table.
        exposure: how the strip was exposed; tells which column is needed. None if that is not known.
        scale: the scale on which the strip was read.

    Raises:
        RecordError: the table cannot be understood; says what would read it.
    """
    file, reader = open_table(path)
    importing = f"run curves import {shlex.quote(str(path))}"
    if reader is not READERS[-1]:
        try:
            return reader.read(file, TableDescription(scale=scale))
        except RecordError as error:
            raise _with_hint(error, importing if error.settings else error.hint) from error
    try:
        return read_strip_table(path, exposure, scale)
    except RecordError as strict:
        try:
            table = reader.read(file, TableDescription(scale=scale))
        except RecordError as error:
            if error.settings and not strict.hint.startswith("write"):
                raise _with_hint(error, importing) from None
            raise strict from None
        if table.unused:
            other = f"{strict.hint}; or " if strict.hint.startswith("write") else ""
            left_out = ", ".join(table.unused[:3])
            raise _with_hint(strict, f"{other}{importing}, which reads it without {left_out}") from strict
        return table


def _with_hint(error: RecordError, hint: str) -> RecordError:
    return RecordError(error.what, where=error.where, needed=error.needed, hint=hint, settings=error.settings)


def _listed_exposure(table: StripTable, ei: float | None, log_h: StatedOrigin | None) -> Exposure:
    """Return the exposure of readings that a table lists by log H, by stops or by index.

    Raises:
        RecordError: the table is listed otherwise, or the index is missing, or does not go with the rest.
    """
    if table.column == "log_h":
        origin = LOG_H_WORDS["relative" if log_h is None else log_h]
        if (ei is not None) == (origin == "relative to metered mid-grey"):
            return GivenExposure(origin, ei)
        if ei is None:
            raise RecordError(
                "log H counts from a metered mid-grey, and the index is not given",
                where=table.name,
                settings=("ei=80",),
            )
        raise RecordError(
            "an index is given, and log H does not count from the mid-grey that was metered at it",
            where=table.name,
            hint="leave the index out, or state what log H counts from",
            settings=("log_h=metered grey",),
        )
    if log_h is not None:
        raise RecordError(
            f"rows are listed by {table.column}, not by log H", where=table.name, hint="leave the setting out",
            settings=("log_h",),
        )  # fmt: skip
    if table.column == "step":
        raise RecordError(
            "rows are listed by step, and the wedge is not given",
            where=table.name,
            needed="steps x increment of the wedge, and how it was exposed",
            settings=_BY_STEP,
        )
    if ei is None:
        raise RecordError(
            f"rows are listed by {table.column}, and the index that the meter was set to is not given",
            where=table.name,
            settings=("ei=80",),
        )
    return Frames(ei)


def _exposure(
    name: str,
    wedge: Wedge | None,
    *,
    ei: float | None,
    metered_step: int | None,
    lux: float | None,
    seconds: float | None,
) -> Exposure:
    """Return the exposure through a wedge that the settings describe."""
    if ei is not None and (lux is not None or seconds is not None):
        raise RecordError(
            "an index and a known light are both given",
            where=name,
            needed="the index where a meter set the exposure, or light and time where they are known",
            hint="leave one of them out",
            settings=("ei", "lux", "seconds"),
        )
    if (lux is None) != (seconds is None):
        missing = "lux=25" if lux is None else "seconds=0.02"
        raise RecordError("a known light needs its lux and its seconds", where=name, settings=(missing,))
    if wedge is None:
        made = "a contact exposure went" if lux is not None else "the meter read a step of a wedge: the exposure went"
        raise RecordError(f"{made} through a wedge", where=name, needed="the wedge", settings=("wedge=21x0.15",))
    if lux is not None and seconds is not None:
        return Contact(lux, seconds)
    if ei is None:
        raise RecordError(
            "a wedge alone does not tell the exposure",
            where=name,
            needed="the index where a meter set the exposure, or light and time where they are known",
            hint="give what is known; log H is relative where the light was constant and nobody measured it",
            settings=(_LIGHT, _METER, "log_h=relative"),
        )
    if metered_step is None:
        middle = (wedge.steps + 1) // 2
        raise RecordError(
            "the step of the wedge that the meter read is not given",
            where=name,
            needed=f"a step from 1 to {wedge.steps}",
            settings=(f"metered_step={middle}",),
        )
    if not 1 <= metered_step <= wedge.steps:
        raise RecordError(
            f"the wedge has {wedge.steps} steps, so there is no step {metered_step}",
            where="metered_step",
            needed=f"a step from 1 to {wedge.steps}",
            settings=("metered_step",),
        )
    return Camera(ei, metered_step)


def _usual_density(channels: Collection[Channel], kind: Kind) -> DensityKind:
    if set(channels) <= {"visual"}:
        return "visual"
    return "status A" if kind == "reversal" else "status M"


def _date(text: str) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return None
