"""The numbers of a strip that can be compared with those of another, each on a scale on which differences add."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Literal

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, FloatArray
from curves.sensitometry.measures.table import MEASURES, SPEEDS
from curves.sensitometry.uncertainty.results import Analysis

Scale = Literal["density", "stops", "gradient"]
"""The scale of a difference: densities, exposures in stops, or gradients."""

More = Literal["denser", "faster", "slower", "steeper", "longer"]
"""What a greater number of one kind means: an index is faster, a point that needs more exposure slower."""

OPPOSITES: dict[More, str] = {
    "denser": "thinner", "faster": "slower", "slower": "faster", "steeper": "flatter", "longer": "shorter",
}  # fmt: skip
"""What a smaller number means, by what a greater one means."""

NumberKey = tuple[str, Channel | None]
"""Name of a number and its channel; no channel for a number of the whole strip."""

_LENGTHS = {"range_stops", "toe_stops", "straight_stops", "shoulder_stops"}
_POINTS = {"T", "S", "M", "speed"}
_LABELS = {rule.key: rule.label for rule in SPEEDS}


@dataclass(frozen=True, eq=False)
class ComparableNumber:
    """One number of a strip, put on a scale on which differences add.

    Attributes:
        key: name of the number and its channel.
        label: name that a person reads, without the channel.
        scale: the scale of differences.
        more: what a greater number means.
        shown: the number in its own unit.
        value: the number on the scale: an index as log2, a log H in stops, a density or gradient as it is.
        exposed: True if an error of the strip's exposure moves the number.
    """

    key: NumberKey
    label: str
    scale: Scale
    more: More
    shown: Quantity
    value: Quantity
    exposed: bool = False


def on_scale(key: NumberKey, shown: FloatArray) -> FloatArray:
    """Return a number in its own unit as it is on its scale, any shape: an index as log2, a log H in stops."""
    name, channel = key
    if channel is None:
        return np.asarray(np.log2(shown))
    return np.asarray(shown / STOP if name in _POINTS else shown)


def in_own_unit(key: NumberKey, values: FloatArray) -> FloatArray:
    """Return a number on its scale in its own unit, any shape: the inverse of `on_scale`."""
    name, channel = key
    if channel is None:
        return np.asarray(np.exp2(values))
    return np.asarray(values * STOP if name in _POINTS else values)


def comparable_numbers(analysis: Analysis) -> dict[NumberKey, ComparableNumber]:
    """Return every number of a strip that has a meaning beside that of another strip, by name and channel."""
    return {number.key: number for number in _every(analysis)}


def scaled(analysis: Analysis, key: NumberKey) -> Quantity:
    """Return a number on its scale, without a value where a strip does not have it; the numbers behind it are left."""
    found = (number.value for number in _every(analysis) if number.key == key)
    return next(found, Quantity.missing("the strip does not have this number"))


def _every(analysis: Analysis) -> Iterator[ComparableNumber]:
    """Yield the numbers of a strip, each computed when its turn comes."""
    return chain(_of_the_strip(analysis), _of_the_channels(analysis))


def _of_the_strip(analysis: Analysis) -> Iterator[ComparableNumber]:
    """Yield the index, the ends of its range, and the speeds."""
    ei = analysis.working_ei
    indexes = {
        "ei": ("working EI", ei.recommended),
        "ei_lowest": ("lowest usable EI", ei.range[0]),
        "ei_highest": ("highest usable EI", ei.range[1]),
        **{key: (_LABELS[key], speed.value) for key, speed in analysis.speeds.items()},
    }
    for key, (label, shown) in indexes.items():
        yield ComparableNumber((key, None), label, "stops", "faster", shown, _on_scale((key, None), shown), True)


def _of_the_channels(analysis: Analysis) -> Iterator[ComparableNumber]:
    """Yield the points and the measures of every channel."""
    for channel, found in analysis.channels.items():
        for name, point in found.points.items():
            value = _on_scale((name, channel), point.log_h)
            label = "speed point" if name == "speed" else name
            yield ComparableNumber((name, channel), label, "stops", "slower", point.log_h, value, True)
        for measure in MEASURES:
            if measure.key not in found.measures:
                continue
            shown = found.measures[measure.key]
            scale, more = _kind_of(measure.key, measure.unit)
            label = measure.label if measure.label.startswith("D") else measure.label[0].lower() + measure.label[1:]
            yield ComparableNumber((measure.key, channel), label, scale, more, shown, shown)


def _kind_of(key: str, unit: str) -> tuple[Scale, More]:
    """Return the scale of a measure and what a greater measure means."""
    if key in _LENGTHS:
        return "stops", "longer"
    return ("density", "denser") if unit == "density" else ("gradient", "steeper")


def _on_scale(key: NumberKey, shown: Quantity) -> Quantity:
    """Return a quantity on its scale: its value, ends, bound and rows."""
    value, low, high = (
        None if x is None else float(on_scale(key, np.asarray(x))) for x in (shown.value, shown.low, shown.high)
    )
    bound = shown.bound and (shown.bound[0], float(on_scale(key, np.asarray(shown.bound[1]))))
    rows = None if shown.rows is None else on_scale(key, shown.rows)
    return Quantity(value, low, high, shown.how, bound, shown.why, rows=rows)
