"""A bare table of readings: what a record would say is said by a few options, and the rest is taken for granted."""

from __future__ import annotations

import re
from pathlib import Path

from curves.errors import RecordError
from curves.files.base.fields import check_number
from curves.files.strips.readings import read_readings
from curves.files.strips.record import NOMINAL_FIRST, nominal_wedge
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
        path: the table.
        kind: "negative" or "reversal"; must be given.
        wedge: "21x0.15" or "21x0.15@0.05", for readings listed by step.
        ei: index the meter was set to. With a wedge its middle step is taken to be the metered one.
        lux, seconds: light and time of a contact exposure [lux], [s].
        density: kind of density; if None, visual for a visual column alone, else status A for a reversal and status M
            for a negative.

    Returns:
        The strip; what was taken for granted stands in its ``assumptions``.

    Raises:
        RecordError: options are missing or at odds, or the table cannot be understood.
    """
    path = Path(path)
    if kind is None:
        raise RecordError(
            "a bare table does not say what the film is",
            where=path.name,
            needed="--kind reversal or --kind negative",
            hint="give the option, or write a record (.toml) beside the table",
        )
    ladder = None if wedge is None else parse_wedge(wedge)
    exposure, assumed = _exposure_of_options(path, ladder, ei=ei, lux=lux, seconds=seconds)
    readings = read_readings(path, exposure, ladder, density)
    return Strip.from_readings(
        readings.densities,
        kind=kind,
        exposure=exposure,
        wedge=ladder,
        positions=readings.position,
        density=density,
        title=path.stem,
        labels=readings.labels,
        assumptions=tuple(assumed),
    )


def parse_wedge(text: str, where: str = "--wedge") -> Wedge:
    """Return the nominal wedge that ``text`` describes: "21x0.15" or "21x0.15@0.05" (steps x increment @ first).

    Raises:
        RecordError: the text is not of that form, or the numbers make no wedge.
    """
    match = re.fullmatch(r"\s*(\d+)\s*[x×*]\s*([\d.]+)\s*(?:@\s*([\d.]+)\s*)?", text)
    try:
        if match is None:
            raise ValueError
        steps, increment, first = int(match[1]), float(match[2]), float(match[3] or NOMINAL_FIRST)
    except ValueError as error:
        raise RecordError(
            f"'{text}' does not describe a wedge",
            where=where,
            needed="steps x increment, such as 21x0.15, or 21x0.15@0.05 with the density of step 1",
        ) from error
    if steps < 2 or not increment > 0:
        raise RecordError(f"'{text}' is no ladder", where=where, needed="two steps or more, increment above 0")
    return nominal_wedge(steps, increment, first, where)


def _exposure_of_options(
    path: Path, wedge: Wedge | None, *, ei: float | None, lux: float | None, seconds: float | None
) -> tuple[Exposure, list[str]]:
    """Return the exposure that the options describe, and what was taken for granted."""
    for name, value in (("--ei", ei), ("--lux", lux), ("--seconds", seconds)):
        if value is not None:
            check_number(value, name, above=0.0)
    if ei is not None and (lux is not None or seconds is not None):
        raise RecordError(
            "--ei and --lux or --seconds are both given",
            where=path.name,
            needed="--ei where a meter set the exposure, --lux and --seconds where a known light did",
        )
    if (lux is None) != (seconds is None):
        raise RecordError("a known light needs both", where=path.name, needed="--lux and --seconds together")
    if lux is not None and seconds is not None:
        if wedge is None:
            raise RecordError("a contact exposure went through a wedge", where=path.name, needed="--wedge 21x0.15")
        return Contact(lux, seconds), []
    if ei is not None and wedge is not None:
        middle = (wedge.steps + 1) // 2
        return Camera(ei, middle), [f"The meter is taken to have read the middle step of the wedge, step {middle}."]
    if ei is not None:
        return Frames(ei), []
    if wedge is not None:
        raise RecordError(
            "a wedge alone does not say the exposure",
            where=path.name,
            needed="--ei where a meter set it, or --lux and --seconds where a known light did",
        )
    return GivenExposure(), []
