"""``curves report``: the main job, which writes page, numbers and tables of each strip into a folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from curves.commands.options import Folder, Json, Library, StripOptions, Strips, with_strip_options

if TYPE_CHECKING:
    from curves.sensitometry.uncertainty.results import Analysis


@with_strip_options
def report(
    strips: Strips,
    wanted: StripOptions,
    folder: Folder = Path("outputs"),
    library: Library = "inline",
    as_json: Json = False,
) -> None:
    """Write each strip's page, numbers and tables into a folder.

    A folder stands for all records in it. A strip that fails never stops the others: it is named at the end, with exit
    status 1.

    Example: curves report wedge_data/heron-reversal.toml
    """
    from curves.commands.many_strips import ManyStrips
    from curves.files.results import report_files
    from curves.files.results.content import as_json as json_of
    from curves.files.results.content import json_of_many
    from curves.files.results.frames import as_csv, curve_frame, steps_frame
    from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
    from curves.views.pages.report import report_page
    from curves.views.text.answer import answer_line

    many = ManyStrips(strips, wanted)
    names = dict(zip(many.paths, report_files.report_names(many.paths), strict=True))

    def written() -> Iterator[tuple[Analysis, list[Path]]]:
        """Write the files of each strip; give its results and the files."""
        for path, analysis in many.analyses():
            yield (
                analysis,
                report_files.write_report(
                    folder,
                    names[path],
                    page=report_page([analysis], choices=wanted.choices(), plotly=library, records=[path.name]),
                    numbers=json_of([analysis]),
                    steps=as_csv(steps_frame(analysis)),
                    curve=as_csv(curve_frame(analysis)),
                    library=(PLOTLY_BESIDE, plotly_library()) if library == "beside" else None,
                ),
            )

    if as_json:
        for text in json_of_many(analysis for analysis, _ in written()):
            print(text, end="", flush=True)
    else:
        for analysis, files in written():
            print("\n".join([answer_line(analysis), *(f"  {file}" for file in files)]), flush=True)
    many.end()
