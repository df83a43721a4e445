"""Comparisons of strips as JSON and as a pandas table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from curves.files.results.content import json_text, quantity
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.comparison.differences import (
    NumberDifference,
    Pairs,
    StripComparison,
    Tolerances,
    compare_strips,
)
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

if TYPE_CHECKING:
    import pandas as pd

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def compare(
    *strips: Strip | Analysis,
    tolerances: Tolerances | None = None,
    pairs: Pairs = "first",
    choices: Choices | None = None,
) -> pd.DataFrame:
    """Return the differences of all numbers of several strips, one row per pair and number, worst news first.

    Errors that two strips share (a wedge, a light, a reader, a meter, as their records state) cancel in a difference.

    Args:
        strips: two or more strips of one kind and one kind of density, or their analyses.
        tolerances: the differences that do not matter: a third of a stop, 0.05 density, 0.05 gradient if None.
        pairs: "first" to compare each strip with the first, "all" for all pairs; with several pairs the intervals are
            widened so that all hold together in 95 %.
        choices: the choices of the analyses of strips; the defaults if None.

    Returns:
        Columns: first, second, the strips' titles; number, its key; channel, empty for a number of the whole strip;
        label; unit of the difference; value_1, value_2, the number on each strip, in its own unit; difference, second
        less first, with low and high (95 % interval), NaN where there is none; side ("<" or ">") and bound, where only
        a bound is known; tolerance; verdict ("differs", "open", "slight", "alike" or "not known"); readings and strips
        that would tell, NaN where there is no such number.

    Raises:
        StripError: there are fewer than two strips, or strips cannot be compared.
    """
    import pandas as pd

    found = [one if isinstance(one, Analysis) else analyse(one, choices) for one in strips]
    rows = [
        {
            "first": pair.first.strip.title,
            "second": pair.second.strip.title,
            "number": one.first.key[0],
            "channel": one.first.key[1] or "",
            "label": one.first.label,
            "unit": one.first.scale,
            "value_1": one.first.shown.value,
            "value_2": one.second.shown.value,
            "difference": one.difference.value,
            "low": one.difference.low,
            "high": one.difference.high,
            "side": one.difference.bound[0] if one.difference.bound else "",
            "bound": one.difference.bound[1] if one.difference.bound else None,
            "tolerance": one.tolerance,
            "verdict": one.verdict,
            "readings": one.readings,
            "strips": one.strips,
        }
        for pair in compare_strips(found, tolerances, pairs)
        for one in pair.differences
    ]
    numeric = ["value_1", "value_2", "difference", "low", "high", "bound", "tolerance", "readings", "strips"]
    return pd.DataFrame(rows).astype(dict.fromkeys(numeric, float))


def comparisons_json(found: Sequence[StripComparison]) -> str:
    """Return comparisons as JSON text: ``{"format": 1, "comparisons": [...]}``."""
    return json_text({"format": FORMAT, "comparisons": [_comparison(one) for one in found]})


def _comparison(found: StripComparison) -> dict[str, Any]:
    return {
        "first": found.first.strip.title,
        "second": found.second.strip.title,
        "shared": list(found.shared),
        "exposed_again_stops": found.again,
        "differences": [_difference(one) for one in found.differences],
    }


def _difference(one: NumberDifference) -> dict[str, Any]:
    name, channel = one.first.key
    return {
        "number": name,
        "channel": channel,
        "label": one.first.label,
        "unit": one.first.scale,
        "more": one.first.more,
        "first": quantity(one.first.shown),
        "second": quantity(one.second.shown),
        "difference": quantity(one.difference),
        "tolerance": one.tolerance,
        "verdict": one.verdict,
        "readings_that_would_tell": one.readings,
        "strips_that_would_tell": one.strips,
    }
