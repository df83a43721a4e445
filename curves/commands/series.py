"""``curves series``: what does one thing varied do, and which setting gives the number that is wanted?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.help_groups import OUTPUT
from curves.commands.options import Full, Json, PageFolder, StripOptions, Strips, with_strip_options


@with_strip_options
def series(
    strips: Strips,
    wanted: StripOptions,
    by: Annotated[
        str | None,
        typer.Option(
            metavar="KEY",
            help="What was varied: a key of the records' [conditions]; without it, those that differ are named.",
        ),
    ] = None,
    sought: Annotated[
        list[str] | None,
        typer.Option(
            "--for", metavar="NUMBER=VALUE", help="Find the setting for a value: ei=50, gamma=1.8, dmin.red=0.3."
        ),
    ] = None,
    channel: Annotated[
        Literal["red", "green", "blue", "visual"] | None,
        typer.Option(help="The channel whose numbers are followed; the one nearest to the eye."),
    ] = None,
    scatter_stops: Annotated[
        float | None, typer.Option(help="Scatter of the process from strip to strip, in stops; else as they show.")
    ] = None,
    scatter_density: Annotated[
        float | None, typer.Option(help="The same in densities, of Dmin and Dmax; else as the strips show.")
    ] = None,
    scatter_gradient: Annotated[
        float | None, typer.Option(help="The same of gamma and other gradients; else as the strips show.")
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE.csv", help="Write every number of every strip to a table.", rich_help_panel=OUTPUT),
    ] = None,
    full: Full = False,
    folder: PageFolder = Path("outputs"),
    as_json: Json = False,
) -> None:
    """Follow strips against one thing varied, and find its setting.

    Every number is followed; --for asks for the setting that a number needs.

    Nothing is said beyond the ends of the series. The page shows the curves in one scale of colour.

    Example: curves series wedge_data/times --by first_developer_minutes --for ei=12 --for gamma=1.25

    Example: curves series cold warm.toml warmer.toml --by first_developer_celsius --table warmth.csv
    """
    from curves.commands.many_strips import ManyStrips
    from curves.files.base.writing import write_atomically
    from curves.files.results.frames import as_csv
    from curves.files.results.report_files import write_files
    from curves.files.results.series import numbers_frame, series_json
    from curves.sensitometry.series.strips import strip_series
    from curves.sensitometry.series.trend import Repeatability
    from curves.views.many.series_page import series_page
    from curves.views.many.series_words import series_text

    values = dict(_number_and_value(text) for text in sought or ())
    if table is not None:
        _refuse_table(table)
    scatter = Repeatability(scatter_stops, scatter_density, scatter_gradient)
    many = ManyStrips(strips, wanted)
    if by is None:
        raise _what_varied([wanted.load(strip.path).conditions for strip in many.strips])
    analyses = [analysis for _, analysis in many.analyses()]
    if not analyses:
        # Every strip was refused, and each is named with its reason.
        many.end()
    found = strip_series(analyses, by, values, channel, scatter)
    name = f"by-{by}"
    page, text = folder / f"{name}.html", series_json(found)
    write_files(folder, {page: series_page(found), folder / f"{name}.json": text})
    if table is not None:
        write_atomically(table, as_csv(numbers_frame(found)))
    if as_json:
        print(text, end="")
    else:
        print(f"{series_text(found, full=full)}\nThe curves and trends: {page}")
    many.end()


def _what_varied(stated: Sequence[Mapping[str, float]]) -> Exception:
    """Return the refusal of a series whose condition is not given; names the conditions that differ."""
    from curves.errors import RecordError
    from curves.sensitometry.series.condition import conditions_of

    varied = [key for key, values in conditions_of(stated).items() if len(values) > 1]
    return RecordError(
        "what was varied is not given",
        where="--by",
        needed="a key that the records have under [conditions]" + ("" if varied else "; none differs between them"),
        settings=[f"by={key}" for key in varied],
    )


def _number_and_value(text: str) -> tuple[str, float]:
    """Return the number and the value that a person types: "gamma=1.8"."""
    name, equals, value = (part.strip() for part in text.partition("="))
    try:
        wanted = float(value.replace(",", "."))
    except ValueError:
        wanted = math.nan
    if not name or not equals or not math.isfinite(wanted):
        raise typer.BadParameter(f"'{text}' is not a number and its value; write ei=50 or gamma=1.8")
    return name, wanted


def _refuse_table(path: Path) -> None:
    """Refuse a table that cannot be made, before any strip is analysed.

    Raises:
        OutputError: the name is not that of a table, its folder is not there, or a file has the name already.
    """
    from curves.errors import OutputError

    if path.suffix.lower() != ".csv":
        raise OutputError(f"{path} is not the name of a table", where="--table", needed="a name in .csv")
    fault = "File exists" if path.exists() else "" if path.parent.is_dir() else "No such file or directory"
    if fault:
        hint = "move it away, or name another" if path.exists() else "make the folder, or name another"
        raise OutputError(f"the table cannot be made: {fault}", where=str(path), hint=hint)
