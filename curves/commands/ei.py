"""``curves ei``: the working exposure index in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from curves.commands.help_groups import SCENE
from curves.commands.options import Full, Json, StripOptions, Strips, seconds, with_strip_options

SceneSeconds = Annotated[
    float | None,
    typer.Option(
        metavar="TIME",
        help="Exposure time of the meter, such as 8 or 1/20: the time that the film needs is added.",
        rich_help_panel=SCENE,
        parser=seconds,
    ),
]
At = Annotated[
    float | None,
    typer.Option(
        metavar="EI", help="An index of your own: where the scene lands at it, and what is lost.", rich_help_panel=SCENE
    ),
]

Together = Annotated[
    bool, typer.Option("--together", help="Several strips of one film: do they agree, and which index do they give?")
]


@with_strip_options
def ei(
    strips: Strips,
    wanted: StripOptions,
    together: Together = False,
    at: At = None,
    scene_seconds: SceneSeconds = None,
    full: Full = False,
    as_json: Json = False,
) -> None:
    """Print the exposure index to set the meter to, where the scene lands at it, how sure it is, and what to do next.

    Example: curves ei wedge_data/heron-reversal.toml

    Example: curves ei wedge_data/heron-reversal.toml --at 20

    Example: curves ei wedge_data/heron-reversal.toml --scene-seconds 8

    Example: curves ei wedge_data/heron-reversal.toml wedge_data/heron-frames.toml --together
    """
    from curves.errors import RecordError

    if together:
        _together(strips, wanted, as_json=as_json, one_alone=[at is not None, scene_seconds is not None, full])
        return
    if len(strips) > 1 or strips[0].is_dir():
        raise RecordError(
            f"{len(strips)} strips are named, and an index is that of one" if len(strips) > 1 else "this is a folder",
            where=str(strips[-1]),
            needed="one strip; or several strips of one film that make one index",
            settings=["together"],
        )
    (strip,) = strips
    if at is not None and not 1e-3 <= at <= 1e6:
        raise RecordError(f"{at:g} is not an exposure index", where="--at", needed="0.001 to 1,000,000")
    choices = replace(wanted.choices(), scene_seconds=scene_seconds, at=at)
    analysis = wanted.analyses([strip], choices)[0]
    if as_json:
        from curves.files.results.content import as_json as json_of

        print(json_of([analysis]), end="")
        return
    if at is not None and analysis.working_ei.trial is None:
        raise RecordError(
            f"the scene has no place on this strip at EI {at:g}: {analysis.working_ei.recommended.why}",
            where="--at",
            hint="; ".join(sentence.rstrip(".") for sentence in analysis.working_ei.advice),
        )
    from curves.views.text.answer import answer_text, trial_text
    from curves.views.text.strip import ei_text

    if full:
        print(ei_text(analysis, choices), end="")
    elif at is None:
        print(answer_text(analysis, choices, f"curves filters {strip} --drawer FILE", "--full"), end="")
    if at is not None:
        print(("\n" if full else "") + trial_text(analysis, choices), end="")


def _together(strips: list[Path], wanted: StripOptions, *, as_json: bool, one_alone: list[bool]) -> None:
    """Print the common index of several strips of one film."""
    from curves.commands.many_strips import ManyStrips
    from curves.errors import RecordError
    from curves.files.results.together import together_json
    from curves.sensitometry.combining.together import together
    from curves.views.combined.together import together_text

    for given, option in zip(one_alone, ("--at", "--scene-seconds", "--full"), strict=True):
        if given:
            raise RecordError("it goes with one strip", where=option, hint="leave it out, or join the strips first")
    many = ManyStrips(strips, wanted)
    found = together(*(analysis for _, analysis in many.analyses()))
    print(together_json(found) if as_json else together_text(found), end="")
    many.end()
