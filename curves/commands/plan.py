"""``curves plan``: what to expose next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.help_groups import BRACKET, NEXT
from curves.commands.options import Json, with_options
from curves.commands.plan_after import plan_after
from curves.commands.plan_bracket import BracketOptions, plan_bracket
from curves.commands.plan_first import FilmOptions, plan_first

_MOST_FRAMES = 12

_Strip = Annotated[
    Path | None,
    typer.Argument(metavar="[STRIP]", help="With --bracket: the strip that the index rests on.", show_default=False),
]
_After = Annotated[
    Path | None,
    typer.Option(
        "--after",
        metavar="STRIP",
        help="Plan what comes after a strip: what would tell most, and what it takes.",
        rich_help_panel=NEXT,
    ),
]
_Number = Annotated[
    str,
    typer.Option(
        "--for",
        metavar="NUMBER",
        help="The number to know better, by its JSON name: ei, gamma, dmin, T, iso_2240, gamma.red.",
        rich_help_panel=NEXT,
    ),
]
_Stacks = Annotated[
    list[str] | None,
    typer.Option(
        "--stack",
        metavar="NAME",
        help="A stack to try: filters of the drawer joined by +, or a name with its factor such as orange=2.5, or none;"
        " give the option once for each.",
        rich_help_panel=BRACKET,
    ),
]


@with_options(FilmOptions)
def plan(
    wanted: FilmOptions,
    strip: _Strip = None,
    after: _After = None,
    number: _Number = "ei",
    bracket: Annotated[
        bool,
        typer.Option("--bracket", help="Plan a roll of frames that choose index and stack.", rich_help_panel=BRACKET),
    ] = False,
    frames: Annotated[
        int, typer.Option("--frames", min=3, max=72, help="Most frames to expose.", rich_help_panel=BRACKET)
    ] = _MOST_FRAMES,
    stacks: _Stacks = None,
    drawer: Annotated[
        Path | None,
        typer.Option("--drawer", metavar="FILE", help="The table of filters at hand (.csv).", rich_help_panel=BRACKET),
    ] = None,
    metered: Annotated[
        Literal["through", "without"],
        typer.Option("--metered", help="Whether the meter looks through the filters.", rich_help_panel=BRACKET),
    ] = "without",
    sheet: Annotated[
        Literal["A4", "A6"],
        typer.Option("--sheet", help="With --write: paper of the checklist.", rich_help_panel=BRACKET),
    ] = "A4",
    as_json: Json = False,
) -> None:
    """Plan what to expose: a first strip, the next one, or a bracket.

    A bracket is a roll whose frames choose exposure index and filters.

    Example: curves plan --box 80 --off 2 --kind reversal --wedge 21x0.15 --lux 25

    Example: curves plan --box 80 --kind reversal --method camera --wedge 21x0.15 --write heron-1

    Example: curves plan --after heron-reversal.toml --for gamma

    Example: curves plan --after heron-reversal.toml --method contact --write heron-2

    Example: curves plan heron-reversal.toml --bracket --drawer drawer.csv --write roll-1

    Example: curves plan --bracket --box 12 --off 2 --kind reversal --stack none --stack orange=2.5
    """
    # Each way of planning is one call here: what is asked for decides.
    if after is not None and bracket:
        raise typer.BadParameter("give one of --after and --bracket")
    # Whether an option was given, and what it goes with.
    options = {
        "a strip": (strip is not None, "--bracket"),
        "--drawer": (drawer is not None, "--bracket"),
        "--sheet": (sheet != "A4", "--bracket"),
        "--stack": (bool(stacks), "--bracket --after"),
        "--metered": (metered != "without", "--bracket --after"),
        "--frames": (frames != _MOST_FRAMES, "--bracket --after"),
        "--for": (number != "ei", "--after"),
    }
    way = "--bracket" if bracket else "--after" if after is not None else "neither"
    for name, (given, ways) in options.items():
        if given and way not in ways.split():
            raise typer.BadParameter(f"{name} goes with {' or '.join(ways.split())}")
    if after is not None:
        # A filter that the meter looks through is one more thing that another strip can tell about.
        through = [name.partition("=")[0] for name in stacks or ()] if metered == "through" else []
        plan_after(after, number, frames, through, wanted, as_json=as_json)
    elif bracket:
        plan_bracket(
            wanted, BracketOptions(strip, frames, tuple(stacks or ()), drawer, metered, sheet == "A6"), as_json=as_json
        )
    else:
        plan_first(wanted, as_json=as_json)
