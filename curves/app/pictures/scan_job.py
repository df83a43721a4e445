"""The steps from a scan to the densities of its patches, as a person asks for them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.app.pictures.scan_encoding import EncodingChoice, by_calibration, by_wedge, wedge_numbers, without_wedge
from curves.errors import RecordError, StripError
from curves.files.scans.light import Light, agrees, known_ladder, light_of, stored_of, wedge_light
from curves.files.scans.measurement import ScanMeasurement, measure
from curves.files.scans.places import four_corners, rectangle, reference, table_of_areas
from curves.files.scans.scan import Scan, another, find_in
from curves.files.strips.calibration import CalibrationRecord, WedgeLight, read_calibration
from curves.files.strips.patch_table import Areas
from curves.files.strips.wedges import wedge_named
from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.scan.encoding import LINEAR, Encoding, parse_encoding
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
        encoding: the rule by which numbers follow light.
        match_patches: a table of a densitometer's densities, to match the scan to.
        match_to: the kind of these densities.
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
    encoding: str = ""
    match_patches: Path | None = None
    match_to: str = ""

    @property
    def declared(self) -> Encoding | None:
        """The encoding that the person gives; None if none is given."""
        return parse_encoding(self.encoding) if self.encoding else None


@dataclass(frozen=True, eq=False)
class ScanCalibration:
    """The calibration of a scan.

    Attributes:
        stored: the calibration as a file keeps it.
        light: clear and dark in this picture.
        encoding: the encoding that the picture is read by, and what speaks for it and against it.
        wedge: place of the calibration wedge; None if no wedge was scanned with the strip.
    """

    stored: CalibrationRecord
    light: Light
    encoding: EncodingChoice
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
    """Return the calibration of a scan, and read the scan by its encoding from then on.

    Raises:
        RecordError: the clear light is not given or cannot be used, the place of a calibration wedge is given without
            the wedge, or nothing tells the encoding of a picture that looks encoded.
    """
    _refuse_idle(job)
    if job.calibration is not None:
        return _kept(scan, job, job.calibration)
    if not job.clear:
        raise RecordError(
            "clear, the light of the empty gate, is not given",
            where=scan.facts.path.name,
            needed="its values, area:left,top,right,bottom, or a scan of the empty gate; or a calibration",
            settings=("clear", "calibration"),
        )
    if not job.known:
        choice = without_wedge(scan, job.declared)
        light = _light(scan, job)
        return ScanCalibration(stored_of(scan, title, light, None), light, choice)
    wedge = wedge_named(job.known, Path(), "known")
    scan.read_as(job.declared or LINEAR)
    place = _wedge_place(scan, job, wedge)
    scan.read_as(LINEAR)
    plain = _light(scan, job)
    choice = by_wedge(scan, wedge_numbers(plain, _wedge_light(scan, plain, wedge, place)), job.declared)
    light = _light(scan, job)
    read = _wedge_light(scan, light, wedge, place)
    return ScanCalibration(stored_of(scan, title, light, read), light, choice, place)


def _kept(scan: Scan, job: ScanJob, path: Path) -> ScanCalibration:
    """Return a calibration of earlier."""
    stored = read_calibration(path)
    scan.read_as(job.declared or stored.encoding)
    agrees(scan, stored, path.name)
    # A scan of the empty gate still shows how light falls off in this frame.
    field = reference(job.clear, scan.facts, "clear").picture if job.clear else None
    given = [n for n, g in (("clear", job.clear and not field), ("dark", job.dark), ("known", job.known)) if g]
    if given:
        raise _both("calibration", given[0])
    light = Light(stored.clear, stored.dark, stored.assumed_dark, field)
    return ScanCalibration(stored, light, by_calibration(scan, stored))


def _both(*settings: str) -> RecordError:
    """Return the refusal of settings that exclude each other."""
    return RecordError(
        "it excludes another that is given as well",
        where=settings[0],
        needed="one or the other",
        hint="leave out this one or the other",
        settings=settings,
    )


def _light(scan: Scan, job: ScanJob) -> Light:
    dark = reference(job.dark, scan.facts, "dark") if job.dark else None
    return light_of(scan, reference(job.clear, scan.facts, "clear"), dark)


def _refuse_idle(job: ScanJob) -> None:
    """Refuse the place of a calibration wedge that would have no effect."""
    where = {"known_area": job.known_area, "known_corners": job.known_corners, "known_image": job.known_image}
    idle = [setting for setting, given in where.items() if given]
    if idle and not job.known:
        raise RecordError(
            "the place of a calibration wedge is given, but not its densities",
            where=idle[0],
            needed="a table of its densities, or steps x increment",
            settings=(idle[0], "known"),
        )
    if job.known_area and job.known_corners:
        raise _both("known_corners", "known_area")


def _wedge_place(scan: Scan, job: ScanJob, wedge: Wedge) -> WedgePlace:
    """Return the place of the calibration wedge."""
    if job.known_image is not None:
        with another(scan, job.known_image) as other:
            return WedgePlace(_known_ladder(other, job, wedge), job.known_image)
    if not (job.known_area or job.known_corners):
        raise RecordError(
            "the place of the calibration wedge is not given",
            where="known",
            needed="its part of this picture, its corners, or another picture of it",
            settings=("known", "known_area", "known_corners", "known_image"),
        )
    return WedgePlace(_known_ladder(scan, job, wedge), None)


def _wedge_light(scan: Scan, light: Light, wedge: Wedge, place: WedgePlace) -> WedgeLight:
    """Return the light of the calibration wedge in its place."""
    if place.image is None:
        return wedge_light(scan, light, place.ladder, wedge)
    with another(scan, place.image) as other:
        return wedge_light(other, light, place.ladder, wedge)


def _known_ladder(scan: Scan, job: ScanJob, wedge: Wedge) -> Ladder:
    if job.known_corners:
        return _ladder(four_corners(job.known_corners, scan.facts, "known_corners"), wedge.steps, "known_corners")
    area = rectangle(job.known_area, scan.facts, "known_area") if job.known_area else None
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
            raise _both("patches", "corners" if job.corners else "area")
        return PatchSearch(table_of_areas(job.patches, scan.facts))
    if steps is None:
        raise RecordError(
            "frames of a grey card do not form a ladder, which a search could find",
            where=scan.facts.path.name,
            needed="a table of patches: stops or ei, and left, top, right, bottom",
            settings=("patches",),
        )
    if job.corners and job.area:
        raise _both("corners", "area")
    if job.corners:
        return PatchSearch(areas_of(_ladder(four_corners(job.corners, scan.facts, "corners"), steps)))
    area = rectangle(job.area, scan.facts, "area") if job.area else None
    search = find_in(scan, steps, kind, area)
    if search.ladder is None:
        looked = None if search.looked is None else search.looked.corners
        return PatchSearch(None, looked, search.doubt, search.hint, settings=search.settings)
    return PatchSearch(areas_of(search.ladder), notes=search.notes)


def _ladder(corners: FloatArray, steps: int, where: str = "corners") -> Ladder:
    try:
        return ladder_of_corners(corners, steps)
    except StripError as error:
        raise RecordError(error.what, where=where, needed=error.needed, hint=error.hint, settings=(where,)) from error


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
            hint="begin the corners at step 1's outer edge, a short side of the strip; or mend the table of rectangles",
            settings=("corners", "patches"),
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
    corners = {n: rectangle(text, scan.facts, n) for n, text in named.items() if text}
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
