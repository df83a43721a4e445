"""A watched process as JSON and as a pandas table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from curves.files.results.content import json_text
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.control.watch import ProcessWatch, watch_process
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

if TYPE_CHECKING:
    import pandas as pd

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def control(strips: Sequence[Strip | Analysis], reference: int, choices: Choices | None = None) -> pd.DataFrame:
    """Return the charts of a process, one row per charted number and strip.

    Args:
        strips: control strips of one film and one exposure, in the order of their processing, or their analyses.
        reference: number of strips at the beginning that show the process as it should be.
        choices: the choices of the analyses of strips; the defaults if None.

    Returns:
        Columns: strip, its title; date; number, its key; label; unit; value, NaN where missing; centre, low and high,
        the centre and the limits of the chart; range, the moving range; signal, the rule that the strip breaks, empty
        where it breaks none; causes, separated by semicolons.

    Raises:
        StripError: strips cannot be charted together, or there are too few reference strips.
    """
    import pandas as pd

    found = watch_process([s if isinstance(s, Analysis) else analyse(s, choices) for s in strips], reference)
    rows = []
    for number in found.numbers:
        signals = {signal.index: signal.rule for signal in number.signals}
        for index, state in enumerate(found.strips):
            rows.append(
                {
                    "strip": state.analysis.strip.title,
                    "date": state.analysis.strip.date,
                    "number": number.key,
                    "label": number.label,
                    "unit": number.unit,
                    "value": number.chart.values[index],
                    "centre": number.chart.centre,
                    "low": number.chart.limits[0],
                    "high": number.chart.limits[1],
                    "range": number.chart.ranges[index],
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
            "numbers": [
                {
                    "number": number.key,
                    "label": number.label,
                    "unit": number.unit,
                    "centre": number.chart.centre,
                    "limits": list(number.chart.limits),
                    "range_limit": number.chart.range_limit,
                    "values": number.chart.values.tolist(),
                    "ranges": number.chart.ranges.tolist(),
                    "signals": [{"strip": s.index, "rule": s.rule, "above": s.above} for s in number.signals],
                }
                for number in found.numbers
            ],
            "strips": [_state(state.analysis, [cause.name for cause in state.causes]) for state in found.strips],
        }
    )


def _state(analysis: Analysis, causes: list[str]) -> dict[str, Any]:
    date = analysis.strip.date
    return {"title": analysis.strip.title, "date": date.isoformat() if date else None, "causes": causes}
