"""``curves report``: the main job. Page, numbers and tables of each strip, into a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands import options


def report(
    strips: options.Strips,
    folder: Annotated[
        Path, typer.Option("--into", metavar="FOLDER", help="Where the files go; made if need be.")
    ] = Path("outputs"),
    library: Annotated[
        Literal["inline", "beside"],
        typer.Option("--plotly", help="Keep the plotting library inside each page (5 MB) or once, beside the pages."),
    ] = "inline",
    kind: options.Kind = None,
    wedge: options.WedgeText = None,
    ei: options.EI = None,
    lux: options.Lux = None,
    seconds: options.Seconds = None,
    density: options.Density = None,
    white: options.White = 0.70,
    shadow: options.Shadow = -0.90,
    metered_exposure: options.MeteredExposure = 10.0,
    seed: options.Seed = 0,
    as_json: options.Json = False,
) -> None:
    """Write each strip's page, numbers and tables into a folder.

    Example: curves report wedge_data/heron-reversal.toml
    """
    from curves.files import report_files
    from curves.files.frames import as_csv, curve_frame, steps_frame
    from curves.files.results import as_json as json_of
    from curves.views.page import PLOTLY_BESIDE, plotly_library, render_page
    from curves.views.text import answer_line

    rests_on = options.choices(white, shadow, metered_exposure, seed)
    found = options.analyses(strips, rests_on, kind=kind, wedge=wedge, ei=ei, lux=lux, seconds=seconds, density=density)
    names = report_files.names(strips)
    for name, analysis in zip(names, found, strict=True):
        written = report_files.write(
            folder,
            name,
            page=render_page([analysis], choices=rests_on, plotly=library),
            numbers=json_of([analysis]),
            steps=as_csv(steps_frame(analysis)),
            curve=as_csv(curve_frame(analysis)),
            library=(PLOTLY_BESIDE, plotly_library()) if library == "beside" else None,
        )
        if not as_json:
            print(answer_line(analysis))
            for path in written:
                print(f"  {path}")
    if as_json:
        print(json_of(found), end="")
