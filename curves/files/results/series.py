"""A series as JSON, and as pandas tables of its numbers and of the settings that wanted numbers need."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from curves.files.results.content import json_text, quantity
from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.comparison.numbers import in_own_unit
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.series.setting import Setting
from curves.sensitometry.series.strips import NumberSeries, StripSeries, WantedSetting, strip_series
from curves.sensitometry.series.trend import Repeatability, Trend
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

if TYPE_CHECKING:
    import pandas as pd

FORMAT = 1
"""Version of the JSON layout; it changes only when a key changes its meaning."""


def series(
    strips: Sequence[Strip | Analysis],
    by: str,
    channel: Channel | None = None,
    scatter: Repeatability | None = None,
    choices: Choices | None = None,
) -> pd.DataFrame:
    """Return every number of strips that differ in one condition, one row per number and strip, with its trend.

    Args:
        strips: two or more strips of one kind and one kind of density, or their analyses.
        by: key of the condition, as the strips state it: "first_developer_minutes".
        channel: the channel whose numbers are followed; the one nearest to the eye if None.
        scatter: scatter of the process from strip to strip, where it is known.
        choices: the choices of the analyses of strips; the defaults if None.

    Returns:
        Columns: strip, its title; setting; number, its key; channel, empty for a number of the whole strip; label;
        unit of differences; value, low and high (95 % interval), NaN where there is none; side ("<" or ">") and bound,
        where only a bound is known; trend, trend_low and trend_high, the trend at the setting with all errors;
        alike_low and alike_high, with the errors alone that the strips do not share. Values and trends are in the
        number's own unit; NaN where there is no trend.

    Raises:
        StripError: strips cannot stand in one series, no two settings differ, or a name is not known.
    """
    return numbers_frame(strip_series(_analysed(strips, choices), by, None, channel, scatter))


def settings_for(
    strips: Sequence[Strip | Analysis],
    by: str,
    wanted: Mapping[str, float],
    scatter: Repeatability | None = None,
    choices: Choices | None = None,
) -> pd.DataFrame:
    """Return the settings of a condition that wanted numbers need, one row each.

    Args:
        strips, by, scatter, choices: as for `series`.
        wanted: values by number: {"ei": 50, "gamma": 1.8, "dmin.red": 0.3}.

    Returns:
        Columns: number, channel, wanted; setting, low and high (95 % interval, all errors), NaN where the series does
        not show them; alike_low and alike_high, for a value measured as these strips were; why, where the interval is
        not a plain one.

    Raises:
        StripError: as for `series`.
    """
    import pandas as pd

    found = strip_series(_analysed(strips, choices), by, wanted, None, scatter)
    rows = [
        {
            "number": one.number.key[0],
            "channel": one.number.key[1] or "",
            "wanted": one.wanted,
            "setting": one.setting.value,
            "low": one.setting.low,
            "high": one.setting.high,
            "alike_low": None if one.alike is None else one.alike.low,
            "alike_high": None if one.alike is None else one.alike.high,
            "why": one.setting.why,
        }
        for one in found.wanted
    ]
    numeric = ["wanted", "setting", "low", "high", "alike_low", "alike_high"]
    return pd.DataFrame(rows).astype(dict.fromkeys(numeric, float))


def numbers_frame(found: StripSeries) -> pd.DataFrame:
    """Return the numbers of a series as a pandas table, with the columns of `series`."""
    import pandas as pd

    rows = []
    for number in found.numbers.values():
        trends = _at_strips(number, found)
        for i, (analysis, one) in enumerate(zip(found.analyses, number.numbers, strict=True)):
            shown = None if one is None else one.shown
            bound = None if shown is None else shown.bound
            rows.append(
                {
                    "strip": analysis.strip.title,
                    "setting": found.settings[i],
                    "number": number.key[0],
                    "channel": number.key[1] or "",
                    "label": number.label,
                    "unit": number.scale,
                    "value": None if shown is None else shown.value,
                    "low": None if shown is None else shown.low,
                    "high": None if shown is None else shown.high,
                    "side": bound[0] if bound else "",
                    "bound": bound[1] if bound else None,
                    **{name: values[i] for name, values in trends.items()},
                }
            )
    numeric = ["value", "low", "high", "bound", "trend", "trend_low", "trend_high", "alike_low", "alike_high"]
    return pd.DataFrame(rows).astype(dict.fromkeys(numeric, float))


def series_json(found: StripSeries) -> str:
    """Return a series as JSON text."""
    condition = found.condition
    return json_text(
        {
            "format": FORMAT,
            "condition": {"key": condition.key, "name": condition.name, "unit": condition.unit},
            "strips": [
                {"title": a.strip.title, "setting": s} for a, s in zip(found.analyses, found.settings, strict=True)
            ],
            "left_out": list(found.left_out),
            "also_varied": list(found.also_varied),
            "shared": list(found.shared),
            "channel": found.channel,
            "wanted": [_wanted(one) for one in found.wanted],
            "numbers": [_number(number, found) for number in found.numbers.values()],
        }
    )


def _analysed(strips: Sequence[Strip | Analysis], choices: Choices | None) -> list[Analysis]:
    return [one if isinstance(one, Analysis) else analyse(one, choices) for one in strips]


def _at_strips(number: NumberSeries, found: StripSeries) -> dict[str, FloatArray]:
    """Return the trend at each strip's setting, in the number's own unit; NaN beyond its ends."""
    names = ("trend", "trend_low", "trend_high", "alike_low", "alike_high")
    lines = dict.fromkeys(names, np.full(found.settings.size, np.nan))
    if number.trend is None:
        return lines
    place = found.scale_of(number).place(found.settings)

    def at(trend: Trend, y: FloatArray) -> FloatArray:
        return in_own_unit(number.key, np.interp(place, trend.place, y, left=np.nan, right=np.nan))

    all_errors, alike = number.trend, number.alike
    lines |= {
        "trend": at(all_errors, all_errors.estimate),
        "trend_low": at(all_errors, all_errors.low),
        "trend_high": at(all_errors, all_errors.high),
    }
    if alike is not None:
        lines |= {"alike_low": at(alike, alike.low), "alike_high": at(alike, alike.high)}
    return lines


def _wanted(one: WantedSetting) -> dict[str, Any]:
    return {
        "number": one.number.key[0],
        "channel": one.number.key[1],
        "value": one.wanted,
        "setting": _setting(one.setting),
        "alike": None if one.alike is None else _setting(one.alike),
    }


def _setting(setting: Setting) -> dict[str, Any]:
    return {"value": setting.value, "low": setting.low, "high": setting.high, "why": setting.why}


def _number(number: NumberSeries, found: StripSeries) -> dict[str, Any]:
    trend, change = number.trend, number.change
    return {
        "number": number.key[0],
        "channel": number.key[1],
        "label": number.label,
        "unit": number.scale,
        "usual_direction": number.way,
        "strips": [None if n is None else quantity(n.shown) for n in number.numbers],
        "change": None if change is None else quantity(change.difference),
        "verdict": "not known" if change is None else change.verdict,
        "against_usual": None if trend is None else trend.against,
        "scatter": None if trend is None else quantity(trend.scatter),
        "scatter_from": None if trend is None else trend.scatter_from,
        "trend": None if trend is None else _line(number, trend, found),
        "alike": None if number.alike is None else _line(number, number.alike, found),
    }


def _line(number: NumberSeries, trend: Trend, found: StripSeries) -> dict[str, list[float]]:
    """Return a trend as lists: settings, and the number with its interval in its own unit."""
    lines = {"value": trend.estimate, "low": trend.low, "high": trend.high}
    return {
        "settings": found.scale_of(number).setting(trend.place).tolist(),
        **{name: in_own_unit(number.key, y).tolist() for name, y in lines.items()},
    }
