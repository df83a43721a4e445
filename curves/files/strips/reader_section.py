"""The section [reader] of a strip record: the instrument, the scale it shows, and the patches that it read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from curves.errors import RecordError, StripError
from curves.files.base.cells import check_density, fraction_in
from curves.files.base.fields import Section, check_number
from curves.files.base.strip_table import converted
from curves.files.base.tables import read_table
from curves.sensitometry.core.reader_units import (
    ASSUMED_KNOWN,
    ASSUMED_SCATTER,
    READER_UNITS,
    KnownWedge,
    ReaderScale,
    ReaderUnit,
)
from curves.sensitometry.core.units import CHANNELS, PATCH_NAMES, Channel
from curves.sensitometry.core.values import DENSITY, FRACTION, POSITIVE, READING, STOPS
from curves.sensitometry.strip.metering import GreyFrame
from curves.sensitometry.strip.strip import CALLIER, REPEATABILITY, Patches

_FIELDS = (
    "name", "repeatability", "zero", "scale_uncertainty", "callier",
    "unit", "open_gate", "flare", "flare_uncertainty", "known_wedge",
)  # fmt: skip


@dataclass(frozen=True)
class Instrument:
    """The instrument that read a strip, as its record describes it.

    Attributes:
        name: what it is called; empty if not given.
        scale: the scale of its readings.
        repeatability: standard deviation of one reading, given or assumed for the scale [density]; None if neither.
        repeatability_assumed: True if it is assumed.
        zero: standard uncertainty of its zero [density]; None if not given.
        scale_uncertainty: standard uncertainty of its scale, as a fraction [unitless]; None if not given.
        callier: Callier factor of a specular instrument [unitless]; None if not given.
    """

    name: str
    scale: ReaderScale
    repeatability: float | None
    repeatability_assumed: bool
    zero: float | None
    scale_uncertainty: float | None
    callier: float | None


def instrument_of(reader: Section, folder: Path) -> Instrument:
    """Return the instrument that the section [reader] of a record describes.

    Args:
        reader: the section.
        folder: where the record lies; the table of a known wedge is looked for there.

    Raises:
        RecordError: a key is unknown or out of range, or the known wedge makes no scale.
    """
    reader.only(*_FIELDS)
    scale = _stated_scale(reader)
    uncertainty = reader.number("scale_uncertainty", FRACTION)
    if "known_wedge" in reader:
        for key in ("flare", "flare_uncertainty", "scale_uncertainty"):
            if key in reader:
                raise RecordError(
                    f"'known_wedge' and '{key}' are both given",
                    where=reader.where,
                    needed="one of them: the known wedge shows flare and scale",
                )
        scale, uncertainty = measured_scale(scale, folder / reader.text("known_wedge"))
    stated = reader.number("repeatability", REPEATABILITY)
    return Instrument(
        reader.text("name"),
        scale,
        ASSUMED_SCATTER.get(scale.unit) if stated is None else stated,
        stated is None and scale.by_meter,
        reader.number("zero", DENSITY),
        uncertainty,
        reader.number("callier", CALLIER),
    )


def _stated_scale(reader: Section) -> ReaderScale:
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


def scale_of(unit: ReaderUnit | None, open_gate: str | None) -> ReaderScale:
    """Return the scale of readings whose unit and open gate a person states, the gate as typed: "14.2", "1/1000".

    Raises:
        RecordError: the open gate is not a reading in that unit, or is missing.
    """
    gate = None
    if open_gate is not None:
        fraction = fraction_in(open_gate.strip()) if unit == "seconds" else None
        try:
            gate = float(open_gate.replace(",", ".")) if fraction is None else fraction
        except ValueError as error:
            raise RecordError(
                f"'{open_gate}' is not a reading",
                where="open_gate",
                needed="a number, or a time such as 1/125 where readings are seconds",
                settings=("open_gate",),
            ) from error
        if unit is None:
            raise RecordError(
                "an open gate is given, and the unit of the readings is not",
                where="open_gate",
                needed=f"one of: {', '.join(READER_UNITS)}",
                settings=("unit=ev",),
            )
    try:
        return ReaderScale(unit or "density", gate)
    except StripError as error:
        example = {"seconds": "1/1000", "percent": "100"}.get(unit or "", "14.0")
        raise RecordError(
            error.what, where="open_gate", needed=error.needed, settings=(f"open_gate={example}",)
        ) from error


def measured_scale(scale: ReaderScale, path: Path) -> tuple[ReaderScale, float]:
    """Return a scale with the flare and the stretch that a known wedge shows, and the stretch's uncertainty.

    Args:
        scale: unit and open gate.
        path: the wedge's table: columns density and reading, a row for each step that was read; uncertainty, if known.

    Raises:
        RecordError: the table cannot be understood, or its readings do not follow its densities.
    """
    table = read_table(path, ("step", "density", "reading", "uncertainty"))
    for column in ("density", "reading"):
        if column not in table.header:
            raise RecordError(
                f"the column '{column}' is missing", where=path.name, needed="columns density, reading[, uncertainty]"
            )
    known = [
        check_number(value, table.where(row, "density"), READING) for row, value in enumerate(table.numbers("density"))
    ]
    readings = table.numbers("reading", fractions=scale.unit == "seconds")
    for row, reading in enumerate(readings):
        converted(check_number(reading, table.where(row, "reading")), scale, table.where(row, "reading"))
    given = table.numbers("uncertainty") if "uncertainty" in table.header else [ASSUMED_KNOWN]
    each = [check_number(u, f"{path.name}, uncertainty", DENSITY) for u in given]
    typical = (sum(u * u for u in each) / max(len(each), 1)) ** 0.5
    try:
        return KnownWedge(known, readings, typical).measured(replace(scale, flare=None), path.name)
    except StripError as error:
        raise RecordError(error.what, where=path.name, needed=error.needed) from error


def patches_of(record: Section, path: Path, scale: ReaderScale) -> Patches:
    """Return the patches beside the wedge, converted into densities by the scale on which they were read.

    Raises:
        RecordError: a patch is not known, or a reading is not one that an instrument shows.
    """
    section = record.section("patches", f"{path.name}, [patches]")
    section.only(*PATCH_NAMES)
    found = {name: _patch(section, name, scale) for name in PATCH_NAMES}
    return Patches(**found)


def grey_frame_of(exposure: Section, scale: ReaderScale) -> GreyFrame | None:
    """Return the grey frame that the section [exposure] of a record states; None if it states none.

    Raises:
        RecordError: its index is missing, or a number is not one that it can be.
    """
    if "grey_frame" not in exposure:
        return None
    needed = "grey_frame = { ei = 80, visual = 1.02 }"
    frame = exposure.section("grey_frame", exposure.at("grey_frame"), needed=needed)
    frame.only("ei", "stops", "uncertainty_stops", *CHANNELS)
    ei = frame.number("ei", POSITIVE, needed=f"the index that the meter was set to, such as {needed}")
    assert ei is not None
    densities = _densities(frame, scale)
    try:
        stops = frame.number("stops") or 0.0
        return GreyFrame(ei, densities, stops, frame.number("uncertainty_stops", STOPS))
    except StripError as error:
        raise RecordError(error.what, where=frame.where, needed=error.needed or needed) from error


def _patch(section: Section, name: str, scale: ReaderScale) -> dict[Channel, float]:
    patch = section.section(
        name, f"{section.where} {name}", needed=f"{name} = {{ red = 0.21, green = 0.25, blue = 0.32 }}"
    )
    patch.only(*CHANNELS)
    return _densities(patch, scale)


def _densities(patch: Section, scale: ReaderScale) -> dict[Channel, float]:
    """Return the densities of the channels that a section holds, converted from their readings [density]."""
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
