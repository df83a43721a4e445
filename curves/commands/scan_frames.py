"""``curves scan --frames``: pictures of a grey card bracketed on a roll become one strip."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from curves.commands.terminal import Interruption, Terminal

if TYPE_CHECKING:
    from curves.app.pictures.scan_job import ScanJob
    from curves.app.pictures.scan_writing import ScanFiles


def scan_frames(
    table: Path,
    files: ScanFiles,
    job: ScanJob,
    given: Mapping[str, str | None],
    terminal: Terminal | None,
    *,
    as_json: bool,
) -> None:
    """Measure the frames that a table lists, and write their record.

    Args:
        table: the frames: picture, ei or stops, and their rectangles, if they are known.
        files: the files to write.
        job: clear, dark, the calibration and the encoding of the pictures.
        given: answers that options give, by key of their question.
        terminal: where to ask; None where nobody is there.
        as_json: True to print JSON alone.
    """
    from curves.app.pictures import scan_job
    from curves.app.pictures.scan_notes import notes_on
    from curves.app.pictures.scan_writing import reader_section, scan_section
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
    try:
        with Scan(frames[0].picture, job.declared or LINEAR) as first:
            job = scan_choice.with_encoding(first, job, terminal)
            calibrated = scan_job.calibrate(first, job, f"calibration of {files.record.stem}")
            draft = scan_choice.draft_of(files.record, {**given, "exposure.method": "frames"}, terminal)
            measured = measure_frames(first, column, frames, calibrated.stored, calibrated.light)
            notes = notes_on(first, calibrated, measured, option_of)
            resolution = first.facts.dpi
        if not as_json:
            _print(measured, calibrated.stored.channels, [frame.picture.name for frame in frames], notes)
        question = f"Write {files.record} and what belongs to it? Enter writes, n does not > "
        if terminal is not None and terminal.ask(question).strip():
            raise Interruption
    except (Interruption, KeyboardInterrupt):
        print("No record was written.")
        return
    record: dict[str, Any] = draft | {
        "readings": files.readings.name,
        "reader": reader_section(measured, calibrated.stored),
        "scan": scan_section(table, files, resolution, calibrated.encoding.sentence),
    }
    _write(files, record, measured, calibrated.stored, spoken=not as_json)
    if as_json:
        from curves.app.pictures.scan_notes import scan_content
        from curves.files.results.content import json_text

        content = scan_content(measured, calibrated, notes, table)
        for patch, frame in zip(content["patches"], frames, strict=True):
            patch["picture"] = frame.picture.name
        print(json_text({"format": 1, "scan": {k: v for k, v in content.items() if k != "page"}}), end="")


def _print(measured: Any, channels: Any, pictures: list[str], notes: tuple[str, ...]) -> None:
    """Print the frames, and the area that was measured in each."""
    from curves.views.text.scan import patches_text

    labels = measured.areas.labels
    print(patches_text(labels, channels, measured.density, measured.error, measured.flags, (), notes))
    print("Measured, left,top,right,bottom; look at the pictures there before you trust a number:")
    for label, picture, corners in zip(labels, pictures, measured.areas.corners, strict=True):
        low, high = corners.min(axis=0), corners.max(axis=0)
        print(f"  {label:<10} {picture}: {low[0]:.0f},{low[1]:.0f},{high[0]:.0f},{high[1]:.0f}")


def _write(files: ScanFiles, record: dict[str, Any], measured: Any, stored: Any, *, spoken: bool) -> None:
    """Write the strip, and print the names of its files."""
    from curves.app.pictures.scan_writing import write_scan
    from curves.views.text.strip import checked_text

    doubts = write_scan(files, record, measured, stored)
    if spoken:
        print("Written: " + ", ".join(str(path) for path in reversed(files.all())))
        print(checked_text(str(files.record), None, doubts))
