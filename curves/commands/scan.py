"""``curves scan``: a scan of a strip becomes a strip record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from curves.commands.options import Json, PageFolder, RecordOptions, option_of, with_options

if TYPE_CHECKING:
    from curves.app.pictures.scan_job import ScanCalibration
    from curves.app.pictures.scan_match import ScanMatch
    from curves.app.pictures.scan_writing import ScanFiles
    from curves.files.scans.measurement import ScanMeasurement
    from curves.files.strips.calibration import CalibrationRecord
    from curves.sensitometry.scan.patch_light import FilmPiece


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
    from curves.app.pictures import scan_job, scan_match
    from curves.app.pictures.scan_notes import notes_on
    from curves.app.pictures.scan_writing import ScanFiles, match_section, reader_section, scan_section
    from curves.commands import scan_choice
    from curves.commands.scan_frames import scan_frames
    from curves.commands.terminal import Interruption, say_reading, standard_terminal
    from curves.files.scans.scan import Scan
    from curves.sensitometry.scan.encoding import LINEAR

    if (name is None) == (frames is None):
        raise typer.BadParameter("give IMAGE and NAME; or NAME alone with --frames TABLE")
    status = scan_match.status_asked(match_to, match_patches)
    if status is not None and frames is not None:
        raise typer.BadParameter("--match-patches goes with IMAGE; a roll's record takes the section [match] by hand")
    files = ScanFiles.of(image if name is None else name, calibration, matched=status is not None)
    files.refuse_existing()
    say_reading([image if frames is None else frames])
    job = scan_job.ScanJob(
        clear, dark, calibration, known, known_area, known_corners, known_image, area, corners, patches,
        base, unexposed, fully_exposed, encoding,
    )  # fmt: skip
    given = wanted.answers()
    if frames is not None:
        scan_frames(frames, files, job, given, None if yes or as_json else standard_terminal(), as_json=as_json)
        return
    given["exposure.method"] = scan_choice.method_of(given, patches)
    scan_choice.refuse_contradictions(given, files.record)
    terminal = None if yes or as_json else standard_terminal()
    page = scan_choice.page_of(folder, files.record)
    try:
        with Scan(image, job.declared or LINEAR) as picture:
            # 1. The calibration of the light, and the record of the strip.
            job = scan_choice.with_encoding(picture, job, terminal)
            calibrated = scan_job.calibrate(picture, job, f"calibration of {files.record.stem}")
            draft = scan_choice.draft_of(files.record, given, terminal)
            # 2. The places of the patches.
            count = scan_choice.steps_asked(draft, files.record.parent, steps)
            found = scan_job.find_patches(picture, job, count, draft["kind"])
            if found.areas is None:
                scan_choice.show_page(page, scan_choice.PageContent(picture, calibrated, found), draft["title"])
                raise scan_choice.uncertain(found, image, page)
            # 3. Their densities.
            measured = scan_job.measure_areas(picture, calibrated, found.areas)
            scan_job.refuse_mixed(measured, image.name)
            matched = None
            if match_patches is not None and status is not None:
                matched = scan_match.match_scan(picture, calibrated, measured, match_patches, status)
            pieces, of_pieces = scan_job.measure_pieces(picture, calibrated, job)
            notes = (*notes_on(picture, calibrated, measured, option_of), *found.notes, *of_pieces)
            notes += () if matched is None else matched.notes
            draft |= scan_choice.pieces_section(pieces)
            content = scan_choice.PageContent(picture, calibrated, found, measured, pieces, notes)
            scan_choice.show_page(page, content, draft["title"], files.readings.name)
            resolution = dpi or picture.facts.dpi
        if not as_json:
            _print(measured, calibrated, pieces, notes, page, matched)
        question = f"Write {files.record} and what belongs to it? Enter writes, n does not > "
        if terminal is not None and terminal.ask(question).strip():
            raise Interruption
    except (Interruption, KeyboardInterrupt):
        print("No record was written.")
        return
    record = draft | {
        "readings": files.readings.name,
        "reader": reader_section(measured, calibrated.stored),
        "scan": scan_section(image, files, resolution, calibrated.encoding.sentence),
        **({} if matched is None else {"match": match_section(files, matched)}),
    }
    _write(files, record, measured, calibrated.stored, matched, spoken=not as_json)
    if as_json:
        from curves.app.pictures.scan_notes import scan_content
        from curves.files.results.content import json_text

        print(json_text({"format": 1, "scan": scan_content(measured, calibrated, notes, page, matched)}), end="")


def _print(
    measured: ScanMeasurement,
    calibrated: ScanCalibration,
    pieces: tuple[FilmPiece, ...],
    notes: tuple[str, ...],
    page: Path,
    matched: ScanMatch | None,
) -> None:
    """Print the patches."""
    from curves.views.text.scan import match_text, patches_text

    channels, labels = calibrated.stored.channels, measured.areas.labels
    print(patches_text(labels, channels, measured.density, measured.error, measured.flags, pieces, notes))
    if matched is not None:
        print(match_text(matched.found, matched.missed, matched.status, matched.table))
    print(f"Look at every patch on the picture before you trust a number: {page}")


def _write(
    files: ScanFiles,
    content: dict[str, Any],
    measured: ScanMeasurement,
    stored: CalibrationRecord,
    matched: ScanMatch | None,
    *,
    spoken: bool,
) -> None:
    """Write the strip, and print the names of its files."""
    from curves.app.pictures.scan_writing import write_scan
    from curves.views.text.strip import checked_text

    doubts = write_scan(files, content, measured, stored, matched)
    if spoken:
        print("Written: " + ", ".join(str(path) for path in reversed(files.all())))
        print(checked_text(str(files.record), None, doubts))
