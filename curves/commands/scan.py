"""``curves scan``: a scan of a strip, or pictures of a grey card bracketed on a roll, become a strip record."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curves.commands.options import Json, PageFolder, RecordOptions, option_of, with_options

if TYPE_CHECKING:
    from curves.app.pictures.scan_job import ScanJob
    from curves.app.pictures.scan_writing import ScanFiles
    from curves.commands.scan_choice import ScanResult
    from curves.commands.terminal import Terminal
    from curves.files.entry.questions import Draft
    from curves.files.scans.measurement import ScanMeasurement


@with_options(RecordOptions)
def scan(
    wanted: RecordOptions,
    image: Annotated[
        Path,
        typer.Argument(
            metavar="IMAGE",
            help="TIFF, PNG or JPEG, grey or RGB, or the raw file of a camera; left out with --frames.",
        ),
    ],
    name: Annotated[
        Path | None,
        typer.Argument(metavar="NAME", help="The record to write, with or without .toml.", show_default=False),
    ] = None,
    frames: Annotated[
        Path | None,
        typer.Option(
            metavar="TABLE", help="A roll of grey cards: picture, ei or stops; left, top, right, bottom if you like."
        ),
    ] = None,
    clear: Annotated[
        str, typer.Option(help="The empty gate: values, area:LEFT,TOP,RIGHT,BOTTOM, or another scan of it.")
    ] = "",
    dark: Annotated[str, typer.Option(help="No light: values, an area, or another scan; zero if not given.")] = "",
    calibration: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A calibration kept from an earlier scan of these settings.")
    ] = None,
    known: Annotated[
        str, typer.Option(metavar="TABLE", help="Densities of a calibration wedge: step, density; or 21x0.15.")
    ] = "",
    known_area: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="Part of its picture that holds the calibration wedge.")
    ] = "",
    known_corners: Annotated[
        str,
        typer.Option(metavar="'X,Y X,Y X,Y X,Y'", help="The wedge's corners, going round from step 1's outer edge."),
    ] = "",
    known_image: Annotated[
        Path | None, typer.Option(metavar="IMAGE", help="Separate scan of the calibration wedge, with equal settings.")
    ] = None,
    encoding: Annotated[
        str, typer.Option(metavar="linear|srgb|gamma:N", help="Encoding of the numbers; else the wedge shows it.")
    ] = "",
    steps: Annotated[int | None, typer.Option(min=4, help="Steps on the strip; else those of its wedge.")] = None,
    area: Annotated[str, typer.Option(metavar="L,T,R,B", help="Look for the strip in this part of the picture.")] = "",
    corners: Annotated[
        str,
        typer.Option(metavar="'X,Y X,Y X,Y X,Y'", help="The steps' corners, going round from step 1's outer edge."),
    ] = "",
    patches: Annotated[
        Path | None,
        typer.Option(metavar="TABLE", help="Rectangles instead: step, stops or ei; left, top, right, bottom."),
    ] = None,
    base: Annotated[str, typer.Option(metavar="L,T,R,B", help="Place of bare support, with no image and no fog.")] = "",
    unexposed: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="Place of film that got no light and went through the process.")
    ] = "",
    fully_exposed: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="Place of processed film, exposed far beyond the strip.")
    ] = "",
    match_patches: Annotated[
        Path | None,
        typer.Option(metavar="TABLE", help="Densitometer's densities of some steps or areas, to match the scan to."),
    ] = None,
    match_to: Annotated[str, typer.Option(metavar="A|M", help="Their kind: status A or status M.")] = "",
    dpi: Annotated[float | None, typer.Option(min=1, help="Pixels per inch, if the file does not state them.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking.")] = False,
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Make a strip record of a scan.

    A page that shows every patch on the picture is written first: look at it before you trust a number.

    Example: curves scan strip.tif heron-7 --clear empty.tif --dark 120 --known wedge-21.csv --known-image wedge.tif
    --kind reversal --wedge 21x0.15 --lux 2000 --seconds 0.02

    Example: curves scan heron-roll --frames roll.csv --clear table.dng --kind reversal --ei 80
    """
    from curves.app.pictures.scan_job import ScanJob
    from curves.app.pictures.scan_match import status_asked
    from curves.app.pictures.scan_writing import ScanFiles, write_scan
    from curves.commands import scan_choice
    from curves.commands.terminal import Interruption, say_reading, standard_terminal
    from curves.files.results.content import json_text
    from curves.views.text.scan import match_text, patches_text
    from curves.views.text.strip import checked_text

    if (name is None) == (frames is None):
        raise typer.BadParameter("give IMAGE and NAME; or NAME alone with --frames TABLE")
    job = ScanJob(
        clear, dark, calibration, known, known_area, known_corners, known_image, area, corners, patches,
        base, unexposed, fully_exposed, encoding, match_patches, match_to,
    )  # fmt: skip
    files = ScanFiles.of(image if name is None else name, calibration, matched=status_asked(job) is not None)
    files.refuse_existing()
    say_reading([image if frames is None else frames])
    given = wanted.answers()
    terminal = None if yes or as_json else standard_terminal()
    try:
        # 1. The strip, measured on the one picture or on the pictures of a roll.
        if frames is None:
            given["exposure.method"] = scan_choice.method_of(given, patches)
            scan_choice.refuse_contradictions(given, files.record)
            page = scan_choice.page_of(folder, files.record)
            result = _measured_picture(image, files, job, given, terminal, page, steps, dpi)
        else:
            result = _measured_frames(frames, files.record, job, given, terminal)
        # 2. What was measured, for a person to look at.
        strip = result.strip
        if not as_json:
            measured, channels = strip.measured, strip.calibrated.stored.channels
            labels, density, error = measured.areas.labels, measured.density, measured.error
            print(patches_text(labels, channels, density, error, measured.flags, strip.pieces, strip.notes))
            if strip.match is not None:
                print(match_text(strip.match))
            print(result.look)
        question = f"Write {files.record} and what belongs to it? Enter writes, n does not > "
        if terminal is not None and terminal.ask(question).strip():
            raise Interruption
    except (Interruption, KeyboardInterrupt):
        print("No record was written.")
        return
    # 3. The strip's files.
    doubts = write_scan(files, strip)
    if as_json:
        print(json_text({"format": 1, "scan": result.content}), end="")
        return
    print("Written: " + ", ".join(str(path) for path in reversed(files.all())))
    print(checked_text(str(files.record), None, doubts))
    print(f"Now: curves report {shlex.quote(str(files.record))}")


def _measured_picture(
    image: Path,
    files: ScanFiles,
    job: ScanJob,
    given: dict[str, str | None],
    terminal: Terminal | None,
    page: Path,
    steps: int | None,
    dpi: float | None,
) -> ScanResult:
    """Return the strip on a picture; write the page that shows every patch.

    Args:
        image: the picture.
        files: the files to write.
        job: the request.
        given: answers that options give, by key of their question.
        terminal: where to ask; None where nobody is there.
        page: the page.
        steps: steps on the strip; None for those of its wedge.
        dpi: pixels per inch; None for what the file states.
    """
    from curves.app.pictures import scan_job
    from curves.app.pictures.scan_match import match_scan
    from curves.app.pictures.scan_notes import notes_on, scan_content
    from curves.app.pictures.scan_writing import MeasuredStrip
    from curves.commands import scan_choice
    from curves.files.scans.scan import Scan
    from curves.sensitometry.scan.encoding import LINEAR

    with Scan(image, job.declared or LINEAR) as picture:
        # 1. The calibration of the light, and the record of the strip.
        job = scan_choice.with_encoding(picture, job, terminal)
        calibrated = scan_job.calibrate(picture, job, f"calibration of {files.record.stem}")
        draft: Draft = scan_choice.draft_of(files.record, given, terminal)
        # 2. The places of the patches.
        count = scan_choice.steps_asked(draft, files.record.parent, steps)
        found = scan_job.find_patches(picture, job, count, draft["kind"])
        if found.areas is None:
            scan_choice.show_page(page, picture, calibrated, found, draft["title"])
            raise scan_choice.uncertain(found, image, page)
        # 3. Their densities.
        measured = scan_job.measure_areas(picture, calibrated, found.areas)
        scan_job.refuse_mixed(measured, image.name)
        pieces, of_pieces = scan_job.measure_pieces(picture, calibrated, job)
        notes = (*notes_on(picture, calibrated, measured, option_of), *found.notes, *of_pieces)
        matched = match_scan(picture, calibrated, measured, job)
        notes += () if matched is None else matched.notes
        resolution = dpi or picture.facts.dpi
        strip = MeasuredStrip(image, draft, calibrated, measured, pieces, notes, resolution, matched)
        scan_choice.show_page(page, picture, calibrated, found, draft["title"], strip, files.readings.name)
    look = f"Look at every patch on the picture before you trust a number: {page}"
    return scan_choice.ScanResult(strip, look, scan_content(strip) | {"page": page.as_posix()})


def _measured_frames(
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
