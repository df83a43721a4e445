"""``curves ei``: the working exposure index in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curves.commands.help_groups import SCENE
from curves.commands.options import Full, Json, StripOptions, Strips, seconds, with_strip_options

if TYPE_CHECKING:
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.uncertainty.results import Analysis

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
    """Print the exposure index to set the meter to, and how sure it is.

    With it stand the densities on which the scene lands, and what to do next.

    Example: curves ei wedge_data/heron-reversal.toml

    Example: curves ei wedge_data/heron-reversal.toml --at 20

    Example: curves ei wedge_data/heron-reversal.toml --scene-seconds 8

    Example: curves ei wedge_data/heron-reversal.toml wedge_data/heron-frames.toml --together
    """
    from curves.errors import RecordError
    from curves.sensitometry.strip.exposure import INDEX

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
    if at is not None and not INDEX.hold(at):
        raise RecordError(f"{at:g} is not an exposure index", where="--at", needed="0.001 to 1,000,000")
    choices = replace(wanted.choices(), scene_seconds=scene_seconds, at=at)
    analyses = wanted.index_analyses(strip, choices)
    if as_json:
        from curves.files.results.content import as_json as json_of

        print(json_of(analyses), end="")
        return
    for number, analysis in enumerate(analyses):
        print(("\n\n" if number else "") + _words(analysis, choices, strip, full=full), end="")


def _words(analysis: Analysis, choices: Choices, strip: Path, *, full: bool) -> str:
    """Return the index of one strip in words."""
    from curves.errors import RecordError
    from curves.views.text.answer import answer_text, by_eye_text, trial_text
    from curves.views.text.strip import ei_text

    if choices.at is not None and analysis.working_ei.trial is None:
        why = analysis.working_ei.recommended.why or analysis.working_ei.range[0].why
        raise RecordError(
            f"the scene has no place on this strip at EI {choices.at:g}: {why}",
            where="--at",
            hint="; ".join(sentence.rstrip(".") for sentence in analysis.working_ei.advice),
        )
    if not analysis.channels:
        return by_eye_text(analysis, full=full)
    parts = [ei_text(analysis, choices)] if full else []
    if not full and choices.at is None:
        parts.append(answer_text(analysis, choices, f"curves filters {strip} --drawer FILE", "--full"))
    if choices.at is not None:
        parts.append(trial_text(analysis, choices, timed=not full))
    return "\n".join(parts)


def _together(strips: list[Path], wanted: StripOptions, *, as_json: bool, one_alone: list[bool]) -> None:
    """Print the common index of several strips of one film."""
    from curves.commands.many_strips import ManyStrips
    from curves.errors import RecordError
    from curves.files.results.combined import together_json
    from curves.sensitometry.combining.together import together
    from curves.views.many.combined import together_text

    for given, option in zip(one_alone, ("--at", "--scene-seconds", "--full"), strict=True):
        if given:
            raise RecordError("it goes with one strip", where=option, hint="leave it out, or join the strips first")
    many = ManyStrips(strips, wanted)
    analyses = [analysis for _, analysis in many.analyses(judged_too=True)]
    if len(analyses) < 2:
        # Strips that failed are the reason, where there are any.
        many.end()
    found = together(*analyses)
    print(together_json(found) if as_json else together_text(found), end="")
    many.end()
