"""Films for a comparison of grain, cut from scans: whole pictures, rectangles, or the steps of a scanned strip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from curves.app.pictures.scan_encoding import by_calibration, without_wedge
from curves.errors import RecordError
from curves.files.base.record_edits import record_content
from curves.files.pictures.statements import Facts
from curves.files.scans.light import Light, agrees, light_of
from curves.files.scans.places import LightReference, rectangle, reference
from curves.files.scans.scan import Scan, another
from curves.files.strips.calibration import CalibrationRecord, read_calibration
from curves.files.strips.patch_table import Areas, scan_of
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain.aperture import UM_PER_INCH
from curves.sensitometry.grain.film_grain import Film
from curves.sensitometry.scan.density_map import Calibration
from curves.sensitometry.scan.encoding import LINEAR, Encoding

_PLACEHOLDERS = (72.0, 96.0)
"""Resolutions that programs write where they do not know any: common practice [pixels per inch]."""

MOST_SIDE = 1000
"""Side of the middle of a patch that is measured; more would hardly narrow the interval: our own choice [pixels]."""

MOST_PIXELS = 4_000_000
"""Greatest number of pixels of a film's patches together: our own choice [unitless]."""


Value = TypeVar("Value")


@dataclass(frozen=True)
class GrainJob:
    """The request to measure one film, as a person gives it; an empty text was not given.

    Attributes:
        path: a picture, or the record of a scanned strip.
        dpi: pixels per inch; as the record or the file states if None.
        encoding: encoding of the picture's numbers; as the calibration states, or linear, if None.
        patches: rectangles, each left,top,right,bottom; the whole picture, or the steps of the strip, if empty.
        clear, dark: values, "area:left,top,right,bottom", or the name of another scan.
        calibration: a calibration file; the record's if None.
    """

    path: Path
    dpi: float | None
    encoding: Encoding | None
    patches: tuple[str, ...] = ()
    clear: str = ""
    dark: str = ""
    calibration: Path | None = None


def film_of(job: GrainJob) -> Film:
    """Return a film's patches as transmittance, and frames for the scanner's noise.

    Raises:
        RecordError: the scan cannot be read, or neither file nor request gives its clear light or its resolution.
    """
    strip = scan_of(job.path) if job.path.suffix.lower() == ".toml" else None
    image = job.path if strip is None else strip.image
    stored = _stored(job, None if strip is None else strip.calibration)
    with Scan(image, job.encoding or (LINEAR if stored is None else stored.encoding)) as scan:
        choice = without_wedge(scan, job.encoding, wedge=False) if stored is None else by_calibration(scan, stored)
        clear, dark = (
            _from_setting(n, reference, t, scan) if t else None for n, t in (("clear", job.clear), ("dark", job.dark))
        )
        _refuse_changed(scan)
        calibration = _calibration(scan, stored, clear, dark)
        whole, _ = scan.whole()
        seen = calibration.for_picture(whole)
        places, labels = _places(scan, job, strip.areas if strip is not None else None, (clear, dark))
        dpi = _dpi(job, scan, None if strip is None else strip.dpi)
        side = int(min(MOST_SIDE, (MOST_PIXELS / len(places)) ** 0.5))
        return Film(
            name=_name(job.path),
            patches=[seen.transmittance(_cut(scan, place, side)) for place in places],
            pitch=UM_PER_INCH / dpi,
            labels=labels,
            clear=_frame(scan, calibration, clear),
            dark=_frame(scan, calibration, dark),
            file_dpi=scan.facts.dpi,
            doubt=(strip.encoding_doubt if strip is not None else "") or choice.sentence,
        )


def _refuse_changed(scan: Scan) -> None:
    """Refuse a picture whose packing, or whose mosaic, has changed the grain."""
    facts = scan.facts
    if not (facts.lossy or facts.dark):
        return
    raise RecordError(
        "the picture is a JPEG, whose packing smooths grain away"
        if facts.lossy
        else "the picture is a camera's raw file, whose cells do not see the film evenly",
        where=facts.path.name,
        needed="a scan as TIFF or PNG, without sharpening or noise reduction",
    )


def _name(path: Path) -> str:
    if path.suffix.lower() != ".toml":
        return path.stem
    title = record_content(path).get("title")
    return title if isinstance(title, str) and title else path.stem


def _stored(job: GrainJob, of_record: Path | None) -> CalibrationRecord | None:
    path = job.calibration or of_record
    return None if path is None else read_calibration(path)


def _calibration(
    scan: Scan, stored: CalibrationRecord | None, clear: LightReference | None, dark: LightReference | None
) -> Calibration:
    if stored is not None:
        agrees(scan, stored, stored.title)
        for setting, given in (("clear", clear), ("dark", dark)):
            if given is not None and given.values is not None:
                raise RecordError(
                    "a value is given, but the calibration gives it already",
                    where=setting,
                    needed="an area or another scan, which shows the scanner's noise; or no calibration",
                    settings=(setting,),
                )
        return stored.calibration()
    if clear is None:
        raise RecordError(
            "the clear light is not given, so density is not known",
            where=scan.facts.path.name,
            needed="clear light as values, area:left,top,right,bottom, or a scan of the empty gate; or a calibration",
            settings=("clear", "calibration"),
        )
    light: Light = light_of(scan, clear, dark)
    return CalibrationRecord(
        "", scan.encoding, scan.facts.bits, light.clear, light.dark, light.assumed_dark
    ).calibration()


def _dpi(job: GrainJob, scan: Scan, of_record: float | None) -> float:
    stated = scan.facts.dpi
    dpi = job.dpi or of_record or (None if stated in _PLACEHOLDERS else stated)
    if dpi is None:
        placeholder = f"; the file's {stated:g} is a number that programs write by default" if stated else ""
        raise RecordError(
            f"the resolution of the scan is not given{placeholder}",
            where=scan.facts.path.name,
            needed="the resolution of the scan in pixels per inch, such as 4000",
            settings=("dpi=4000",),
        )
    return dpi


def _from_setting(setting: str, read: Callable[[str, Facts, str], Value], text: str, scan: Scan) -> Value:
    """Return a place or a light from the text of a setting; a refusal names the setting."""
    try:
        return read(text, scan.facts, setting)
    except RecordError as error:
        raise RecordError(
            error.what, where=error.where, needed=error.needed, hint=error.hint, settings=(setting,)
        ) from error


def _places(
    scan: Scan, job: GrainJob, steps: Areas | None, lights: Sequence[LightReference | None]
) -> tuple[list[FloatArray], list[str]]:
    """Return the corners of the patches and their names.

    Raises:
        RecordError: a patch is not in the picture; or none is given where the picture holds more than film.
    """
    if job.patches:
        given = [_from_setting("patch", rectangle, text, scan) for text in job.patches]
        return given, [f"patch {n}" for n in range(1, len(given) + 1)]
    if steps is not None:
        return list(steps.corners), list(steps.labels)
    if any(light is not None and light.area is not None for light in lights):
        raise RecordError(
            "the picture as a whole is not an even patch of film: a part of it shows the light",
            where=scan.facts.path.name,
            needed="an even patch of film as left,top,right,bottom in pixels",
            settings=("patch=120,80,400,300",),
        )
    width, height = scan.facts.width, scan.facts.height
    return [np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])], ["the picture"]


def _cut(scan: Scan, corners: FloatArray, side: int) -> FloatArray:
    """Return the light of the upright rectangle inside an area, or of its middle, (rows, columns, samples).

    A part outside the picture is cut off, as `Scan.area` does.
    """
    spans = []
    for values, extent in zip(corners.T, (scan.facts.width, scan.facts.height), strict=True):
        # The two inner corners in each direction bound the rectangle, in whichever direction the area leans.
        _, inner, outer, _ = np.sort(values)
        low, high = max(int(np.ceil(inner)), 0), min(int(np.floor(outer)), extent)
        spare = max(high - low - side, 0)
        spans.append((low + spare // 2, high - (spare - spare // 2)))
    (left, right), (top, bottom) = spans
    if right - left < 2 or bottom - top < 2:
        raise RecordError("a patch has no area", where=scan.facts.path.name, needed="a patch of many pixels")
    raw = scan.image.region(top, left, bottom, right) / scan.full_scale
    return scan.encoding.linearise(raw)


def _frame(scan: Scan, calibration: Calibration, given: LightReference | None) -> FloatArray | None:
    """Return a frame for the scanner's noise, as apparent transmittance; None if a value was given, not a picture."""
    if given is None:
        return None
    if given.area is not None:
        return calibration.apparent(_cut(scan, given.area, MOST_SIDE))
    if given.picture is None:
        return None
    with another(scan, given.picture) as other:
        width, height = other.facts.width, other.facts.height
        middle = np.array([[0.25, 0.25], [0.75, 0.25], [0.75, 0.75], [0.25, 0.75]]) * [width, height]
        return calibration.apparent(_cut(other, middle, MOST_SIDE))


def with_distinct_names(films: Sequence[Film], paths: Sequence[Path]) -> list[Film]:
    """Return films whose names differ: films with the same name are named by folder and file."""
    names = [film.name for film in films]
    return [
        replace(film, name=str(path.with_suffix(""))) if names.count(film.name) > 1 else film
        for film, path in zip(films, paths, strict=True)
    ]


def one_each(values: Sequence[Value], count: int, setting: str) -> list[Value | None]:
    """Return a setting's value for each of ``count`` films, from one value for all or one for each.

    Raises:
        RecordError: there are neither one nor ``count`` values.
    """
    if len(values) == count:
        return list(values)
    if len(values) > 1:
        raise RecordError(
            f"{len(values)} values are given",
            where=setting,
            needed=f"one, or one for each of {count} films",
            settings=(setting,),
        )
    return [values[0] if values else None] * count
