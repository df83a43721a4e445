"""``curves ei``: the working exposure index in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from curves.commands.options import Json, OneStrip, StripOptions, with_strip_options

SceneSeconds = Annotated[
    float | None, typer.Option(help="Exposure time of the meter, in seconds: the time that the film needs is added.")
]


@with_strip_options
def ei(strip: OneStrip, wanted: StripOptions, scene_seconds: SceneSeconds = None, as_json: Json = False) -> None:
    """Print the exposure index to set the meter to, the range worth using, and the reasons.

    Example: curves ei wedge_data/heron-reversal.toml

    Example: curves ei wedge_data/heron-reversal.toml --scene-seconds 8
    """
    from curves.errors import RecordError

    if scene_seconds is not None and not scene_seconds > 0:
        raise RecordError(f"{scene_seconds:g} is not an exposure time", where="--scene-seconds", needed="above 0")
    found = wanted.analyses([strip], replace(wanted.choices(), scene_seconds=scene_seconds))
    if as_json:
        from curves.files.results.content import as_json as json_of

        print(json_of(found), end="")
    else:
        from curves.views.text.strip import ei_text

        print(ei_text(found[0], wanted.choices()), end="")
