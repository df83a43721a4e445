"""What a scan came to, as JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from curves.app.scan_job import ScanCalibration
from curves.files.scans.measurement import ScanMeasurement


def scan_content(
    measured: ScanMeasurement, calibrated: ScanCalibration, notes: tuple[str, ...], page: Path
) -> dict[str, Any]:
    """Return a scan's patches as plain dictionaries, lists, numbers and text.

    Args:
        measured: its patches.
        calibrated: how its light stands for density.
        notes: what to mind of it as a whole, each a sentence.
        page: the page that shows the patches.
    """
    channels = calibrated.stored.channels
    patches = []
    for row, position in enumerate(measured.areas.positions):
        of_channel = {
            channel: {
                "density": _number(measured.density[row, i]),
                "uncertainty": _number(measured.error[row, i]),
                "unevenness": _number(measured.lights[row][i].unevenness),
                "clipped": max(measured.lights[row][i].clipped_low, measured.lights[row][i].clipped_high),
                "dust": measured.lights[row][i].dust,
            }
            for i, channel in enumerate(channels)
        }
        flags = [
            {"code": f.code, "message": f.message, "channel": f.channel} for f in measured.flags if f.patch == row + 1
        ]
        patches.append(
            {measured.areas.column: position, "corners": measured.areas.corners[row].round(2).tolist(),
             "channels": of_channel, "flags": flags}
        )  # fmt: skip
    by_wedge = calibrated.stored.wedge is not None
    warnings = [{"code": "scan", "message": note} for note in notes]
    return {"patches": patches, "by_wedge": by_wedge, "warnings": warnings, "page": page.as_posix()}


def _number(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None
