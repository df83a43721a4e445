"""``curves control``: does a process still run as it should?"""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curves.commands.options import Json, PageFolder, StripOptions, Strips, with_strip_options

if TYPE_CHECKING:
    from curves.commands.many_strips import ManyStrips
    from curves.sensitometry.uncertainty.results import Analysis

_FIRST = 10
"""Strips that show the process as it should be, where nothing else is said."""


@with_strip_options
def control(
    strips: Strips,
    wanted: StripOptions,
    reference: Annotated[
        list[Path] | None,
        typer.Option(
            help="A strip, or a folder of strips, of the process as it should be; may be given repeatedly. Strips of"
            " another batch join it by the runs in which both went through side by side."
        ),
    ] = None,
    first: Annotated[
        int | None,
        typer.Option(
            min=1, help="Number of strips of the first batch, from the beginning, that are the reference; 10."
        ),
    ] = None,
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Watch a process by its control strips.

    Printed are limits, signals, and what usually causes them.

    Strips are taken in the order of their dates. Exit status 3 if a strip after the reference passes an action limit.

    Example: curves control wedge_data/control --first 10

    Example: curves control 2026 --reference reference
    """
    from curves.commands.many_strips import ManyStrips
    from curves.files.results.control import watch_json
    from curves.files.results.report_files import write_files
    from curves.sensitometry.control.watch import watch_process
    from curves.views.many.control import control_page, watch_text

    # Charts are drawn of the numbers alone: their limits come from the strips.
    wanted = replace(wanted, draws=0)
    many = ManyStrips(strips, wanted)
    model = ManyStrips(reference, wanted) if reference else None
    of_model = [] if model is None else _by_date(model)
    analyses = [*of_model, *_by_date(many)]
    if not analyses:
        # Every strip was refused, and each is named with its reason.
        _end(many, model)
    of_first = sum(analysis.strip.batch == analyses[0].strip.batch for analysis in of_model)
    found = watch_process(analyses, of_first or min(first or _FIRST, len(analyses)))
    page, text = folder / "control.html", watch_json(found)
    write_files(folder, {page: control_page(found), folder / "control.json": text})
    if as_json:
        print(text, end="")
    else:
        print(f"{watch_text(found)}\nThe charts: {page}")
    _end(many, model)
    if not found.in_control:
        raise typer.Exit(3)


def _end(many: ManyStrips, model: ManyStrips | None) -> None:
    """Name the strips that failed, those of the reference first; exit status 1 if there are any."""
    try:
        if model is not None:
            model.end()
    finally:
        many.end()


def _by_date(many: ManyStrips) -> list[Analysis]:
    """Return the analyses in the order of the strips' dates; strips without one keep their place at the end."""
    found = [analysis for _, analysis in many.analyses()]
    return sorted(found, key=lambda a: a.strip.date or datetime.date.max)
