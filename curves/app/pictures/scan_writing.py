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
from curves.app.pictures.scan_match import ScanMatch
from curves.errors import OutputError
from curves.files.base.record_edits import record_path, write_record
from curves.files.base.writing import all_or_none, write_new
from curves.files.matching.kept_patches import check_kept_patches, kept_patches_text
from curves.files.scans.measurement import ScanMeasurement, patches_text
from curves.files.strips.calibration import CalibrationRecord, write_calibration
from curves.files.strips.patch_table import check_patches
from curves.files.strips.readings import check_readings
from curves.sensitometry.core.units import Channel
from curves.sensitometry.uncertainty.results import Notice

LEAST_REPEATABILITY = 0.003
"""Least standard deviation of a scan's reading that a record states, even if pixels scatter less: our own choice
[density]."""

LEAST_ZERO = 0.005
"""Least standard uncertainty of a scan's zero that a record states: our own choice [density]."""

_DECIMALS = 3


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


def scan_section(image: Path, files: ScanFiles, dpi: float | None, doubt: str = "") -> dict[str, Any]:
    """Return the [scan] section of a record, with paths relative to the record.

    Args:
        image: the picture.
        files: the strip's files.
        dpi: pixels per inch; None if not given.
        doubt: the evidence against the encoding, a sentence; it stands in every result until somebody removes it.
    """
    folder = files.record.parent
    section: dict[str, Any] = {"image": relative(folder, image), "calibration": relative(folder, files.calibration)}
    if dpi is not None:
        section["dpi"] = round(float(dpi), 2)
    if doubt:
        section["encoding_doubt"] = doubt
    return section | {"patches": files.patches.name}


def relative(folder: Path, path: Path) -> str:
    """Return a path relative to a folder, with forward slashes."""
    return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()


def reader_section(measured: ScanMeasurement, stored: CalibrationRecord) -> dict[str, Any]:
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


def match_section(files: ScanFiles, matched: ScanMatch) -> dict[str, Any]:
    """Return the [match] section of a record."""
    assert files.match is not None
    return {"status": matched.status, "patches": files.match.name}


def write_scan(
    files: ScanFiles,
    content: dict[str, Any],
    measured: ScanMeasurement,
    stored: CalibrationRecord,
    matched: ScanMatch | None = None,
) -> tuple[Notice, ...]:
    """Write a scanned strip, and remove its files again if the strip does not load.

    Args:
        files: paths of the files.
        content: contents of the record.
        measured: patches of the strip.
        stored: calibration of the scan.
        matched: the matching to a densitometer; None if nothing is matched.

    Returns:
        The doubts about the strip as it loads.

    Raises:
        CurvesError: the strip could not be written, or does not load.
    """
    # Somebody may have written there since the questions began.
    files.refuse_existing()
    channels = stored.channels
    rows = readings_rows(measured, channels)
    with all_or_none(*files.all()):
        if not files.calibrated:
            write_calibration(files.calibration, stored)
        if files.match is not None and matched is not None:
            patches = matched.found.patches
            text = kept_patches_text(patches, assumed=matched.assumed)
            write_new(files.match, text, partial(check_kept_patches, patches))
        write_new(files.patches, patches_text(measured, channels), partial(check_patches, measured.flags))
        text = readings_text(measured.areas.column, channels, rows)
        write_new(files.readings, text, partial(check_readings, rows))
        write_record(files.record, content)
        return doubts_of(files.record)
