"""``curves join``: strips of one film, exposed differently, as one curve."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from curves.commands.options import Json, StripOptions, Strips, with_strip_options


@with_strip_options
def join(
    strips: Strips,
    wanted: StripOptions,
    into: Annotated[Path, typer.Option("--into", metavar="NAME", help="Name of the joined strip's record.")],
    title: Annotated[str | None, typer.Option("--title", help="What to call the joined strip.")] = None,
    as_json: Json = False,
) -> None:
    """Join strips of one film, exposed differently, to one curve.

    All must have gone through one process.

    The joined strip is a record (.toml) and a table (.csv); every command takes it like any other.

    Example: curves join monday.toml tuesday.toml --into both
    """
    from curves.app.strip_files import strips_among
    from curves.files.entry.joined_records import write_joined
    from curves.sensitometry.combining.joining import join as joined_of
    from curves.views.many.combined import joining_text

    found = strips_among(strips)
    joined = joined_of(
        *wanted.loaded([strip.path for strip in found.strips]),
        names=[strip.path.stem for strip in found.strips],
        title=title,
        choices=wanted.choices(),
    )
    record, table = write_joined(into, joined)
    if as_json:
        from curves.files.results.combined import joined_json

        print(joined_json(joined, record, table), end="")
        return
    print(joining_text(joined), end="")
    print(f"\nWritten: {record}, {table}")
    print(f"Now: curves ei {shlex.quote(str(record))}")
