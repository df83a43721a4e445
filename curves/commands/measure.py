"""``curves measure``: the numbers in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from curves.commands.help_groups import OUTPUT
from curves.commands.options import Full, Json, StripOptions, Strips, with_strip_options

if TYPE_CHECKING:
    from curves.app.strip_files import StripFile
    from curves.files.results.number_table import NumberTable
    from curves.sensitometry.uncertainty.results import Analysis


@with_strip_options
def measure(
    strips: Strips,
    wanted: StripOptions,
    budget: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Print the uncertainty of one number by its sources: ei, gamma, T, ...",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    table: Annotated[
        str | None,
        typer.Option(
            metavar="cgats|FILE.csv",
            help="Print the readings alone, as exchange text (ISO 28178, CGATS.17), which `import` reads; or write"
            " the numbers of all strips into one table, a row for each number, as each strip is done.",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    full: Full = False,
    as_json: Json = False,
) -> None:
    """Print the numbers found on strips. Each strip's are printed as soon as it is done.

    Example: curves measure wedge_data/heron-reversal.toml

    Example: curves measure wedge_data/heron-reversal.toml --full

    Example: curves measure wedge_data/heron-reversal.toml --budget gamma

    Example: curves measure archive --table numbers.csv

    Example: curves measure readings.csv --kind reversal --wedge 21x0.15 --lux 25 --seconds 1/50
    """
    if budget is not None:
        _budget(budget, strips, wanted, as_json)
        return
    if table == "cgats":
        from curves.files.imports.formats.cgats import exchange_text

        print("\n".join(exchange_text(strip) for strip in wanted.loaded(strips)), end="")
        return
    if table is not None:
        _table(Path(table), strips, wanted)
        return
    from functools import partial

    from curves.commands.many_strips import ManyStrips
    from curves.files.results.content import json_of_many

    many = ManyStrips(strips, wanted)
    if as_json:
        for piece in json_of_many(content for _, content in many.results(_content)):
            print(piece, end="", flush=True)
    else:
        for number, (_, text) in enumerate(many.results(partial(_text, full))):
            print(("\n\n" if number else "") + text, end="", flush=True)
    many.end()


def _table(path: Path, strips: list[Path], wanted: StripOptions) -> None:
    """Write the numbers of all strips into one table; strips whose numbers are in it already are left as they are."""
    from curves.commands.many_strips import ManyStrips
    from curves.errors import OutputError
    from curves.files.results.number_table import NumberTable

    if path.suffix.lower() != ".csv":
        raise OutputError(f"{path} is not the name of a table", where="--table", needed="cgats, or a name in .csv")
    if path.is_dir() or not path.parent.is_dir():
        fault = "it is a folder" if path.is_dir() else "there is no such folder"
        raise OutputError(
            f"the table cannot be made: {fault}", where=str(path), hint="name another, or make the folder"
        )
    with NumberTable(path) as table:
        many, done, settings = ManyStrips(strips, wanted), 0, repr(wanted)
        named = many.strips
        many.strips = [strip for strip in named if not _is_in(table, strip, settings)]
        table.drop({str(strip.path) for strip in many.strips})
        for strip, (lines, made_from) in many.results(_lines, settings):
            table.add(str(strip), lines, made_from)
            done += 1
    print(f"{path}: the numbers of {done} strip{'' if done == 1 else 's'}")
    if before := len(named) - len(many.strips):
        print(f"{before} of {len(named)} strips were in the table already")
    many.end()


def _is_in(table: NumberTable, strip: StripFile, settings: str) -> bool:
    """Return True if the numbers of a strip are in a table and would come out the same."""
    from curves.app.archive import fingerprint

    made_from = table.made_from.get(str(strip.path))
    return bool(made_from) and made_from == fingerprint(strip.path, settings)


def _lines(strip: StripFile, analysis: Analysis) -> tuple[str, str]:
    """Return the numbers of one strip as lines of a table, and the digest of what they were made from."""
    from curves.files.results.number_table import lines_of_numbers

    return lines_of_numbers(analysis, str(strip.path), strip.fingerprint), strip.fingerprint


def _content(_: StripFile, analysis: Analysis) -> dict[str, Any]:
    """Return the results of one strip for JSON."""
    from curves.files.results.content import strip_content

    return strip_content(analysis)


def _text(full: bool, _: StripFile, analysis: Analysis) -> str:
    """Return the numbers of one strip as text."""
    from curves.views.text.strip import columns_text, measures_text

    return measures_text(analysis) if full else columns_text(analysis, "--full, --json")


def _budget(name: str, strips: list[Path], wanted: StripOptions, as_json: bool) -> None:
    """Print the budget of one number of each strip."""
    from curves.errors import RecordError, nearest
    from curves.sensitometry.analysis.analyse import budget_names, measure_budgets

    content = []
    for strip in wanted.loaded(strips):
        try:
            found = measure_budgets(strip, name, wanted.choices())
        except KeyError as error:
            names = budget_names(strip)
            raise RecordError(f"'{name}' has no budget", where="--budget", hint=nearest(name, names)) from error
        if as_json:
            from curves.files.results.content import budget

            budgets = {channel: budget(of) for channel, of in found.items()}
            content.append({"title": strip.title, "budget_of": name, "budgets": budgets})
        else:
            from curves.views.text.strip import budget_lines

            print(f"{strip.title}\n\n{budget_lines(name, found)}")
    if as_json:
        from curves.files.results.content import json_text

        print(json_text({"format": 1, "strips": content}), end="")
