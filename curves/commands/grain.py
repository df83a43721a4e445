"""``curves grain``: rms granularity through one aperture, of one film or of several films compared."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from curves.commands.options import Json, PageFolder


def grain(
    images: Annotated[
        list[Path], typer.Argument(metavar="IMAGE", help="Scans (TIFF, PNG), or strip records that curves scan wrote.")
    ],
    dpi: Annotated[
        list[float] | None,
        typer.Option(min=50, max=30000, help="Pixels per inch of the scan; once, or for each film in turn."),
    ] = None,
    aperture: Annotated[float, typer.Option(min=1, max=2000, help="Diameter of the aperture [um].")] = 48.0,
    density: Annotated[float, typer.Option(min=0, max=5, help="Visual density to compare films at.")] = 1.0,
    patch: Annotated[
        list[str] | None,
        typer.Option(metavar="L,T,R,B", help="An even patch; repeat for more. Else the strip's steps, or all."),
    ] = None,
    clear: Annotated[
        list[str] | None,
        typer.Option(help="The empty gate: values, area:L,T,R,B, or a scan of it, which shows noise too."),
    ] = None,
    dark: Annotated[list[str] | None, typer.Option(help="No light: values, an area, or another scan.")] = None,
    calibration: Annotated[
        list[Path] | None, typer.Option(metavar="FILE", help="A calibration that curves scan kept.")
    ] = None,
    encoding: Annotated[
        str, typer.Option(metavar="linear|srgb|gamma:N", help="Encoding of the picture's numbers; linear if not given.")
    ] = "",
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Measure grain through one aperture, and compare films by it.

    Options that can be given several times are given once for all films, or once for each in turn.

    Example: curves grain heron.tif wren.tif --dpi 4000 --clear empty.tif --dark dark.tif
    """
    from curves.app.pictures.grain_job import GrainJob, film_of, one_each, with_distinct_names
    from curves.commands.terminal import say_reading
    from curves.files.results.content import grain_content, json_text
    from curves.files.results.report_files import write_files
    from curves.sensitometry.grain.comparison import compare_films
    from curves.sensitometry.scan.encoding import parse_encoding
    from curves.views.pictures.grain import grain_page
    from curves.views.text.grain import grain_text

    say_reading(images)
    code, count = parse_encoding(encoding) if encoding else None, len(images)
    resolutions, clears = one_each(dpi or [], count, "dpi"), one_each(clear or [], count, "clear")
    darks, kept = one_each(dark or [], count, "dark"), one_each(calibration or [], count, "calibration")
    films = [
        film_of(GrainJob(path, resolution, code, tuple(patch or ()), above or "", below or "", known))
        for path, resolution, above, below, known in zip(images, resolutions, clears, darks, kept, strict=True)
    ]
    found = compare_films(with_distinct_names(films, images), aperture, density)
    page = folder / f"{'-'.join(path.stem for path in images[:4])}-grain.html"
    write_files(folder, {page: grain_page(films, found)})
    if as_json:
        print(json_text(grain_content(found) | {"page": page.as_posix()}), end="")
        return
    print(grain_text(found))
    print(f"Film beside film at one scale: {page}")
