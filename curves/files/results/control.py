"""A watched process as JSON and as a pandas table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from curves.files.results.content import json_text
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.control.action import RATE
from curves.sensitometry.control.batches import Batches
from curves.sensitometry.control.watch import ChartedNumber, ProcessWatch, watch_process
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

if TYPE_CHECKING:
    import pandas as pd

FORMAT = 2
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def control(strips: Sequence[Strip | Analysis], reference: int, choices: Choices | None = None) -> pd.DataFrame:
    """Return the charts of a process, one row per charted number and strip.

    Args:
        strips: control strips of one film and one exposure, in the order of their processing, or their analyses.
        reference: number of strips of the first batch, from the beginning, that show the process as it should be.
        choices: the choices of the analyses of strips; the defaults if None.

    Returns:
        Columns: strip, its title; date; batch; part, "reference", "joining" or "judged"; number, its key; label; unit;
        read, the number as the strip shows it; value, the same on the scale of the first batch, NaN where missing;
        centre, low and high, the centre and the control limits of the chart; action_low and action_high, the action
        limits; range, the moving range; alarm, the strips whose mean passes an action limit, 0 for none; signal, the
        rule of the chart that the strip breaks, empty where it breaks none; causes, separated by semicolons.

    Raises:
        StripError: strips cannot be charted together, a batch cannot be joined, or there are too few references.
    """
    import pandas as pd

    found = watch_process([s if isinstance(s, Analysis) else analyse(s, choices) for s in strips], reference)
    rows = []
    for number in found.numbers:
        signals = {signal.index: signal.rule for signal in number.signals}
        alarms = {alarm.index: alarm.strips for alarm in number.alarms}
        for index, state in enumerate(found.strips):
            rows.append(
                {
                    "strip": state.analysis.strip.title,
                    "date": state.analysis.strip.date,
                    "batch": state.analysis.strip.batch,
                    "part": part_of(found.batches, index),
                    "number": number.key,
                    "label": number.label,
                    "unit": number.unit,
                    "read": number.read[index],
                    "value": number.values[index],
                    "centre": number.chart.centre,
                    "low": number.chart.limits[0],
                    "high": number.chart.limits[1],
                    "action_low": number.limits[index, 0],
                    "action_high": number.limits[index, 1],
                    "range": number.chart.ranges[index],
                    "alarm": alarms.get(index, 0),
                    "signal": signals.get(index, ""),
                    "causes": "; ".join(cause.name for cause in state.causes),
                }
            )
    return pd.DataFrame(rows)


def watch_json(found: ProcessWatch) -> str:
    """Return a watched process as JSON text."""
    return json_text(
        {
            "format": FORMAT,
            "in_control": found.in_control,
            "reference": found.reference,
            "left_out": list(found.left_out),
            "rate": RATE,
            "batches": [_batch(found.batches, number) for number in range(len(found.batches.names))],
            "numbers": [_number(number) for number in found.numbers],
            "strips": [_state(found, index) for index in range(len(found.strips))],
        }
    )


def _batch(batches: Batches, number: int) -> dict[str, Any]:
    """Return a batch and the strips that join it, as JSON has them."""
    own, others, runs = batches.beside(number)
    return {"name": batches.names[number], "strips": int((batches.batch == number).sum()), "runs": runs,
            "joining": own, "beside": others}  # fmt: skip


def _number(number: ChartedNumber) -> dict[str, Any]:
    """Return a charted number as JSON has it."""
    return {
        "number": number.key,
        "label": number.label,
        "unit": number.unit,
        "centre": number.chart.centre,
        "limits": list(number.chart.limits),
        "range_limit": number.chart.range_limit,
        "spread": number.spread.size,
        "freedom": number.spread.freedom,
        "read": number.read.tolist(),
        "values": number.values.tolist(),
        "ranges": number.chart.ranges.tolist(),
        "action_limits": number.limits.tolist(),
        "differences": [{"value": d.value, "low": d.low, "high": d.high} for d in number.differences],
        "alarms": [
            {"strip": a.index, "strips": a.strips, "mean": a.mean, "limit": a.limit, "above": a.above}
            for a in number.alarms
        ],
        "signals": [{"strip": s.index, "rule": s.rule, "above": s.above} for s in number.signals],
    }


def _state(found: ProcessWatch, index: int) -> dict[str, Any]:
    """Return the state of the process at one strip as JSON has it."""
    state = found.strips[index]
    strip = state.analysis.strip
    return {
        "title": strip.title,
        "date": strip.date.isoformat() if strip.date else None,
        "batch": strip.batch,
        "part": part_of(found.batches, index),
        "out": state.out,
        "causes": [cause.name for cause in state.causes],
    }


def part_of(batches: Batches, index: int) -> str:
    """Return the part of a strip: "reference", "joining" its batch to an earlier one, or "judged"."""
    if batches.reference[index]:
        return "reference"
    return "joining" if batches.joining[index] else "judged"
