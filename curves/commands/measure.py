"""``curves measure``: the numbers in the terminal."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from curves.commands.options import Json, Strips, Wanted, with_strip_options


@with_strip_options
def measure(
    strips: Strips,
    wanted: Wanted,
    table: Annotated[
        Literal["cgats"] | None,
        typer.Option(help="Print the readings alone, as exchange text (ISO 28178, CGATS.17); `import` reads it."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Print every number found on strips.

    Example: curves measure wedge_data/heron-reversal.toml

    Example: curves measure readings.csv --kind reversal --wedge 21x0.15 --lux 25 --seconds 0.02
    """
    if table is not None:
        from curves.files.cgats import exchange_text

        print("\n".join(exchange_text(wanted.load(path)) for path in strips), end="")
        return
    found = wanted.analyses(strips)
    if as_json:
        from curves.files.results import as_json as json_of

        print(json_of(found), end="")
    else:
        from curves.views.text import measures_text

        print("\n\n".join(measures_text(analysis) for analysis in found), end="")
