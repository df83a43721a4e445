"""``curves plan``: what to expose next."""

from __future__ import annotations

from curves.commands.options import Json, with_options
from curves.commands.plan_first import FilmOptions, plan_first


@with_options(FilmOptions)
def plan(wanted: FilmOptions, as_json: Json = False) -> None:
    """Plan the first strip of a film: the exposure that holds its whole curve, and the chance that it does.

    Example: curves plan --box 80 --off 2 --kind reversal --wedge 21x0.15 --lux 25

    Example: curves plan --box 80 --kind reversal --method camera --wedge 21x0.15 --write heron-1
    """
    # Each way of planning is one call here: what is asked for decides.
    plan_first(wanted, as_json=as_json)
