"""The numbers of control strips that show how a process runs, charted in the order of the strips."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.comparison.pairs import refuse_unlike
from curves.sensitometry.control.action import MEANS, RATE, Alarm, Spread, action_limits, alarms, spreads
from curves.sensitometry.control.batches import Batches
from curves.sensitometry.control.causes import Cause, Observation, causes_of
from curves.sensitometry.control.charts import FEWEST, IndividualsChart, Signal
from curves.sensitometry.control.numbers import control_numbers, label_of, places_of, reading_errors
from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.uncertainty.results import Analysis


@dataclass(frozen=True, eq=False)
class BatchDifference:
    """The difference of a number between a batch and the first batch, in the same run.

    Attributes:
        value: the difference; NaN where no run shows the number on both.
        low, high: ends of its 95 % interval.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class ChartedNumber:
    """One number of the strips, charted on the scale of the first batch.

    Attributes:
        key: name in JSON.
        label: name that a person reads.
        unit: unit in words; empty for a plain number.
        read: the number as each strip shows it, (n,).
        values: the same less the difference of the strip's batch, (n,).
        differences: of each batch from the first, in the order of the batches; the first one's is zero.
        chart: the chart, one value for each strip; NaN for strips that join their batch.
        signals: the signals of the chart.
        spread: from strip to strip, for the action limits.
        limits: the lower and the upper action limit of each strip, (n, 2).
        alarms: where the number passes an action limit.
    """

    key: str
    label: str
    unit: str
    read: FloatArray
    values: FloatArray
    differences: tuple[BatchDifference, ...]
    chart: IndividualsChart
    signals: tuple[Signal, ...]
    spread: Spread
    limits: FloatArray
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True, eq=False)
class StripState:
    """The state of the process when one strip went through it.

    Attributes:
        analysis: the strip.
        observed: the alarms and signals of the strip by the key of the number: above or below the centre.
        out: True if the strip has an alarm.
        causes: what usually causes what is observed, each possible; none of a strip without an alarm.
    """

    analysis: Analysis
    observed: Observation
    out: bool
    causes: tuple[Cause, ...]


@dataclass(frozen=True, eq=False)
class ProcessWatch:
    """A process, watched by its control strips.

    Attributes:
        strips: the state at each strip, in order.
        batches: the batches of the strips, and which strips the limits come from.
        numbers: the charted numbers.
        left_out: names of the numbers that too few reference strips show.
    """

    strips: tuple[StripState, ...]
    batches: Batches
    numbers: tuple[ChartedNumber, ...]
    left_out: tuple[str, ...]

    @property
    def reference(self) -> int:
        """Number of strips that the limits come from."""
        return int(self.batches.reference.sum())

    @property
    def judged(self) -> tuple[StripState, ...]:
        """The strips that are judged: neither a reference nor joining."""
        return tuple(state for state, judged in zip(self.strips, self.batches.judged, strict=True) if judged)

    @property
    def in_control(self) -> bool:
        """True if no strip has an alarm."""
        return not any(state.out for state in self.strips)


def watch_process(analyses: Sequence[Analysis], reference: int) -> ProcessWatch:
    """Chart the numbers of control strips, find alarms and signals, and what usually causes them.

    Charted are Dmin, Dmax, the speed point, the gradient and, for colour, the balance of the layers in low, middle and
    high densities: each layer's density less that of green, at the log H of T, M and S on the first strip.

    Args:
        analyses: control strips of one film and one exposure, in the order of their processing.
        reference: number of strips of the first batch, from the beginning, that show the process as it should be.

    Raises:
        StripError: strips cannot be charted together, a batch cannot be joined, or there are too few reference strips.
    """
    first = analyses[0]
    for other in analyses[1:]:
        refuse_unlike(first, other, "control strips of one kind, read in one kind of density")
    batches = Batches.of([analysis.strip for analysis in analyses], reference)
    places = places_of(first)
    read = [control_numbers(analysis, places) for analysis in analyses]
    values = {key: np.array([numbers.get(key, np.nan) for numbers in read]) for key in read[0]}
    charted = [key for key in values if _known(values[key], batches)]
    if not charted:
        raise StripError("no number is known on the reference strips", needed="strips that show Dmin and a speed point")
    references = [analysis for analysis, used in zip(analyses, batches.reference, strict=True) if used]
    numbers = _charted(
        {key: values[key] for key in charted}, batches, reading_errors(references, places), first.strip.kind
    )
    left_out = tuple(label_of(key, first.strip.kind)[0] for key in values if key not in charted)
    states = tuple(_state(analysis, index, numbers) for index, analysis in enumerate(analyses))
    return ProcessWatch(states, batches, numbers, left_out)


def _state(analysis: Analysis, index: int, numbers: Sequence[ChartedNumber]) -> StripState:
    """Return the state of the process at one strip."""
    observed = {n.key: s.above for n in numbers for s in n.signals if s.index == index}
    alarmed = {n.key: a.above for n in numbers for a in n.alarms if a.index == index}
    observed |= alarmed
    return StripState(analysis, observed, bool(alarmed), causes_of(analysis.strip.kind, observed) if alarmed else ())


def _charted(
    values: Mapping[str, FloatArray], batches: Batches, by_reading: Mapping[str, float], kind: Kind
) -> tuple[ChartedNumber, ...]:
    """Return the numbers of all strips with their charts, alarms and batches."""
    charts = {key: _JoinedNumber.of(read, batches) for key, read in values.items()}
    found = spreads(
        np.array([joined.reference.std(ddof=1) for joined in charts.values()]),
        np.array([joined.reference.size - 1.0 for joined in charts.values()]),
        np.array([by_reading[key] for key in charts]),
    )
    share = RATE / len(charts) / len(MEANS)
    return tuple(
        _number(key, joined, batches, spread, share, kind)
        for (key, joined), spread in zip(charts.items(), found, strict=True)
    )


@dataclass(frozen=True, eq=False)
class _JoinedNumber:
    """A number of all strips as read and on the scale of the first batch, with what joins the batches, and the chart.

    ``apart`` are the weights of the strips in the differences of the batches, (batches, n); ``moved`` the differences.
    """

    read: FloatArray
    values: FloatArray
    apart: FloatArray
    moved: FloatArray
    reference: FloatArray
    chart: IndividualsChart

    @classmethod
    def of(cls, read: FloatArray, batches: Batches) -> _JoinedNumber:
        """Return a number as read, joined over the batches."""
        known = np.isfinite(read)
        apart = batches.differences(known)
        moved = apart @ np.where(known, read, 0.0)
        values = read - moved[batches.batch]
        chart = IndividualsChart.of(np.where(batches.joining, np.nan, values), batches.reference)
        return cls(read, values, apart, moved, read[batches.reference & known], chart)


def _number(
    key: str, joined: _JoinedNumber, batches: Batches, spread: Spread, share: float, kind: Kind
) -> ChartedNumber:
    """Return one number with its chart, its action limits and the differences of its batches."""
    label, unit = label_of(key, kind)
    centre, weights = joined.chart.centre, batches.centres(np.isfinite(joined.read), joined.apart)
    differences = tuple(
        BatchDifference(float(d), *spread.interval(float(d), batches.variance(w)))
        for d, w in zip(joined.moved, joined.apart, strict=True)
    )
    return ChartedNumber(
        key, label, unit, joined.read, joined.values, differences, joined.chart, joined.chart.signals(), spread,
        action_limits(centre, spread, batches, weights, share),
        alarms(joined.values, centre, spread, batches, weights, share),
    )  # fmt: skip


def _known(values: FloatArray, batches: Batches) -> bool:
    """Return True if a number is known on as many reference strips as limits need."""
    known = int((np.isfinite(values) & batches.reference).sum())
    return known >= min(FEWEST, int(batches.reference.sum()))
