"""A bare table of readings, whose strip is described by a few settings in place of a record."""

from __future__ import annotations

import datetime
import math
from pathlib import Path

from curves.errors import RecordError
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import READERS, TableDescription, open_table
from curves.files.strips.readings import read_strip_table, readings_of
from curves.files.strips.wedges import parse_wedge
from curves.sensitometry.core.units import DensityKind, Kind
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, Frames, GivenExposure
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge


def strip_from_table(
    path: Path | str,
    *,
    kind: Kind | None = None,
    wedge: str | None = None,
    ei: float | None = None,
    lux: float | None = None,
    seconds: float | None = None,
    density: DensityKind | None = None,
) -> Strip:
    """Make a strip of a bare table of readings.

    Args:
        path: the table, hand-written, or one from elsewhere that `import` reads and whose columns are all understood.
        kind: "negative" or "reversal"; must be given.
        wedge: "21x0.15" or "21x0.15@0.05", for readings listed by step.
        ei: index the meter was set to. With a wedge its middle step is taken to be the metered one.
        lux, seconds: light and time of a contact exposure [lux], [s].
        density: kind of density; if None, the kind that the file names, else visual for a visual column alone, else
            status A for a reversal and status M for a negative.

    Returns:
        The strip; its ``assumptions`` say what was assumed, and how a table from elsewhere was read.

    Raises:
        RecordError: settings are missing or contradict each other, or the table cannot be understood.
    """
    path = Path(path)
    if kind is None:
        raise RecordError(
            "a bare table does not state the kind of film",
            where=path.name,
            needed="reversal or negative",
            hint="write a record (.toml) beside the table, or give the kind",
            settings=("kind",),
        )
    ladder = None if wedge is None else parse_wedge(wedge)
    exposure, assumed = _exposure(path.name, ladder, ei=ei, lux=lux, seconds=seconds)
    table = read_bare(path, exposure)
    if density is None:
        density = table.density or _usual_density(table, kind)
        if table.density is None:
            assumed.append(f"The kind of density is not given; {density} is assumed.")
    readings = readings_of(table, exposure, ladder, density)
    return Strip.from_readings(
        readings.densities,
        kind=kind,
        exposure=exposure,
        wedge=ladder,
        positions=readings.position,
        density=density,
        title=table.title or path.stem,
        labels=readings.labels,
        date=_date(table.date),
        assumptions=(*assumed, *table.understood, *table.doubtful),
    )


def read_bare(path: Path, exposure: Exposure | None = None) -> StripTable:
    """Read a table that stands alone: hand-written, or from elsewhere.

    A table from elsewhere is read only if every column of it is understood, so that the slip of a pen in a hand-written
    table does not lose a column.

    Args:
        path: the table.
        exposure: how the strip was exposed; tells which column is needed. None if that is not known.

    Raises:
        RecordError: the table cannot be understood; says what would read it.
    """
    file, reader = open_table(path)
    importing = f"run curves import {path}"
    if reader is not READERS[-1]:
        try:
            return reader.read(file, TableDescription())
        except RecordError as error:
            raise _with_hint(error, importing if error.settings else error.hint) from error
    try:
        return read_strip_table(path, exposure)
    except RecordError as strict:
        try:
            table = reader.read(file, TableDescription())
        except RecordError:
            raise strict from None
        if table.unused:
            other = f"{strict.hint}; or " if strict.hint.startswith("write") else ""
            left_out = ", ".join(table.unused[:3])
            raise _with_hint(strict, f"{other}{importing}, which reads it without {left_out}") from strict
        return table


def _with_hint(error: RecordError, hint: str) -> RecordError:
    return RecordError(error.what, where=error.where, needed=error.needed, hint=hint, settings=error.settings)


def _exposure(
    name: str, wedge: Wedge | None, *, ei: float | None, lux: float | None, seconds: float | None
) -> tuple[Exposure, list[str]]:
    """Return the exposure that the settings describe, and what is assumed of it."""
    for setting, value in (("ei", ei), ("lux", lux), ("seconds", seconds)):
        if value is not None and not 0 < value < math.inf:
            raise RecordError(f"{value:g} is out of range", where=setting, needed="more than 0", settings=(setting,))
    if ei is not None and (lux is not None or seconds is not None):
        raise RecordError(
            "an index and a known light are both given",
            where=name,
            needed="the index where a meter set the exposure, or light and time where they are known",
            hint="leave one of them out",
            settings=("ei", "lux", "seconds"),
        )
    if (lux is None) != (seconds is None):
        missing = "lux" if lux is None else "seconds"
        raise RecordError("a known light needs its lux and its seconds", where=name, settings=(missing,))
    if lux is not None and seconds is not None:
        if wedge is None:
            raise RecordError(
                "a contact exposure went through a wedge", where=name, needed="the wedge", settings=("wedge=21x0.15",)
            )
        return Contact(lux, seconds), []
    if ei is not None and wedge is not None:
        middle = (wedge.steps + 1) // 2
        return Camera(ei, middle), [f"The meter is taken to have read the middle step of the wedge, step {middle}."]
    if ei is not None:
        return Frames(ei), []
    if wedge is not None:
        raise RecordError(
            "a wedge alone does not tell the exposure",
            where=name,
            needed="the index where a meter set the exposure, or light and time where they are known",
            settings=("ei", "lux", "seconds"),
        )
    return GivenExposure(), []


def _usual_density(table: StripTable, kind: Kind) -> DensityKind:
    if set(table.readings) == {"visual"}:
        return "visual"
    return "status A" if kind == "reversal" else "status M"


def _date(text: str) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return None
