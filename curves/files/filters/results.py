"""Results about filters as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from curves.files.results.content import FORMAT, json_text, quantity
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.cast import Cast
from curves.sensitometry.filters.densities import Filter
from curves.sensitometry.filters.from_strips import MeasuredFilter
from curves.sensitometry.filters.prediction import Pack
from curves.sensitometry.filters.prediction_check import PredictionCheck
from curves.sensitometry.filters.stacks import Stack, Stacks
from curves.sensitometry.uncertainty.results import Analysis


def stacks_json(analysis: Analysis, bare: BareStrip, pack: Pack, found: Stacks) -> str:
    """Return the stacks for a strip as JSON text."""
    left = pack.left
    return json_text(
        {
            "format": FORMAT,
            "title": analysis.strip.title,
            "match": bare.match,
            "criterion": bare.criterion,
            "without_filters": _stack(found.bare),
            "pack": {name: quantity(q) for name, q in pack.cc.items()},
            "crossover": {tone: _cast(left.casts[tone]) for tone in ("white", "shadow")} if left else None,
            "stacks_counted": found.counted,
            "stacks_too_dear": found.too_dear,
            "stacks": [_stack(one) for one in found.listed],
            "best": list(found.best.names),
        }
    )


def measured_filter_json(one: Filter, found: MeasuredFilter) -> str:
    """Return a measured filter as JSON text."""
    return json_text(
        {
            "format": FORMAT,
            "name": one.name,
            "source": one.source,
            "uncertainty": one.uncertainty,
            "layers": {
                channel: {
                    "density": quantity(shift.density),
                    "pure_shift": shift.pure,
                    "chance": shift.chance,
                    "misfit": shift.misfit,
                    "contrast_ratio": shift.contrast,
                }
                for channel, shift in found.layers.items()
            },
            "film_stops": quantity(found.film_stops),
            "meter_stops": found.meter_stops,
            "correction": quantity(found.correction),
            "notes": list(found.notes),
        }
    )


def photographed_filter_json(one: Filter, scatter: Sequence[float]) -> str:
    """Return a filter that two pictures show as JSON text.

    Args:
        one: the filter.
        scatter: standard uncertainty of each density by the pictures alone, (3,) [density].
    """
    return json_text(
        {
            "format": FORMAT,
            "name": one.name,
            "source": one.source,
            "uncertainty": one.uncertainty,
            "layers": {
                channel: {"density": density, "u": u}
                for channel, density, u in zip(LAYERS, one.densities.tolist(), scatter, strict=True)
            },
            "visual": one.visual,
        }
    )


def prediction_check_json(found: PredictionCheck) -> str:
    """Return a prediction compared with the measurement on film as JSON text."""
    return json_text(
        {
            "format": FORMAT,
            "stack": _stack(found.stack),
            "measured": {
                "ei": quantity(found.ei),
                "casts": {tone: _cast(check.measured) for tone, check in found.tones.items()},
                "shifts": {c: quantity(s.density) for c, s in found.shifts.items()},
            },
            "misses": {
                "ei_stops": quantity(found.ei_miss),
                "casts": {t: {c: quantity(q) for c, q in k.misses.items()} for t, k in found.tones.items()},
                "shifts": {c: quantity(q) for c, q in found.shift_misses.items()},
            },
            "says": list(found.says),
        }
    )


def _cast(cast: Cast) -> dict[str, Any]:
    return {
        "amount": quantity(cast.amount),
        "hue": cast.hue,
        "neutral": cast.neutral,
        "layers": {c: quantity(q) for c, q in cast.layers.items()},
    }


def _stack(one: Stack) -> dict[str, Any]:
    predicted = one.prediction
    content: dict[str, Any] = {
        "filters": list(one.names),
        "casts": {tone: _cast(cast) for tone, cast in predicted.casts.items()},
        "cast_left": quantity(predicted.cast_left),
        "cost_stops": quantity(predicted.cost),
        "ei_hand_held": quantity(predicted.ei),
        "nominal_hand_held": one.nominal,
        "ei_through": quantity(one.ei_through),
        "nominal_through": one.nominal_through,
        "filter_factor": quantity(one.factor),
        "covered": not predicted.uncovered,
        "uncovered": list(predicted.uncovered),
    }
    if one.worse_than_before is not None:
        content |= {"worse_than_before": quantity(one.worse_than_before), "told_apart": one.told_apart}
    return content
