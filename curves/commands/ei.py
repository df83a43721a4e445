"""``curves ei``: the working exposure index in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from curves.commands.help_groups import SCENE
from curves.commands.options import Full, Json, OneStrip, StripOptions, seconds, with_strip_options

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


@with_strip_options
def ei(
    strip: OneStrip,
    wanted: StripOptions,
    at: At = None,
    scene_seconds: SceneSeconds = None,
    full: Full = False,
    as_json: Json = False,
) -> None:
    """Print the exposure index to set the meter to, where the scene lands at it, how sure it is, and what to do next.

    Example: curves ei wedge_data/heron-reversal.toml

    Example: curves ei wedge_data/heron-reversal.toml --at 20

    Example: curves ei wedge_data/heron-reversal.toml --scene-seconds 8
    """
    from curves.errors import RecordError
    from curves.sensitometry.strip.exposure import INDEX

    if at is not None and not INDEX.hold(at):
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
