"""Writing the files of a scanned strip: record, readings, patches and calibration, all of them or none."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import accumulate
from pathlib import Path
from typing import Any

import numpy as np

from curves.app.file_check import doubts_of
from curves.app.pictures.scan_job import ScanCalibration
from curves.app.pictures.scan_match import ScanMatch
from curves.errors import OutputError
from curves.files.base.record_edits import record_path, write_record
from curves.files.base.writing import all_or_none, write_new
from curves.files.scans.measurement import ScanMeasurement, patches_text
from curves.files.sections.known_densities import check_kept_patches, kept_patches_text
from curves.files.strips.calibration import CalibrationRecord, write_calibration
from curves.files.strips.patch_table import check_patches
from curves.files.strips.readings import check_readings
from curves.sensitometry.core.units import Channel
from curves.sensitometry.scan.patch_light import FilmPiece
from curves.sensitometry.uncertainty.results import Notice

LEAST_REPEATABILITY = 0.003
"""Least standard deviation of a scan's reading that a record states, even if pixels scatter less: our own choice
[density]."""

LEAST_ZERO = 0.005
"""Least standard uncertainty of a scan's zero that a record states: our own choice [density]."""

_DECIMALS = 3
"""Decimals of a scanned density in the table of readings; the scatter of a patch is about 0.002."""


@dataclass(frozen=True)
class ScanFiles:
    """The paths of a scanned strip's files.

    Attributes:
        record, readings, patches: the files of the strip.
        calibration: the file of the calibration.
        match: the table of matched patches; None if nothing is matched.
        calibrated: True if the calibration exists already; False if it is to be written.
    """

    record: Path
    readings: Path
    patches: Path
    calibration: Path
    match: Path | None
    calibrated: bool

    @classmethod
    def of(cls, name: Path, calibration: Path | None, *, matched: bool = False) -> ScanFiles:
        """Return the paths of a strip's files, with an existing calibration or, if None, with one of its own.

        Args:
            name: name of the record, with or without .toml.
            calibration: the calibration that exists.
            matched: True if the scan is matched to a densitometer.

        Raises:
            RecordError: the name cannot be the name of a file.
        """
        record = record_path(name)
        readings, patches, own = (
            record.with_name(f"{record.stem}{ending}") for ending in (".csv", "-patches.csv", "-calibration.toml")
        )
        match = record.with_name(f"{record.stem}-match.csv") if matched else None
        return cls(record, readings, patches, calibration or own, match, calibration is not None)

    def all(self) -> list[Path]:
        """Return every file to be written, each before the files that name it."""
        first = [*([] if self.calibrated else [self.calibration]), *([] if self.match is None else [self.match])]
        return [*first, self.patches, self.readings, self.record]

    def refuse_existing(self) -> None:
        """Refuse to write over an existing file, unless it can be what a run left that was killed before the record.

        Raises:
            OutputError: one of the files exists, and not with every file that is written before it.
        """
        there = [path.exists() for path in self.all()]
        for path, exists, before in zip(self.all(), there, accumulate(there, min), strict=True):
            if exists and (path == self.record or not before):
                raise OutputError("there is already such a file", where=str(path), hint="choose another NAME")


@dataclass(frozen=True, eq=False)
class MeasuredStrip:
    """A strip that was measured on pictures, before anything is written.

    Attributes:
        source: the picture, or the table that lists the pictures.
        draft: contents of the record, without what was measured.
        calibrated: the calibration of the pictures.
        measured: the densities of the patches.
        pieces: single pieces of film.
        notes: remarks on the whole, each a sentence.
        dpi: pixels per inch; None if not given.
        match: the matching to a densitometer; None if nothing was matched.
    """

    source: Path
    draft: dict[str, Any]
    calibrated: ScanCalibration
    measured: ScanMeasurement
    pieces: tuple[FilmPiece, ...]
    notes: tuple[str, ...]
    dpi: float | None
    match: ScanMatch | None = None

    def content(self, files: ScanFiles) -> dict[str, Any]:
        """Return the contents of the strip's record."""
        read = {piece.name: dict(piece.densities) for piece in self.pieces if piece.densities}
        return (
            self.draft
            | ({"patches": read} if read else {})
            | {
                "readings": files.readings.name,
                "reader": _reader_section(self.measured, self.calibrated.stored),
                "scan": self._section(files),
            }
            | self._match_section(files)
        )

    def _section(self, files: ScanFiles) -> dict[str, Any]:
        """Return the [scan] section, with paths relative to the record.

        The evidence against the encoding stands in every result until somebody removes it from there.
        """
        folder, doubt = files.record.parent, self.calibrated.encoding.sentence
        return {
            "image": relative(folder, self.source),
            "calibration": relative(folder, files.calibration),
            **({} if self.dpi is None else {"dpi": round(float(self.dpi), 2)}),
            **({"encoding_doubt": doubt} if doubt else {}),
            "patches": files.patches.name,
        }

    def _match_section(self, files: ScanFiles) -> dict[str, Any]:
        """Return the [match] section under its name; empty if nothing was matched."""
        if self.match is None or files.match is None:
            return {}
        return {"match": {"status": self.match.status, "patches": files.match.name}}


def relative(folder: Path, path: Path) -> str:
    """Return a path relative to a folder, with forward slashes."""
    return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()


def _reader_section(measured: ScanMeasurement, stored: CalibrationRecord) -> dict[str, Any]:
    """Return the [reader] section of a record, with the scanner as the reader.

    Its repeatability is the typical error that differs from patch to patch; the table of patches holds the error that
    patches have in common.
    """
    scatter = measured.scatter[np.isfinite(measured.scatter)]
    return {
        "name": f"scanner, {stored.title}",
        "repeatability": round(max(float(np.median(scatter)), LEAST_REPEATABILITY), 4),
        "zero": LEAST_ZERO,
    }


def readings_rows(measured: ScanMeasurement, channels: Sequence[Channel]) -> list[tuple[float, dict[Channel, float]]]:
    """Return the rows of the table of readings: what lists them, and densities, rounded; none where there is none."""
    return [
        (float(f"{place:g}"), {c: round(d, _DECIMALS) for c, d in zip(channels, row, strict=True) if not math.isnan(d)})
        for place, row in zip(measured.areas.positions, measured.density.tolist(), strict=True)
    ]


def readings_text(column: str, channels: Sequence[Channel], rows: list[tuple[float, dict[Channel, float]]]) -> str:
    """Return the table of readings (CSV); a patch without density has an empty cell."""
    lines = [",".join([column, *channels])]
    for place, row in rows:
        cells = [f"{row[c]:.{_DECIMALS}f}" if c in row else "" for c in channels]
        lines.append(",".join([f"{place:g}", *cells]))
    return "\n".join(lines) + "\n"


def write_scan(files: ScanFiles, strip: MeasuredStrip) -> tuple[Notice, ...]:
    """Write a scanned strip, and remove its files again if the strip does not load.

    Args:
        files: paths of the files.
        strip: the strip.

    Returns:
        The doubts about the strip as it loads.

    Raises:
        CurvesError: the strip could not be written, or does not load.
    """
    # Somebody may have written there since the questions began.
    files.refuse_existing()
    stored, measured = strip.calibrated.stored, strip.measured
    rows = readings_rows(measured, stored.channels)
    with all_or_none(*files.all()):
        if not files.calibrated:
            write_calibration(files.calibration, stored)
        if files.match is not None and strip.match is not None:
            patches = strip.match.found.patches
            text = kept_patches_text(patches, assumed=strip.match.assumed)
            write_new(files.match, text, partial(check_kept_patches, patches))
        write_new(files.patches, patches_text(measured, stored.channels), partial(check_patches, measured.flags))
        text = readings_text(measured.areas.column, stored.channels, rows)
        write_new(files.readings, text, partial(check_readings, rows))
        write_record(files.record, strip.content(files))
        return doubts_of(files.record)
