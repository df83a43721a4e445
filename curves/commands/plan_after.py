"""The plan after a strip: the exposure or the readings that would tell most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path

from curves.commands.plan_first import FilmOptions

_TAKEN = ("meter_constant", "seed")
"""Options of a first strip that an analysis takes too."""


def plan_after(
    strip: Path, number: str, frames: int, through: Sequence[str], wanted: FilmOptions, *, as_json: bool
) -> None:
    """Print all that could come after a strip, the proposal that tells most first.

    Args:
        strip: the record of the strip.
        number: the number that is to be known better, by its JSON name.
        through: filters that the scene will be shot and metered through, beside those of the record.
        frames: most frames of a bracket.
        wanted: the other options, of which only the meter's constant and the seed count.
        as_json: True for JSON alone.

    Raises:
        RecordError: the strip is not a record, or an option describes a film that the strip shows itself.
    """
    from curves.errors import RecordError
    from curves.files.plans.next_exposure import next_exposure_json
    from curves.files.strips.record import load_strip
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.next_exposure.expected_gain import FILMS, next_exposure
    from curves.sensitometry.strip.metering import FilterUsed
    from curves.views.plans.next_exposure import next_exposure_text

    odd = [f.name for f in fields(wanted) if f.name not in _TAKEN and getattr(wanted, f.name) != f.default]
    if odd:
        raise RecordError(
            "a strip shows its own film, wedge and light",
            where=odd[0],
            needed="the strip without it",
            settings=(odd[0],),
        )
    if strip.suffix.lower() != ".toml":
        raise RecordError(
            "a table alone does not say how its strip was exposed", where=str(strip), needed="the record of a strip",
            hint="make one: curves import TABLE",
        )  # fmt: skip
    choices = Choices(meter_constant=wanted.meter_constant, seed=wanted.seed)
    first = load_strip(strip)
    first = replace(first, filters=(*first.filters, *(FilterUsed(name, "through") for name in through)))
    found = next_exposure(first, number, frames, choices, FILMS)
    if as_json:
        print(next_exposure_json(found), end="")
    else:
        both = f"{strip} SECOND"
        print(next_exposure_text(found, f"curves ei {both} --together", f"curves join {both} --into NAME"), end="")
