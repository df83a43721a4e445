"""The files of a scanned strip: record, readings, patches and calibration, all of them or none."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from curves.app.file_check import doubts_of
from curves.errors import OutputError
from curves.files.base.record_edits import record_path, write_record
from curves.files.base.writing import all_or_none, write_atomically
from curves.files.scans.measurement import ScanMeasurement, patches_text
from curves.files.strips.calibration import CalibrationRecord, write_calibration
from curves.sensitometry.uncertainty.results import Notice

LEAST_REPEATABILITY = 0.003
"""Least standard deviation of a scan's reading that a record states, whatever its pixels say: our own choice
[density]."""

LEAST_ZERO = 0.005
"""Least standard uncertainty of a scan's zero that a record states: our own choice [density]."""

_DECIMALS = 3


@dataclass(frozen=True)
class ScanFiles:
    """Where the files go.

    Attributes:
        record, readings, patches: the strip.
        calibration: what tells density.
        calibrated: True if the calibration is there already, and only named; False if it is to be written.
    """

    record: Path
    readings: Path
    patches: Path
    calibration: Path
    calibrated: bool

    @classmethod
    def of(cls, name: Path, calibration: Path | None) -> ScanFiles:
        """Return the files of a strip called ``name``, and of the calibration that is there; None: of its own.

        Raises:
            RecordError: the name is no name of a file.
        """
        record = record_path(name)
        readings, patches, own = (
            record.with_name(f"{record.stem}{ending}") for ending in (".csv", "-patches.csv", "-calibration.toml")
        )
        return cls(record, readings, patches, calibration or own, calibration is not None)

    def all(self) -> list[Path]:
        """Return every file to be written, those that others name first."""
        return [*([] if self.calibrated else [self.calibration]), self.patches, self.readings, self.record]

    def refuse_existing(self) -> None:
        """Refuse to write over anything.

        Raises:
            OutputError: one of the files is there.
        """
        for path in self.all():
            if path.exists():
                raise OutputError("there is already such a file", where=str(path), hint="choose another NAME")


def scan_section(image: Path, files: ScanFiles, dpi: float | None) -> dict[str, Any]:
    """Return what a record says of its scan; paths as seen from the record.

    Args:
        image: the picture.
        files: the strip's files.
        dpi: pixels per inch; None if nobody said.
    """
    folder = files.record.parent
    section: dict[str, Any] = {"image": relative(folder, image), "calibration": relative(folder, files.calibration)}
    if dpi is not None:
        section["dpi"] = round(float(dpi), 2)
    return section | {"patches": files.patches.name}


def relative(folder: Path, path: Path) -> str:
    """Return a path as seen from a folder, with forward slashes."""
    return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()


def reader_section(measured: ScanMeasurement, stored: CalibrationRecord) -> dict[str, Any]:
    """Return what a record says of the scanner as a reader of densities.

    Its repeatability is what typically differs from patch to patch. What patches have in common stands in their table.
    """
    scatter = measured.scatter[np.isfinite(measured.scatter)]
    return {
        "name": f"scanner, {stored.title}",
        "repeatability": round(max(float(np.median(scatter)), LEAST_REPEATABILITY), 4),
        "zero": LEAST_ZERO,
    }


def readings_text(measured: ScanMeasurement, channels: tuple[str, ...]) -> str:
    """Return the table of readings (CSV); a patch without density has an empty cell."""
    lines = [",".join([measured.areas.column, *channels])]
    for position, row in zip(measured.areas.positions, measured.density, strict=True):
        cells = ["" if math.isnan(d) else f"{d:.{_DECIMALS}f}" for d in row]
        lines.append(",".join([f"{position:g}", *cells]))
    return "\n".join(lines) + "\n"


def write_scan(
    files: ScanFiles, content: dict[str, Any], measured: ScanMeasurement, stored: CalibrationRecord
) -> tuple[Notice, ...]:
    """Write a scanned strip, and take it back if it would not load.

    Args:
        files: where to.
        content: what the record says.
        measured: its patches.
        stored: its calibration.

    Returns:
        What is doubtful in the strip as it loads.

    Raises:
        CurvesError: it could not be written, or would not load.
    """
    # Somebody may have written there since the questions began.
    files.refuse_existing()
    with all_or_none(*files.all()):
        if not files.calibrated:
            write_calibration(files.calibration, stored)
        write_atomically(files.patches, patches_text(measured, stored.channels))
        write_atomically(files.readings, readings_text(measured, stored.channels))
        write_record(files.record, content)
        return doubts_of(files.record)
