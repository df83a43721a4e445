"""Axes, scene tones and line styles that all figures of a page share."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, Channel, FloatArray, exact_ei
from curves.sensitometry.strip.exposure import LogHUnit
from curves.sensitometry.uncertainty.results import Analysis


@dataclass(frozen=True)
class Style:
    """The line and marker by which a channel or a film is drawn.

    Attributes:
        colour: six hexadecimal digits.
        dash: lengths drawn and left out [px]; empty for an unbroken line.
        marker: shape of the markers.
    """

    colour: str
    dash: str
    marker: str


STYLES: Mapping[Channel, Style] = {
    "red": Style("#b4533c", "9px 3px", "square"),
    "green": Style("#2f8068", "6px 2px 1px 2px", "triangle-up"),
    "blue": Style("#3a5fa0", "2px 2px", "diamond"),
    "visual": Style("#2b2b2b", "", "circle"),
}
LOG_H_TITLE: Mapping[LogHUnit, str] = {
    "lux-seconds": "log H [lux-seconds]",
    "relative to metered mid-grey": "log H from metered mid-grey",
    "relative": "log H, relative",
}
"""The title of a log H axis."""

INK, FAINT, RULE = "#33312e", "#77736c", "#e4e0d8"
LINE_PLACES, BAND_PLACES = 121, 61
"""Places of a line and of an edge of a band on a page, even from end to end: no screen shows more."""
_ROUNDING, _LINE_ROUNDING = 4, 3
_MOST_STOP_TICKS = 9
_FURTHEST_TONE = 0.9
"""Greatest distance of a scene tone beyond the strip at which it is drawn [log10]."""


@dataclass(frozen=True)
class Scene:
    """The scene's tones on the log H axis [log10].

    Attributes:
        zero: log H of metered mid-grey, from which stops are counted; None if not known.
        metered_at: the exposure index that ``zero`` belongs to.
        tones: log H of shadow, grey and white at the index to set; empty if there is no index.
    """

    zero: float | None
    metered_at: float | None
    tones: Mapping[str, float]


def scene(analysis: Analysis, choices: Choices) -> Scene:
    """Return the scene's tones, with stops counted from mid-grey at the test's index or at the index to set."""
    nominal, tested = analysis.working_ei.nominal, analysis.strip.exposure.ei
    at_set = None if nominal is None else float(exact_ei(nominal))
    grey = None if at_set is None else math.log10(analysis.strip.metering.index_at_zero / at_set)
    tones = {} if grey is None else {"shadow": grey + choices.shadow, "grey": grey, "white": grey + choices.white}
    return Scene(0.0, tested, tones) if tested is not None else Scene(grey, nominal, tones)


def base_layout(analysis: Analysis, here: Scene, y_title: str, *, large: bool) -> dict[str, Any]:
    """Return the layout of a strip's figure: axes and scene tones; a large figure names tones and counts stops."""
    low = min(float(f.curve.grid[0]) for f in analysis.channels.values())
    high = max(float(f.curve.grid[-1]) for f in analysis.channels.values())
    tones = {n: x for n, x in here.tones.items() if low - _FURTHEST_TONE <= x <= high + _FURTHEST_TONE}
    low, high = min([low, *tones.values()]) - 0.08, max([high, *tones.values()]) + 0.08
    layout = plain_layout(LOG_H_TITLE[analysis.strip.log_h_unit], y_title, large=large)
    axis, title_font = layout["xaxis"], layout["xaxis"]["title"]["font"]
    layout["xaxis"] = {**axis, "range": [rounded(low), rounded(high)]}
    layout["shapes"] = [_tone_line(x) for x in tones.values()]
    layout["annotations"] = [_tone_name(name, x) for name, x in tones.items()] if large else []
    layout["margin"]["t"] = 52 if large and here.zero is not None else 14
    if large and here.zero is not None and here.metered_at is not None:
        every, named = _whole_stops(low, high, here.zero), _stop_ticks(low, high, here.zero)
        # The grid goes by stops, which a photographer counts in; log H keeps its marks.
        layout["xaxis"] |= {"showgrid": False}
        layout["xaxis2"] = {
            **axis,
            "automargin": False,
            "overlaying": "x",
            "matches": "x",
            "side": "top",
            "tickmode": "array",
            "tickvals": [rounded(here.zero + n * STOP) for n in every],
            "ticktext": [_stop_name(n) if n in named else "" for n in every],
            "title": {
                "text": f"stops from mid-grey metered at EI {here.metered_at:.3g}",
                "standoff": 4,
                "font": title_font,
            },
        }
    return layout


def plain_layout(x_title: str, y_title: str, *, large: bool) -> dict[str, Any]:
    """Return the layout of any figure: two axes with titles, fonts, colours and margins."""
    size = 12 if large else 11
    axis = {"gridcolor": RULE, "zeroline": False, "ticks": "outside", "ticklen": 4, "tickcolor": FAINT,
            "showline": True, "linecolor": FAINT, "automargin": True}  # fmt: skip
    return {
        "xaxis": {**axis, "title": {"text": x_title, "standoff": 6, "font": {"size": size}}},
        "yaxis": {**axis, "title": {"text": y_title, "standoff": 6, "font": {"size": size}}},
        "shapes": [],
        "annotations": [],
        "showlegend": False,
        "hovermode": "closest",
        "font": {"family": "system-ui, -apple-system, 'Segoe UI', Roboto, sans-serif", "size": size, "color": INK},
        "paper_bgcolor": "#fffefb",
        "plot_bgcolor": "#ffffff",
        "modebar": {"bgcolor": "rgba(0,0,0,0)", "color": FAINT, "activecolor": INK},
        "margin": {"l": 48, "r": 14, "t": 14, "b": 44},
        "hoverlabel": {"bgcolor": "#ffffff", "bordercolor": FAINT, "font": {"color": INK}, "align": "left"},
    }


def level_lines(analysis: Analysis) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Return a line and a label for each of Dmin and base of the channel that the index comes from, where known."""
    found = analysis.channels[analysis.working_ei.channel]
    colour = STYLES[found.channel].colour
    side = 0.0 if found.curve.kind == "reversal" else 1.0
    drawn = []
    for key, word, anchor in (("dmin", "Dmin", "bottom"), ("base", "base", "top")):
        level = found.measures[key].value
        if level is None:
            continue
        y = rounded(level)
        line = {"color": colour, "width": 1, "dash": "solid" if key == "base" else "4px 3px"}
        shape = {
            "type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": y, "y1": y, "line": line, "layer": "below",
            "opacity": 0.6,
        }  # fmt: skip
        label = {
            "text": f"{word} {level:.2f}", "xref": "paper", "x": side, "y": y, "yanchor": anchor, "showarrow": False,
            "xanchor": "left" if side == 0.0 else "right", "font": {"size": 11, "color": colour},
        }  # fmt: skip
        drawn.append((shape, label))
    return drawn


def _whole_stops(low: float, high: float, zero: float) -> range:
    """Return the whole stops from ``zero`` between ``low`` and ``high`` [log10]."""
    return range(math.ceil((low - zero) / STOP), math.floor((high - zero) / STOP) + 1)


def _stop_ticks(low: float, high: float, zero: float) -> range:
    """Return the whole stops between ``low`` and ``high`` [log10] that are named, thinned to a readable number."""
    every = _whole_stops(low, high, zero)
    step = max(1, math.ceil(len(every) / _MOST_STOP_TICKS))
    return range(math.ceil(every.start / step) * step, every.stop, step)


def _stop_name(n: int) -> str:
    return f"{n:+d}".replace("-", "−") if n else "0"


def _tone_line(x: float) -> dict[str, Any]:
    line = {"color": FAINT, "width": 1, "dash": "1px 3px"}
    return {"type": "line", "x0": rounded(x), "x1": rounded(x), "yref": "paper", "y0": 0, "y1": 1, "line": line,
            "layer": "below"}  # fmt: skip


def _tone_name(name: str, x: float) -> dict[str, Any]:
    return {"text": name, "x": rounded(x), "yref": "paper", "y": 1, "yanchor": "top", "showarrow": False,
            "font": {"size": 11, "color": FAINT}, "bgcolor": "#ffffff", "borderpad": 1}  # fmt: skip


def shown(words: str) -> str:
    """Return text from a record, escaped so that the plotting library does not read it as markup."""
    return html.escape(words, quote=False)


def rounded(x: float) -> float:
    """Return ``x`` rounded to the four decimals that a page stores."""
    return round(float(x), _ROUNDING) + 0.0


def along(x: FloatArray, y: FloatArray, places: int) -> list[float | None]:
    """Return the heights of a line at even places from end to end, as the page stores them.

    Args:
        x: rising, (n,).
        y: the line there, (n,).
        places: how many.
    """
    found = numbers(np.interp(np.linspace(x[0], x[-1], places), x, y))
    return [None if v is None else round(v, _LINE_ROUNDING) for v in found]


def numbers(values: Iterable[float]) -> list[float | None]:
    """Return numbers rounded for the page; None in place of NaN and infinity."""
    return [rounded(x) if math.isfinite(x) else None for x in values]
