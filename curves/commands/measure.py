"""``curves measure``: the numbers in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.help_groups import OUTPUT
from curves.commands.options import Full, Json, StripOptions, Strips, with_strip_options


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
        Literal["cgats"] | None,
        typer.Option(
            help="Print the readings alone, as exchange text (ISO 28178, CGATS.17); `import` reads it.",
            rich_help_panel=OUTPUT,
        ),
    ] = None,
    full: Full = False,
    as_json: Json = False,
) -> None:
    """Print the numbers found on strips, each strip as soon as it is done.

    Example: curves measure wedge_data/heron-reversal.toml

    Example: curves measure wedge_data/heron-reversal.toml --full

    Example: curves measure wedge_data/heron-reversal.toml --budget gamma

    Example: curves measure readings.csv --kind reversal --wedge 21x0.15 --lux 25 --seconds 1/50
    """
    if budget is not None:
        _budget(budget, strips, wanted, as_json)
        return
    if table is not None:
        from curves.files.imports.formats.cgats import exchange_text

        print("\n".join(exchange_text(strip) for strip in wanted.loaded(strips)), end="")
        return
    from curves.commands.many_strips import ManyStrips
    from curves.files.results.content import json_of_many
    from curves.views.text.columns import columns_text
    from curves.views.text.strip import measures_text

    many = ManyStrips(strips, wanted)
    if as_json:
        for piece in json_of_many(analysis for _, analysis in many.analyses()):
            print(piece, end="", flush=True)
    else:
        for number, (_, analysis) in enumerate(many.analyses()):
            text = measures_text(analysis) if full else columns_text(analysis, "--full, --json")
            print(("\n\n" if number else "") + text, end="", flush=True)
    many.end()


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
