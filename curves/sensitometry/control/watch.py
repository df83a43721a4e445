"""The numbers of control strips that show how a process runs, charted in the order of the strips."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.comparison.pairs import refuse_unlike
from curves.sensitometry.control.causes import Cause, Observation, causes_of
from curves.sensitometry.control.charts import FEWEST, IndividualsChart, Signal
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, eye_channel
from curves.sensitometry.uncertainty.results import Analysis

PLACES = {"reversal": {"low": "T", "mid": "M", "high": "S"}, "negative": {"low": "speed"}}
"""Points of the first strip's curve at whose log H the layers' balance is read, by kind of strip."""

_FURTHER = {"mid": 0.60, "high": 1.20}
"""Log H beyond a negative's speed point at which its middle and high densities are read: our own choice [log10]."""


@dataclass(frozen=True, eq=False)
class ChartedNumber:
    """One number of the strips, charted.

    Attributes:
        key: name in JSON.
        label: name that a person reads.
        unit: unit in words; empty for a plain number.
        chart: the chart, one value for each strip.
        signals: the signals of the chart.
    """

    key: str
    label: str
    unit: str
    chart: IndividualsChart
    signals: tuple[Signal, ...]


@dataclass(frozen=True, eq=False)
class StripState:
    """The state of the process when one strip went through it.

    Attributes:
        analysis: the strip.
        observed: the signals of the strip by the key of the number: above or below the centre.
        causes: what usually causes such signals, each possible.
    """

    analysis: Analysis
    observed: Observation
    causes: tuple[Cause, ...]


@dataclass(frozen=True, eq=False)
class ProcessWatch:
    """A process, watched by its control strips.

    Attributes:
        strips: the state at each strip, in order.
        reference: number of strips at the beginning that the limits come from.
        numbers: the charted numbers.
        left_out: names of the numbers that too few reference strips show.
    """

    strips: tuple[StripState, ...]
    reference: int
    numbers: tuple[ChartedNumber, ...]
    left_out: tuple[str, ...]

    @property
    def in_control(self) -> bool:
        """True if no strip after the reference has a signal."""
        return not any(state.observed for state in self.strips[self.reference :])


def watch_process(analyses: Sequence[Analysis], reference: int) -> ProcessWatch:
    """Chart the numbers of control strips, find the signals and what usually causes them.

    Charted are Dmin, Dmax, the speed point, the gradient and, for colour, the balance of the layers in low, middle and
    high densities: each layer's density less that of green, at the log H of T, M and S on the first strip.

    Args:
        analyses: control strips of one film and one exposure, in the order of their processing.
        reference: number of strips at the beginning that show the process as it should be.

    Raises:
        StripError: strips cannot be charted together, or there are too few reference strips.
    """
    first = analyses[0]
    for other in analyses[1:]:
        refuse_unlike(first, other, "control strips of one kind, read in one kind of density")
    places = _places(first)
    read = [dict(_numbers(analysis, places)) for analysis in analyses]
    charted = [key for key in read[0] if _known(key, read, reference)]
    numbers = tuple(_charted(key, read, reference, first) for key in charted)
    if not numbers:
        raise StripError("no number is known on the reference strips", needed="strips that show Dmin and a speed point")
    states = []
    for index, analysis in enumerate(analyses):
        observed = {n.key: s.above for n in numbers for s in n.signals if s.index == index}
        states.append(StripState(analysis, observed, causes_of(first.strip.kind, observed)))
    left_out = tuple(label_of(key, first.strip.kind)[0] for key in read[0] if key not in charted)
    return ProcessWatch(tuple(states), reference, numbers, left_out)


def _charted(key: str, read: Sequence[Mapping[str, float]], reference: int, first: Analysis) -> ChartedNumber:
    """Return one number of all strips with its chart."""
    chart = IndividualsChart.of(np.array([numbers.get(key, np.nan) for numbers in read]), reference)
    label, unit = label_of(key, first.strip.kind)
    return ChartedNumber(key, label, unit, chart, chart.signals())


def _known(key: str, read: Sequence[Mapping[str, float]], reference: int) -> bool:
    """Return True if a number is known on as many reference strips as limits need."""
    known = sum(bool(np.isfinite(numbers.get(key, np.nan))) for numbers in read[:reference])
    return known >= min(FEWEST, reference)


def label_of(key: str, kind: str) -> tuple[str, str]:
    """Return the name of a charted number that a person reads, and its unit."""
    if key.startswith("balance"):
        _, where, layer = key.split(".")
        return f"{layer} less green, {where}", "density"
    return {
        "dmin": ("Dmin", "density"),
        "dmax": ("Dmax", "density"),
        "speed": ("speed", "stops"),
        "contrast": ("average gradient" if kind == "reversal" else "gradient, 1.30", ""),
    }[key]


def _numbers(analysis: Analysis, places: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    """Give the charted numbers of one strip; NaN where a number is missing."""
    eye = analysis.channels[eye_channel(analysis.channels)]
    yield "dmin", _value(eye.measures["dmin"])
    yield "dmax", _value(eye.measures["dmax"])
    point = eye.points["T" if analysis.strip.kind == "reversal" else "speed"].log_h
    yield "speed", -_value(point) / STOP
    yield "contrast", _value(eye.measures["average_gradient"])
    if all(layer in analysis.channels for layer in LAYERS):
        for where, log_h in places.items():
            red, green, blue = (float(analysis.channels[layer].curve.density_at(log_h)) for layer in LAYERS)
            yield f"balance.{where}.red", red - green
            yield f"balance.{where}.blue", blue - green


def _places(first: Analysis) -> dict[str, float]:
    """Return the log H at which the layers are compared, low, mid and high [log10]."""
    points = first.channels[eye_channel(first.channels)].points
    found = {where: _value(points[name].log_h) for where, name in PLACES[first.strip.kind].items()}
    if first.strip.kind == "negative":
        found |= {where: found["low"] + further for where, further in _FURTHER.items()}
    return found


def _value(quantity: Quantity) -> float:
    return float("nan") if quantity.value is None else quantity.value
