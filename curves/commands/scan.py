"""``curves scan``: a scan of a strip becomes a strip record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from curves.commands.options import Json, PageFolder

if TYPE_CHECKING:
    from curves.files.calibration import Stored
    from curves.files.scan_writing import ScanFiles
    from curves.files.scanjob import Calibrated
    from curves.files.scanning import Measured
    from curves.sensitometry.patches import Piece


def scan(
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="TIFF or PNG, 8 or 16 bit, grey or RGB.")],
    name: Annotated[Path, typer.Argument(metavar="NAME", help="The record to write, with or without .toml.")],
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
        str, typer.Option(metavar="L,T,R,B", help="The calibration wedge lies in this part of its picture.")
    ] = "",
    known_corners: Annotated[
        str, typer.Option(metavar="'X,Y X,Y X,Y X,Y'", help="Its corners, going round from step 1's outer edge.")
    ] = "",
    known_image: Annotated[
        Path | None, typer.Option(metavar="IMAGE", help="It was scanned apart, with the same settings.")
    ] = None,
    encoding: Annotated[
        str, typer.Option(metavar="linear|srgb|gamma:N", help="How numbers stand for light.")
    ] = "linear",
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
    base: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="A piece of bare support, no image and no fog, lies here.")
    ] = "",
    unexposed: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="Film that got no light and went through the process.")
    ] = "",
    fully_exposed: Annotated[
        str, typer.Option(metavar="L,T,R,B", help="Film exposed far beyond the strip, through the process.")
    ] = "",
    dpi: Annotated[float | None, typer.Option(min=1, help="Pixels per inch, if the file does not say.")] = None,
    kind: Annotated[Literal["negative", "reversal"] | None, typer.Option(help="What the film is.")] = None,
    wedge: Annotated[
        str | None,
        typer.Option(metavar="NxD[@FIRST]", help="Wedge that exposed the strip: 21x0.15, or its table."),
    ] = None,
    lux: Annotated[str | None, typer.Option(help="Light on the wedge, in lux.")] = None,
    seconds: Annotated[str | None, typer.Option(help="Exposure time, in seconds.")] = None,
    ei: Annotated[str | None, typer.Option(help="The index the meter was set to.")] = None,
    metered_step: Annotated[str | None, typer.Option(help="The step that the meter read.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write without asking.")] = False,
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Make a strip record of a scan.

    A page that shows every patch on the picture is written first: look at it before you trust a number.

    Example: curves scan strip.tif heron-7 --clear empty.tif --dark 120 --known wedge-21.csv --known-image wedge.tif
    --kind reversal --wedge 21x0.15 --lux 2000 --seconds 0.02
    """
    from curves.commands import scanning
    from curves.commands.terminal import Stopped, say_reading, standard_terminal
    from curves.files import scanjob
    from curves.files.scan_notes import notes_on
    from curves.files.scan_writing import ScanFiles, reader_section, scan_section
    from curves.files.scans import Scan
    from curves.sensitometry.encoding import parse_encoding

    files = ScanFiles.of(name, calibration)
    files.refuse_existing()
    say_reading([image])
    job = scanjob.Job(
        clear, dark, calibration, known, known_area, known_corners, known_image, area, corners, patches,
        base, unexposed, fully_exposed,
    )  # fmt: skip
    given = {"kind": kind, "wedge": wedge, "exposure.lux": lux, "exposure.seconds": seconds, "exposure.ei": ei,
             "exposure.metered_step": metered_step}  # fmt: skip
    given["exposure.method"] = scanning.method_of(given, patches)
    scanning.refuse_contradictions(given, files.record)
    terminal = None if yes or as_json else standard_terminal()
    page = scanning.page_of(folder, files.record)
    try:
        with Scan(image, parse_encoding(encoding)) as picture:
            # 1. What is known of the light, and of the strip.
            calibrated = scanjob.calibrate(picture, job, f"calibration of {files.record.stem}")
            draft = scanning.draft_of(files.record, given, terminal)
            # 2. Where the patches are.
            count = scanning.steps_asked(draft, files.record.parent, steps)
            found = scanjob.find_patches(picture, job, count, draft["kind"])
            if found.areas is None:
                scanning.show_page(page, scanning.Look(picture, calibrated, found), draft["title"])
                raise scanning.uncertain(found, image, page)
            # 3. What they say.
            measured = scanjob.measured(picture, calibrated, found.areas)
            scanjob.refuse_mixed(measured, image.name)
            pieces, minded = scanjob.measured_pieces(picture, calibrated, job)
            notes = (*notes_on(picture, calibrated, measured), *found.notes, *minded)
            draft |= scanning.pieces_section(pieces)
            look = scanning.Look(picture, calibrated, found, measured, pieces, notes)
            scanning.show_page(page, look, draft["title"], files.readings.name)
            resolution = dpi or picture.facts.dpi
        if not as_json:
            _print(measured, calibrated, pieces, notes, page)
        question = f"Write {files.record} and what belongs to it? Enter writes, n does not > "
        if terminal is not None and terminal.ask(question).strip():
            raise Stopped
    except (Stopped, KeyboardInterrupt):
        print("No record was written.")
        return
    content = draft | {
        "readings": files.readings.name,
        "reader": reader_section(measured, calibrated.stored),
        "scan": scan_section(image, files, resolution),
    }
    _write(files, content, measured, calibrated.stored, spoken=not as_json)
    if as_json:
        from curves.files.results import json_text
        from curves.files.scan_results import scan_content

        print(json_text({"format": 1, "scan": scan_content(measured, calibrated, notes, page)}), end="")


def _print(
    measured: Measured,
    calibrated: Calibrated,
    pieces: tuple[Piece, ...],
    notes: tuple[str, ...],
    page: Path,
) -> None:
    """Print the patches."""
    from curves.views.scan_text import patches_lines

    channels, labels = calibrated.stored.channels, measured.areas.labels
    print(patches_lines(labels, channels, measured.density, measured.error, measured.flags, pieces, notes))
    print(f"Look at every patch on the picture before you trust a number: {page}")


def _write(files: ScanFiles, content: dict[str, Any], measured: Measured, stored: Stored, *, spoken: bool) -> None:
    """Write the strip, and say what was written."""
    from curves.files.scan_writing import write_scan
    from curves.views.text import checked_text

    doubts = write_scan(files, content, measured, stored)
    if spoken:
        print("Written: " + ", ".join(str(path) for path in reversed(files.all())))
        print(checked_text(str(files.record), None, doubts))
