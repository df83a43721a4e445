"""The next exposure as JSON."""

from __future__ import annotations

from typing import Any

from curves.files.results.content import budget, json_text, quantity
from curves.sensitometry.next_exposure.expected_gain import ExpectedGain, NextExposure
from curves.sensitometry.strip.origin import PredictedInterval

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def next_exposure_json(found: NextExposure) -> str:
    """Return a plan after a strip as JSON text, its proposals best first."""
    name, channel = found.number.key
    return json_text(
        {
            "format": FORMAT,
            "after": found.analysis.strip.title,
            "number": name,
            "channel": channel,
            "value": quantity(found.number.shown),
            "unit": found.number.scale,
            "half_width": found.half_width,
            "half_width_without_meter": found.without_meter,
            "films": found.films,
            "proposals": [_proposal(gain) for gain in found.gains],
            "budget": [] if found.budget is None else budget(found.budget),
        }
    )


def _proposal(gain: ExpectedGain) -> dict[str, Any]:
    """Return one proposal with what it can be expected to do."""
    proposal = gain.proposal
    return {
        "key": proposal.key,
        "way": proposal.way,
        "offset_stops": proposal.offset_stops if proposal.way == "again" else None,
        "readings": proposal.readings,
        "patch": proposal.patch,
        "indexes": list(proposal.indexes),
        "metered_step": proposal.metered_step,
        "film_cm": proposal.film_cm,
        "frames": proposal.frames,
        "to_read": proposal.to_read,
        "half_width": gain.half_width,
        "after": _predicted(gain.after),
        "alone": _predicted(gain.alone),
        "gain": gain.gain,
        "chance": gain.chance,
        "worth_it": gain.worth,
    }


def _predicted(interval: PredictedInterval | None) -> dict[str, Any] | None:
    """Return a number and half the width of its interval on its scale: lower end, median and upper end of each."""
    return None if interval is None else {"value": list(interval.value), "half_width": list(interval.half_width)}
