"""A plan as JSON: of the first strips of a film, or of the strip after another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from curves.files.results.content import budget, json_text, quantity
from curves.sensitometry.next_exposure.expected_gain import ExpectedGain, NextExposure
from curves.sensitometry.planning.camera import Mark
from curves.sensitometry.planning.ways import FirstPlan, PlannedStrip, Way
from curves.sensitometry.strip.origin import PredictedInterval

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def first_plan_json(plan: FirstPlan, plans: Mapping[Way, FirstPlan]) -> str:
    """Return a plan as JSON text.

    Args:
        plan: by the way that was asked for.
        plans: by every way within reach, this one too.
    """
    guess = plan.guess
    return json_text(
        {
            "format": FORMAT,
            "film": {
                "kind": guess.kind,
                "made_as": guess.made_as,
                "box": guess.box,
                "off_stops": guess.off_stops,
                "colour": guess.colour,
                "process_shift_stops": guess.prior.faster,
                "process_within_stops": guess.prior.within,
            },
            "way": plan.way,
            "ways": {way: _way(each) for way, each in plans.items()},
        }
    )


def _way(plan: FirstPlan) -> dict[str, Any]:
    """Return the plan by one way of exposing."""
    light = plan.light
    return {
        "chance": quantity(plan.chance),
        "apart_stops": plan.layout.apart,
        "ends": {
            "least_exposed": quantity(plan.expected.end(most_exposed=False)),
            "most_exposed": quantity(plan.expected.end(most_exposed=True)),
        },
        "light": None
        if light is None
        else {"lux": light.lux, "uncertainty_stops": light.uncertainty_stops, "origin": light.origin},
        "by_count": [
            {"strips": each.count, "apart_stops": each.apart, "chance": quantity(plan.expected.chance(*each.ends))}
            for each in plan.by_count
        ],
        "short_stops": plan.short_stops,
        "over_stops": plan.over_stops,
        "ei": plan.ei,
        "metered_step": plan.metered_step,
        "strips": [_strip(each) for each in plan.strips],
    }


def _strip(strip: PlannedStrip) -> dict[str, Any]:
    """Return one strip, or one frame."""
    return {
        "log_h": list(strip.ends),
        "lux_seconds": strip.lux_seconds,
        "time": _mark(strip.time),
        "aperture": _mark(strip.aperture),
        "filter_density": strip.filter_density,
        "offset_stops": strip.offset_stops,
        "rated_ei": strip.ei,
        "alone": quantity(strip.alone),
    }


def _mark(mark: Mark | None) -> dict[str, Any] | None:
    """Return a setting as it is engraved and as it is meant."""
    return None if mark is None else {"engraved": mark.engraved, "exact": mark.exact}


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
