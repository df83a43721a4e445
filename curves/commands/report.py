"""``curves report``: the main job, which writes page, numbers and tables of each strip into a folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from curves.commands.help_groups import OUTPUT
from curves.commands.options import Card, Folder, Json, Library, StripOptions, Strips, with_strip_options

if TYPE_CHECKING:
    from curves.app.strip_files import StripFile
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.uncertainty.results import Analysis


Again = Annotated[
    bool,
    typer.Option(
        "--again", help="Write every report again, also one that would come out the same.", rich_help_panel=OUTPUT
    ),
]


@with_strip_options
def report(
    strips: Strips,
    wanted: StripOptions,
    folder: Folder = Path("outputs"),
    library: Library = "inline",
    with_card: Card = False,
    again: Again = False,
    as_json: Json = False,
) -> None:
    """Write each strip's page, numbers and tables into a folder.

    A folder stands for all records in it and below, and the results lie as the records do, with a page that leads to
    all of them. A second run does only what is new or changed. A strip that fails never stops the others: it is named
    at the end, with exit status 1.

    Example: curves report wedge_data/heron-reversal.toml

    Example: curves report archive --into reports
    """
    from functools import partial

    from curves.app.archive import fingerprint, is_reported
    from curves.commands.many_strips import ManyStrips
    from curves.files.results.content import json_of_many
    from curves.files.results.report_files import refuse_same_names

    many = ManyStrips(strips, wanted)
    named = many.strips
    several = len(named) > 1
    refuse_same_names([Path("index")] * several + [s.name for s in named], [folder] * several + [s.path for s in named])
    if several:
        settings = repr((wanted, library, with_card))
        many.strips = [replace(strip, fingerprint=fingerprint(strip.path, settings)) for strip in named]
        if not (again or as_json):
            many.strips = [strip for strip in many.strips if not is_reported(strip, folder)]
    written = many.results(partial(_write, folder, wanted.choices(), library, with_card))
    if as_json:
        for text in json_of_many(content for _, (_, content) in written):
            print(text, end="", flush=True)
    else:
        for _, (lines, _) in written:
            print(lines, flush=True)
        if unchanged := len(named) - len(many.strips):
            print(f"{unchanged} of {len(named)} strips have their report already (--again writes it again)")
    if several:
        _lead_to(folder, [strip.name for strip in named], quiet=as_json)
    many.end()


def _lead_to(folder: Path, names: Sequence[Path], *, quiet: bool) -> None:
    """Write the page that leads to the reports of several strips."""
    from curves.app.archive import results_in
    from curves.files.results.report_files import write_files
    from curves.views.many.archive import archive_page

    found = [(name.as_posix(), content) for name in names if (content := results_in(folder, name)) is not None]
    if not found:
        return
    write_files(folder, {folder / "index.html": archive_page(found)})
    if not quiet:
        print(f"{folder / 'index.html'} leads to {len(found)} reports")


def _write(
    folder: Path,
    choices: Choices,
    library: Literal["inline", "beside"],
    with_card: bool,
    strip: StripFile,
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

    name = strip.name
    files = write_report(
        folder / name.parent,
        name.name,
        page=report_page([analysis], choices=choices, plotly=library, records=[name.as_posix()]),
        numbers=as_json([analysis]),
        steps=as_csv(steps_frame(analysis)),
        curve=as_csv(curve_frame(analysis)),
        card=card(analysis, name.as_posix()) if with_card else None,
        library=(PLOTLY_BESIDE, plotly_library()) if library == "beside" else None,
        fingerprint=strip.fingerprint,
    )
    return "\n".join([answer_line(analysis), *(f"  {file}" for file in files)]), strip_content(analysis)
