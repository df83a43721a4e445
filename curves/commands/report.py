"""``curves report``: the main job, which writes page, numbers and tables of each strip into a folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from curves.commands.options import Card, Folder, Json, Library, StripOptions, Strips, with_strip_options

if TYPE_CHECKING:
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.uncertainty.results import Analysis


@with_strip_options
def report(
    strips: Strips,
    wanted: StripOptions,
    folder: Folder = Path("outputs"),
    library: Library = "inline",
    with_card: Card = False,
    as_json: Json = False,
) -> None:
    """Write each strip's page, numbers and tables into a folder.

    A folder stands for all records in it and below, and the results lie as the records do. A strip that fails never
    stops the others: it is named at the end, with exit status 1.

    Example: curves report wedge_data/heron-reversal.toml
    """
    from functools import partial

    from curves.commands.many_strips import ManyStrips
    from curves.files.results.content import json_of_many
    from curves.files.results.report_files import refuse_same_names

    many = ManyStrips(strips, wanted)
    refuse_same_names(many.names, many.paths)
    written = many.results(partial(_write, folder, wanted.choices(), library, with_card))
    if as_json:
        for text in json_of_many(content for _, (_, content) in written):
            print(text, end="", flush=True)
    else:
        for _, (lines, _) in written:
            print(lines, flush=True)
    many.end()


def _write(
    folder: Path,
    choices: Choices,
    library: Literal["inline", "beside"],
    with_card: bool,
    name: Path,
    analysis: Analysis,
) -> tuple[str, dict[str, Any]]:
    """Write the files of one strip; return what to print and the results."""
    from curves.files.results.content import as_json, strip_content
    from curves.files.results.frames import as_csv, curve_frame, steps_frame
    from curves.files.results.report_files import write_report
    from curves.views.page.frame import PLOTLY_BESIDE, plotly_library
    from curves.views.pages.card import card
    from curves.views.pages.report import report_page
    from curves.views.text.answer import answer_line

    files = write_report(
        folder / name.parent,
        name.name,
        page=report_page([analysis], choices=choices, plotly=library, records=[name.as_posix()]),
        numbers=as_json([analysis]),
        steps=as_csv(steps_frame(analysis)),
        curve=as_csv(curve_frame(analysis)),
        card=card(analysis, name.as_posix()) if with_card else None,
        library=(PLOTLY_BESIDE, plotly_library()) if library == "beside" else None,
    )
    return "\n".join([answer_line(analysis), *(f"  {file}" for file in files)]), strip_content(analysis)
