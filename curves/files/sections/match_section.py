"""The section [match] of a record: a scan's densities are matched to those of a densitometer whenever the record loads.

    [match]
    status = "status A"
    patches = "known.csv"
    reader = "club densitometer"
    zero = 0.01
    scale_uncertainty = 0.01

The record and the table hold what was measured, and the map is found again each time: the readings stay the scan's own.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from curves.errors import RecordError, StripError
from curves.files.base.fields import Section
from curves.files.sections.known_densities import KnownDensities, read_known_densities
from curves.sensitometry.core.units import LAYERS, FloatArray
from curves.sensitometry.core.values import DENSITY, FRACTION
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.matching.matched_patches import MatchedPatches
from curves.sensitometry.matching.matched_strip import MatchReader, common_of, matched
from curves.sensitometry.strip.exposure import Frames
from curves.sensitometry.strip.origin import MATCHED_STATUSES
from curves.sensitometry.strip.strip import Strip

_SAME = 0.05
"""Distance at which a row and a known patch are one: an index on the dial stands for stops within 0.02 [steps or
stops]."""

KEYS = ("status", "patches", "reader", "zero", "scale_uncertainty")


def matched_in(record: Section, path: Path, strip: Strip) -> Strip:
    """Return a strip matched as its record's section [match] says.

    Args:
        record: the whole record.
        path: its file; the table is looked for beside it.
        strip: the strip as scanned.

    Raises:
        RecordError: the section or its table cannot be understood, or the patches cannot be matched.
    """
    section = record.section("match", f"{path.name}, [match]")
    section.only(*KEYS)
    status = section.word("status", MATCHED_STATUSES)
    known = read_known_densities(
        path.parent / section.text("patches", needed="the table of known densities, such as known.csv")
    )
    reader = MatchReader(
        section.text("reader") or f"densitometer of {known.table}",
        section.number("zero", DENSITY),
        section.number("scale_uncertainty", FRACTION),
    )
    try:
        return matched(strip, patches_of_strip(known, strip), status, reader, assumed=known.assumed)
    except StripError as error:
        raise RecordError.of(error, f"{path.name}, [match]") from error


def kept_patches(known: KnownDensities) -> MatchedPatches:
    """Return the patches of a table that a scan kept: the scan's densities stand in the table.

    Raises:
        StripError: the patches cannot be matched.
    """
    scanned, scatter, common = np.split(known.patches, 3, axis=1)
    return MatchedPatches(known.names, known.known, scanned, known.uncertainty, scatter, common)


def patches_of_strip(known: KnownDensities, strip: Strip) -> MatchedPatches:
    """Return known densities beside a scan's own: those of the strip's rows, or those that the table keeps.

    Raises:
        RecordError: the strip has no such row, or it was not read in all layers; or the table tells areas of a picture.
        StripError: the patches cannot be matched.
    """
    if known.column == "area":
        raise RecordError(
            "the table tells patches by their place in a picture, and a record looks at none",
            where=known.table,
            needed="a column step, or the table that a scan of these places kept",
            hint="scan the strip again with this table",
            settings=("match_patches",),
        )
    if known.column == "scanned":
        return kept_patches(known)
    columns = [p for p in strip.exposure.positions if p != "log_h"]
    if known.column not in columns:
        raise RecordError(
            f"patches are listed by {known.column}, but the strip's rows are not",
            where=known.table,
            needed=f"a column {' or '.join(columns)}" if columns else "the table that a scan kept",
        )
    readings = np.column_stack([strip.readings.get(c, np.full(strip.position.size, np.nan)) for c in LAYERS])
    scanned = np.array([_mean_of(known, at, strip, readings) for at in range(len(known.names))])
    scatter = np.full(scanned.shape, strip.repeatability or ASSUMED_REPEATABILITY)
    return MatchedPatches(known.names, known.known, scanned, known.uncertainty, scatter, common_of(strip, scanned))


def _mean_of(known: KnownDensities, at: int, strip: Strip, readings: FloatArray) -> FloatArray:
    """Return the mean of a strip's readings of one known patch, (3,) [density]."""
    place = known.patches[at]
    if known.column == "ei" and isinstance(strip.exposure, Frames):
        place = strip.exposure.stops_of_ei(place)
    rows = np.flatnonzero(np.isclose(strip.position, place[0], rtol=0.0, atol=_SAME))
    if not rows.size:
        raise RecordError(
            f"the strip has no {known.names[at]}",
            where=known.places[at],
            needed=f"one of {strip.labels[0]} to {strip.labels[-1]}",
        )
    read = readings[rows][np.isfinite(readings[rows]).all(axis=1)]
    if not read.size:
        raise RecordError(
            f"{known.names[at]} has no density in the scan, or not in all of red, green and blue",
            where=known.places[at],
            needed="steps that the scan shows in all three",
            hint="take this row out, or another step",
        )
    return np.asarray(read.mean(axis=0))
