"""``curves scan --frames``: pictures of a grey card bracketed on a roll become one strip."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curves.app.pictures.scan_job import ScanJob
    from curves.commands.scan_choice import ScanResult
    from curves.commands.terminal import Terminal
    from curves.files.scans.measurement import ScanMeasurement


def measured_frames(
    table: Path, record: Path, job: ScanJob, given: Mapping[str, str | None], terminal: Terminal | None
) -> ScanResult:
    """Return the strip of the frames that a table lists.

    Args:
        table: the frames: picture, ei or stops, and their rectangles, if they are known.
        record: the record to write.
        job: clear, dark, the calibration and the encoding of the pictures.
        given: answers that options give, by key of their question.
        terminal: where to ask; None where nobody is there.
    """
    from curves.app.pictures import scan_job
    from curves.app.pictures.scan_match import match_scan
    from curves.app.pictures.scan_notes import notes_on, scan_content
    from curves.app.pictures.scan_writing import MeasuredStrip
    from curves.commands import scan_choice
    from curves.commands.options import option_of
    from curves.errors import RecordError
    from curves.files.scans.frames import measure_frames, read_frames
    from curves.files.scans.scan import Scan
    from curves.sensitometry.scan.encoding import LINEAR

    column, frames = read_frames(table)
    if given["wedge"] is not None or given["exposure.lux"] is not None or given["exposure.seconds"] is not None:
        raise RecordError(
            "frames of a grey card went through no wedge, and a meter set their exposure",
            where="frames",
            hint="leave the wedge and the light out",
            settings=("frames", "ei=80"),
        )
    with Scan(frames[0].picture, job.declared or LINEAR) as first:
        job = scan_choice.with_encoding(first, job, terminal)
        calibrated = scan_job.calibrate(first, job, f"calibration of {record.stem}")
        draft = scan_choice.draft_of(record, {**given, "exposure.method": "frames"}, terminal)
        measured = measure_frames(first, column, frames, calibrated.stored, calibrated.light)
        notes = notes_on(first, calibrated, measured, option_of)
        matched = match_scan(first, calibrated, measured, job)
        notes += () if matched is None else matched.notes
        strip = MeasuredStrip(table, draft, calibrated, measured, (), notes, first.facts.dpi, matched)
    content, names = scan_content(strip), [frame.picture.name for frame in frames]
    for patch, name in zip(content["patches"], names, strict=True):
        patch["picture"] = name
    return scan_choice.ScanResult(strip, _places_text(measured, names), content)


def _places_text(measured: ScanMeasurement, pictures: list[str]) -> str:
    """Return the area that was measured in each frame, a line each."""
    lines = ["Measured, left,top,right,bottom; look at the pictures there before you trust a number:"]
    for label, picture, corners in zip(measured.areas.labels, pictures, measured.areas.corners, strict=True):
        low, high = corners.min(axis=0), corners.max(axis=0)
        lines.append(f"  {label:<10} {picture}: {low[0]:.0f},{low[1]:.0f},{high[0]:.0f},{high[1]:.0f}")
    return "\n".join(lines)
