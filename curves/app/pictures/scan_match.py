"""A scan matched to a densitometer: known densities beside those that the scan shows of the same patches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from curves.app.pictures.scan_job import ScanCalibration, ScanJob, measure_areas
from curves.errors import RecordError, StripError
from curves.files.scans.measurement import ScanMeasurement
from curves.files.scans.places import rectangle
from curves.files.scans.scan import Scan
from curves.files.sections.known_densities import KnownDensities, read_known_densities
from curves.files.sections.match_section import kept_patches
from curves.files.strips.patch_table import Areas
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.matching.matched_patches import MatchedPatches
from curves.sensitometry.matching.matched_strip import beyond, doubts_on, limits_of
from curves.sensitometry.matching.status_map import StatusMap, match
from curves.sensitometry.strip.origin import MATCHED_STATUSES, MatchedStatus


@dataclass(frozen=True, eq=False)
class ScanMatch:
    """A scan matched to a densitometer.

    Attributes:
        status: the densitometer's kind of density.
        table: name of the table of known densities.
        assumed: True if the uncertainty of the known densities is assumed.
        found: the map, with the patches that it was found from.
        u: median over the patches of the standard uncertainty that the map leaves them [density].
        notes: limits of the map, each a sentence.
    """

    status: MatchedStatus
    table: str
    assumed: bool
    found: StatusMap
    u: float
    notes: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The matching in a sentence: by how many patches, and how well."""
        met = (
            "too few to leave one out, so the error comes from the readings and from what is usual alone; five show how"
            " well they are met."
            if self.found.residual is None
            else f"residual {self.found.residual:.3f}, by which the others miss a patch that is left out."
        )
        return f"Matched to {self.status} by {len(self.found.patches.names)} patches of {self.table}: {met}"

    def content(self) -> dict[str, Any]:
        """Return the match as plain dictionaries, lists, numbers and text."""
        return {
            "status": self.status,
            "patches": len(self.found.patches.names),
            "residual": self.found.residual,
            "directions": self.found.directions,
            "matrix": self.found.matrix.tolist(),
            "matrix_u": self.found.matrix_error.tolist(),
            "u": self.u,
        }


def status_asked(job: ScanJob) -> MatchedStatus | None:
    """Return the kind of density that a scan is to be matched to; None if nothing is to be matched.

    The kind is given as "status A" or "status M", or by its letter alone.

    Raises:
        RecordError: one is given without the other, or the kind is not known.
    """
    text, table = job.match_to, job.match_patches
    if table is None and not text:
        return None
    if table is None:
        raise RecordError(
            "a kind of density is given, but not the patches that were read in it",
            where="match_to",
            needed="a table of densities that a densitometer read: step, red, green, blue",
            settings=("match_to", "match_patches=known.csv"),
        )
    letter = text.strip().lower().removeprefix("status").strip().upper()
    for status in MATCHED_STATUSES:
        if letter and status.endswith(letter):
            return status
    raise RecordError(
        f"'{text}' is not a kind of density to match" if text else "the kind of the known densities is not given",
        where="match_to" if text else table.name,
        needed="status A, as for film that is looked at, or status M, as for film that is printed: the densitometer"
        " shows which",
        settings=("match_to",) if text else ("match_to=A", "match_to=M"),
    )


def match_scan(scan: Scan, calibrated: ScanCalibration, measured: ScanMeasurement, job: ScanJob) -> ScanMatch | None:
    """Return a scan matched to a densitometer; None if the request does not ask for it.

    Args:
        scan: the picture; of a roll, the first.
        calibrated: its calibration.
        measured: the patches of the strip.
        job: the request.

    Raises:
        RecordError: the picture is grey, or the table cannot be understood or matched.
    """
    status, table = status_asked(job), job.match_patches
    if status is None or table is None:
        return None
    if calibrated.stored.channels != LAYERS:
        raise RecordError(
            "a grey picture has one channel, and nothing to match red, green and blue by",
            where=scan.facts.path.name,
            needed="a picture in colour",
            settings=("match_patches",),
        )
    known = read_known_densities(table)
    try:
        patches = _patches(scan, calibrated, measured, known)
        found = match(patches)
    except StripError as error:
        raise RecordError.of(error, table.name) from error
    left = np.sqrt((found.spread(patches.scanned, patches.common_error) ** 2).sum(axis=2))
    return ScanMatch(
        status,
        table.name,
        known.assumed,
        found,
        float(np.median(left)),
        (*limits_of(found), *doubts_on(found), *beyond(patches, measured.areas.labels, measured.density)),
    )


def _patches(
    scan: Scan, calibrated: ScanCalibration, measured: ScanMeasurement, known: KnownDensities
) -> MatchedPatches:
    """Return known densities beside the scan's."""
    if known.column == "scanned":
        return kept_patches(known)
    if known.column == "area":
        corners = [
            rectangle(",".join(f"{side:.10g}" for side in sides), scan.facts, place)
            for sides, place in zip(known.patches, known.places, strict=True)
        ]
        steps = tuple(float(n) for n in range(1, len(corners) + 1))
        measured = measure_areas(scan, calibrated, Areas("step", steps, np.array(corners)))
        rows = list(range(len(corners)))
    else:
        rows = [_row_of(measured, known, at) for at in range(len(known.names))]
    scanned, scatter = measured.density[rows], measured.scatter[rows]
    for name, place, densities in zip(known.names, known.places, scanned, strict=True):
        if not np.isfinite(densities).all():
            raise RecordError(
                f"{name} has no density in the scan, or not in all of red, green and blue",
                where=place,
                needed="patches that the scan shows in all three",
                hint="take this row out, or another patch",
            )
    common = np.sqrt(np.maximum(measured.error[rows] ** 2 - scatter**2, 0.0))
    return MatchedPatches(known.names, known.known, scanned, known.uncertainty, scatter, common)


def _row_of(measured: ScanMeasurement, known: KnownDensities, at: int) -> int:
    """Return the row of a known patch among the scan's patches.

    Raises:
        RecordError: the scan has no such patch.
    """
    areas, place = measured.areas, float(known.patches[at, 0])
    if known.column == areas.column and place in areas.positions:
        return areas.positions.index(place)
    raise RecordError(
        f"the scan has no {known.names[at]}",
        where=known.places[at],
        needed=f"patches by their {areas.column}, from {areas.labels[0]} to {areas.labels[-1]}",
    )
