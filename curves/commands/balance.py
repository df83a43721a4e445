"""``curves balance``: a correction that makes the greys of a film's scans neutral."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from curves.commands.help_groups import OUTPUT, READINGS
from curves.commands.options import Json, OneStrip, StripOptions, with_strip_options

_FILES = {
    "page": "The greys before and after",
    "lut": "The map",
    "csv": "The map as a table",
    "picture": "The corrected picture",
}
"""What each file is that the command writes, by its name in the JSON."""


@with_strip_options
def balance(
    strip: OneStrip,
    wanted: StripOptions,
    gamma: Annotated[
        float | None, typer.Option(help="Contrast that greys are to have; if not given, the film's own.")
    ] = None,
    lut: Annotated[
        Path | None, typer.Option(metavar="NAME.clf", help="Write the map of a picture's numbers (SMPTE ST 2136-1).")
    ] = None,
    csv: Annotated[Path | None, typer.Option(metavar="NAME.csv", help="Write the same map as a table.")] = None,
    apply: Annotated[Path | None, typer.Option(metavar="PICTURE", help="A TIFF of 16 bits to correct.")] = None,
    into: Annotated[Path | None, typer.Option(metavar="OUT.tif", help="The corrected picture, a new file.")] = None,
    encoding: Annotated[
        str,
        typer.Option(
            metavar="linear|srgb|gamma:N",
            help="Encoding of the pictures, before and after; if not given, that of the strip's scan.",
            rich_help_panel=READINGS,
        ),
    ] = "",
    calibration: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="A calibration that curves scan kept, if not that of the strip's scan.",
            rich_help_panel=READINGS,
        ),
    ] = None,
    clear: Annotated[
        str, typer.Option(help="Number of the open gate, or three, without a calibration.", rich_help_panel=READINGS)
    ] = "",
    dark: Annotated[str, typer.Option(help="Number without light, or three.", rich_help_panel=READINGS)] = "",
    other_reader: Annotated[
        bool,
        typer.Option(
            "--other-reader",
            help="Go on although no scanner read the strip; what is lost stands in every result.",
            rich_help_panel=READINGS,
        ),
    ] = False,
    folder: Annotated[
        Path,
        typer.Option("--page", metavar="FOLDER", help="Folder for the page; made if missing.", rich_help_panel=OUTPUT),
    ] = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Make greys of a film's scans neutral by a strip of that film.

    The strip was scanned alike; greys become neutral along its whole curve.

    The page shows the curves and the greys before and after, and the picture if one is corrected.

    Example: curves balance strip.toml --lut heron.clf

    Example: curves balance strip.toml --apply frame.tif --into frame-balanced.tif
    """
    from curves.app.pictures.balance_job import PictureLight, apply_to, balance_notes, light_of, refuse_output
    from curves.errors import RecordError
    from curves.files.pictures.correction_files import balance_json, write_value_files
    from curves.files.results.report_files import write_files
    from curves.sensitometry.balance.neutral import analyse_for_balance, balance_of
    from curves.sensitometry.balance.picture_values import value_table
    from curves.sensitometry.matching.matched_strip import as_scanned
    from curves.views.pictures.balance import balance_page, balance_text

    if (apply is None) != (into is None):
        raise RecordError(
            "a picture to correct and the name of the corrected picture belong together",
            where="--apply" if into is None else "--into",
            needed="both",
            settings=("into=OUT.tif",) if into is None else ("apply=PICTURE",),
        )
    if apply is not None and into is not None:
        refuse_output(apply, into)
    # Pictures have the scan's own densities, whatever these were matched to.
    loaded = as_scanned(*wanted.loaded([strip]))
    # Refused, if at all, before the work.
    request = PictureLight(encoding, clear, dark, calibration, other_reader)
    asked = any(name is not None for name in (lut, csv, apply))
    light = light_of(strip, loaded, request) if asked else None
    found = balance_of(analyse_for_balance(loaded, wanted.choices()), gamma)
    table = None if light is None else value_table(found.maps, *light)
    picture = None
    if table is not None:
        write_value_files(lut, csv, table, loaded.title, balance_notes(found, None))
        picture = None if apply is None or into is None else apply_to(apply, into, table)
    notes, page = balance_notes(found, picture), folder / f"{strip.stem}-balance.html"
    write_files(folder, {page: balance_page(found, notes, picture)}, setting="page")
    written = {"page": page, "lut": lut, "csv": csv, "picture": into}
    if as_json:
        names = {name: None if path is None else path.as_posix() for name, path in written.items()}
        print(balance_json(found, table, notes, names), end="")
        return
    print(balance_text(found, notes))
    for name, path in written.items():
        if path is not None:
            print(f"{_FILES[name]}: {path}")
