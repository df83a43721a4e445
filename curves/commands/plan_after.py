"""The plan after a strip: the exposure or the readings that would tell most."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

from curves.commands.plan_first import FilmOptions

if TYPE_CHECKING:
    from curves.sensitometry.next_exposure.expected_gain import NextExposure
    from curves.sensitometry.next_exposure.proposals import Proposal

_TAKEN = ("meter_constant", "seed", "write", "method")
"""Options of a first strip that have a meaning after a strip too."""


def plan_after(
    strip: Path, number: str, frames: int, through: Sequence[str], wanted: FilmOptions, *, as_json: bool
) -> None:
    """Print all that could come after a strip, the proposal that tells most first.

    Args:
        strip: the record of the strip.
        number: the number that is to be known better, by its JSON name.
        through: filters that the scene will be shot and metered through, beside those of the record.
        frames: most frames of a bracket.
        wanted: the other options, of which only the meter's constant, the seed, the record to be written and the way it
            is exposed count.
        as_json: True for JSON alone.

    Raises:
        RecordError: the strip is not a record, or an option describes a film that the strip shows itself.
    """
    from curves.errors import RecordError
    from curves.files.plans.plan_json import next_exposure_json
    from curves.files.strips.record import load_strip
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.next_exposure.expected_gain import FILMS, next_exposure
    from curves.sensitometry.strip.metering import FilterUsed
    from curves.views.plans.next_exposure import next_exposure_text, next_record_text

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
    if wanted.method is not None and wanted.write is None:
        raise RecordError(
            "it chooses which of the strips proposed is written", where="--method", needed="the name of a record",
            settings=("write",),
        )  # fmt: skip
    choices = Choices(meter_constant=wanted.meter_constant, seed=wanted.seed)
    loaded = load_strip(strip)
    first = replace(loaded, filters=(*loaded.filters, *(FilterUsed(name, "through") for name in through)))
    found = next_exposure(first, number, frames, choices, FILMS)
    written = None if wanted.write is None else _written(wanted.write, strip, found, wanted.method)
    if as_json:
        print(next_exposure_json(found), end="")
        return
    both = f"{strip} {'SECOND' if written is None else written[0]}"
    print(next_exposure_text(found, f"curves ei {both} --together", f"curves join {both} --into NAME"), end="")
    if written is not None:
        record, proposal = written
        enter = f"curves enter {shlex.quote(str(record.with_suffix('')))}"
        print(next_record_text(str(record), proposal, loaded, enter), end="")


def _written(name: Path, record: Path, found: NextExposure, method: str | None) -> tuple[Path, Proposal]:
    """Write the record of the strip that tells most, or of the one by a way; return its path and what it is.

    Raises:
        RecordError: nothing that is proposed is such a strip.
    """
    from curves.errors import RecordError
    from curves.files.plans.planned_records import write_next
    from curves.sensitometry.next_exposure.proposals import strip_of
    from curves.sensitometry.strip.exposure import Camera, Contact, Frames

    first = found.analysis.strip
    ways = {"contact": Contact, "camera": Camera, "frames": Frames}
    for gain in found.gains:
        if gain.proposal.exposes and gain.after is not None:
            further, _ = strip_of(gain.proposal, first)
            if method is None or isinstance(further.exposure, ways[method]):
                return write_next(name, record, first, gain.proposal, found.planned(gain)), gain.proposal
    raise RecordError(
        "no strip of its own is proposed that shows the number" + (f" by the way {method}" if method else ""),
        where=str(record), needed="a proposal that is exposed, not read again", hint="take another way",
        settings=("method",),
    )  # fmt: skip
