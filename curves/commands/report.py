"""``curves report``: the main job, which writes page, numbers and tables of each strip into a folder."""

from __future__ import annotations

from pathlib import Path

from curves.commands.options import Folder, Json, Library, StripOptions, Strips, with_strip_options


@with_strip_options
def report(
    strips: Strips,
    wanted: StripOptions,
    folder: Folder = Path("outputs"),
    library: Library = "inline",
    as_json: Json = False,
) -> None:
    """Write each strip's page, numbers and tables into a folder.

    Example: curves report wedge_data/heron-reversal.toml
    """
    from curves.files.results import report_files
    from curves.files.results.frames import as_csv, curve_frame, steps_frame
    from curves.files.results.strips import as_json as json_of
    from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
    from curves.views.pages.report import report_page
    from curves.views.text.answer import answer_line

    names = report_files.report_names(strips)
    found = wanted.analyses(strips)
    for name, analysis in zip(names, found, strict=True):
        written = report_files.write_report(
            folder,
            name,
            page=report_page([analysis], choices=wanted.choices(), plotly=library),
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
