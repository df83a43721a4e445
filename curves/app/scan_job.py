"""The steps from a scan to the densities of its patches, as a person asks for them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.errors import RecordError, StripError
from curves.files.scans.light import Light, agrees, known_ladder, light_of, stored_of, wedge_light
from curves.files.scans.measurement import ScanMeasurement, measure
from curves.files.scans.places import four_corners, rectangle, reference, table_of_areas
from curves.files.scans.scan import Scan, another, find_in
from curves.files.strips.calibration import CalibrationRecord, WedgeLight, read_calibration
from curves.files.strips.patch_table import Areas
from curves.files.strips.wedges import wedge_named
from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.scan.ladder import Ladder, ladder_of_corners
from curves.sensitometry.scan.patch_light import FilmPiece
from curves.sensitometry.strip.wedge import Wedge

_SEVERAL_STEPS = 0.3
"""Change of density across a patch that uneven light cannot make: our own choice [density]."""


@dataclass(frozen=True)
class ScanJob:
    """The request to measure a scan, as a person typed it; an empty text was not given.

    Attributes:
        clear, dark: values, "area:left,top,right,bottom", or the name of another scan.
        calibration: a calibration file.
        known: densities of a calibration wedge: a table, or steps x increment.
        known_area, known_corners: place of the calibration wedge in its picture.
        known_image: the picture of the calibration wedge, if it is not the strip's.
        area, corners: place of the strip.
        patches: a table of rectangles, in place of a search.
        base, unexposed, fully_exposed: places of single pieces of film, each left,top,right,bottom.
    """

    clear: str = ""
    dark: str = ""
    calibration: Path | None = None
    known: str = ""
    known_area: str = ""
    known_corners: str = ""
    known_image: Path | None = None
    area: str = ""
    corners: str = ""
    patches: Path | None = None
    base: str = ""
    unexposed: str = ""
    fully_exposed: str = ""


@dataclass(frozen=True, eq=False)
class ScanCalibration:
    """The calibration of a scan.

    Attributes:
        stored: the calibration as a file keeps it.
        light: clear and dark in this picture.
        wedge: place of the calibration wedge; None if no wedge was scanned with the strip.
    """

    stored: CalibrationRecord
    light: Light
    wedge: WedgePlace | None = None


@dataclass(frozen=True, eq=False)
class WedgePlace:
    """The place of a calibration wedge.

    Attributes:
        ladder: the steps of the wedge.
        image: the picture of the wedge; None if it is the strip's own.
    """

    ladder: Ladder
    image: Path | None


@dataclass(frozen=True, eq=False)
class PatchSearch:
    """The areas of a strip's patches, or the reason why they are not certain.

    Attributes:
        areas: the areas of the patches; None if they are not certain.
        looked: corners of the place where a search ended, (4, 2) [pixels]; None without a search.
        doubt, hint: the reason why the patches are not certain, as a clause, and what to try; empty if they are.
        notes: remarks, each a sentence.
        settings: the parameters of a search that carry the hint out.
    """

    areas: Areas | None
    looked: FloatArray | None = None
    doubt: str = ""
    hint: str = ""
    notes: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()


def calibrate(scan: Scan, job: ScanJob, title: str) -> ScanCalibration:
    """Return the calibration of a scan.

    Raises:
        RecordError: the clear light is not given or cannot be used, or the place of a calibration wedge is given
            without the wedge.
    """
    _refuse_idle(job)
    if job.calibration is not None:
        stored = read_calibration(job.calibration)
        agrees(scan, stored, job.calibration.name)
        # A scan of the empty gate still shows how light falls off in this frame.
        field = reference(job.clear, scan.facts, "--clear").picture if job.clear else None
        given = [
            n for n, g in (("--clear", job.clear and not field), ("--dark", job.dark), ("--known", job.known)) if g
        ]
        if given:
            raise RecordError(f"{given[0]} is given as well", where="--calibration", needed="one or the other")
        return ScanCalibration(stored, Light(stored.clear, stored.dark, stored.assumed_dark, field))
    if not job.clear:
        raise RecordError(
            "clear, the light of the empty gate, is not given",
            where=scan.facts.path.name,
            needed="--clear with values, area:left,top,right,bottom, or a scan of the empty gate; or --calibration",
        )
    dark = reference(job.dark, scan.facts, "--dark") if job.dark else None
    light = light_of(scan, reference(job.clear, scan.facts, "--clear"), dark)
    if not job.known:
        return ScanCalibration(stored_of(scan, title, light, None), light)
    read, place = _known(scan, job, light)
    return ScanCalibration(stored_of(scan, title, light, read), light, place)


def _refuse_idle(job: ScanJob) -> None:
    """Refuse the place of a calibration wedge that would have no effect."""
    where = {
        "--known-area": job.known_area, "--known-corners": job.known_corners, "--known-image": job.known_image,
    }  # fmt: skip
    idle = [option for option, given in where.items() if given]
    if idle and not job.known:
        raise RecordError(
            "the place of a calibration wedge is given, but not its densities",
            where=idle[0],
            needed="--known with a table of its densities, or steps x increment",
        )
    if job.known_area and job.known_corners:
        raise RecordError("--known-area is given as well", where="--known-corners", needed="one or the other")


def _known(scan: Scan, job: ScanJob, light: Light) -> tuple[WedgeLight, WedgePlace]:
    """Return the light and the place of the calibration wedge."""
    wedge = wedge_named(job.known, Path(), "known")
    if job.known_image is None:
        if not (job.known_area or job.known_corners):
            raise RecordError(
                "the place of the calibration wedge is not given",
                where="--known",
                needed="--known-area or --known-corners in this picture, or --known-image with another",
            )
        ladder = _known_ladder(scan, job, wedge)
        return wedge_light(scan, light, ladder, wedge), WedgePlace(ladder, None)
    with another(scan, job.known_image) as other:
        ladder = _known_ladder(other, job, wedge)
        return wedge_light(other, light, ladder, wedge), WedgePlace(ladder, job.known_image)


def _known_ladder(scan: Scan, job: ScanJob, wedge: Wedge) -> Ladder:
    if job.known_corners:
        return _ladder(four_corners(job.known_corners, scan.facts, "--known-corners"), wedge.steps, "--known-corners")
    area = rectangle(job.known_area, scan.facts, "--known-area") if job.known_area else None
    return known_ladder(scan, wedge, area)


def find_patches(scan: Scan, job: ScanJob, steps: int | None, kind: Kind) -> PatchSearch:
    """Return the areas of the patches: as the person gives them, or by a search.

    Args:
        scan: the picture.
        job: the request.
        steps: number of steps; not needed with a table of rectangles.
        kind: kind of the film, which tells the end of step 1.

    Raises:
        RecordError: options contradict each other, or one that is needed is not given.
    """
    if job.patches is not None:
        if job.corners or job.area:
            raise RecordError("--corners or --area is given as well", where="--patches", needed="one or the other")
        return PatchSearch(table_of_areas(job.patches, scan.facts))
    if steps is None:
        raise RecordError(
            "frames of a grey card do not form a ladder, which a search could find",
            where=scan.facts.path.name,
            needed="--patches with a table: stops or ei, and left, top, right, bottom",
        )
    if job.corners and job.area:
        raise RecordError("--area is given as well", where="--corners", needed="one or the other")
    if job.corners:
        return PatchSearch(areas_of(_ladder(four_corners(job.corners, scan.facts, "--corners"), steps)))
    area = rectangle(job.area, scan.facts, "--area") if job.area else None
    search = find_in(scan, steps, kind, area)
    if search.ladder is None:
        looked = None if search.looked is None else search.looked.corners
        return PatchSearch(None, looked, search.doubt, search.hint, settings=search.settings)
    return PatchSearch(areas_of(search.ladder), notes=search.notes)


def _ladder(corners: FloatArray, steps: int, where: str = "--corners") -> Ladder:
    try:
        return ladder_of_corners(corners, steps)
    except StripError as error:
        raise RecordError.of(error, where) from error


def areas_of(ladder: Ladder) -> Areas:
    """Return the areas of a ladder's steps: the middle part of each."""
    steps = range(1, ladder.steps + 1)
    return Areas("step", tuple(float(s) for s in steps), np.array([ladder.patch(step) for step in steps]))


def refuse_mixed(measured: ScanMeasurement, image: str) -> None:
    """Refuse areas that hold several steps each.

    Raises:
        RecordError: most patches are far from even.
    """
    uneven = sum(any(p.unevenness > _SEVERAL_STEPS for p in patch) for patch in measured.lights)
    if uneven > 0.5 * len(measured.lights):
        raise RecordError(
            f"{uneven} of {len(measured.lights)} patches are far from even, as if each held several steps",
            where=image,
            needed="patches that each lie inside one step",
            hint="begin --corners at step 1's outer edge, a short side of the strip; or mend the table of rectangles",
        )


def measure_areas(scan: Scan, calibrated: ScanCalibration, areas: Areas) -> ScanMeasurement:
    """Return the density of every patch."""
    whole, _ = scan.whole()
    return measure(scan, areas, calibrated.stored.calibration().for_picture(whole), calibrated.light)


def measure_pieces(
    scan: Scan, calibrated: ScanCalibration, job: ScanJob
) -> tuple[tuple[FilmPiece, ...], tuple[str, ...]]:
    """Return the single pieces of film that the request names, and remarks on them, each a sentence.

    Raises:
        RecordError: a place is not a rectangle in the picture, or has too few pixels.
    """
    named = {"base": job.base, "unexposed": job.unexposed, "fully_exposed": job.fully_exposed}
    corners = {n: rectangle(text, scan.facts, "--" + n.replace("_", "-")) for n, text in named.items() if text}
    if not corners:
        return (), ()
    areas = Areas("step", tuple(range(1, len(corners) + 1)), np.array(list(corners.values())))
    found = measure_areas(scan, calibrated, areas)
    channels = calibrated.stored.channels
    pieces = [
        FilmPiece(name, place, {c: round(float(d), 3) for c, d in zip(channels, row, strict=True) if np.isfinite(d)})
        for (name, place), row in zip(corners.items(), found.density, strict=True)
    ]
    notes = [f"The {pieces[f.patch - 1].label} piece, {f.channel}: {f.message}." for f in found.flags]
    return tuple(pieces), tuple(notes)
