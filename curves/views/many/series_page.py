"""The page of a series: the family of curves in one scale of colour, and the trend of every number."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from curves.sensitometry.comparison.numbers import ComparableNumber, in_own_unit, on_scale
from curves.sensitometry.core.units import Channel, FloatArray, degrees, nominal_speed
from curves.sensitometry.series.strips import NumberSeries, StripSeries, WantedSetting, is_shown
from curves.sensitometry.series.trend import Trend
from curves.sensitometry.uncertainty.intervals import ends_of
from curves.views.many.series_words import (
    background,
    change_words,
    heading,
    number_words,
    remarks,
    sentence,
    wanted_lines,
)
from curves.views.page.axes import LOG_H_TITLE
from curves.views.page.frame import assemble_page
from curves.views.page.svg import Axis, Figure, spread_axis
from curves.views.page.tables import esc, minus
from curves.views.words import digits
from curves.views.words.cautions import CHEMISTRY

_SCALE = ((232, 168, 60), (190, 78, 80), (58, 44, 110))
"""Colours of the least setting, the middle and the greatest: red, green, blue, from light to dark."""

_UNIT, _SMALL_UNIT = 150.0, 90.0
"""Length of one density and of one log H, of the main figure and of the others [px]."""

_WIDTH, _HIGH = 290.0, 190.0
_TREND, _WANTED = "#2f5d7c", "#b4533c"
_MOST_LABELS = 8


def series_page(found: StripSeries) -> str:
    """Return the page of a series; the same results give the same page, to the letter."""
    title = f"{found.condition.name[:1].upper()}{found.condition.name[1:]} varied"
    answers = "".join(
        f"<li>{'<br>'.join(esc(minus(line)) for line in wanted_lines(wanted, found))}</li>" for wanted in found.wanted
    )
    others = [c for c in found.analyses[0].channels if c != found.channel]
    layers = [c for c in others if all(c in a.channels and not a.channels[c].estimated for a in found.analyses)]
    small = "".join(
        f'<figure tabindex="0"><h3>{esc(c)}</h3><div>{_family(found, c, _SMALL_UNIT)}</div></figure>' for c in layers
    )
    trends = "".join(_section(number, found) for number in found.numbers.values() if number.trend is not None)
    notes = "".join(f"<p>{esc(minus(text))}</p>" for text in (*remarks(found), *background(found), CHEMISTRY))
    bands = (
        "Pale bands: 95 % interval with all errors. Dark bands, and the strips' bars: without the errors that all"
        " strips share."
        if found.shared
        else "Bands: 95 % interval, with all errors."
    )
    body = (
        f'<article id="series"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(heading(found))}</p></header>'
        + (f"<section><h2>Settings for what is wanted</h2><ul>{answers}</ul></section>" if answers else "")
        + f'<section><h2>Curves, {esc(found.channel)}</h2><figure tabindex="0">'
        f"{_family(found, found.channel, _UNIT)}</figure>{_legend(found)}</section>"
        + f'<section><h2>Every number</h2><p>{bands}</p><div class="figures">{trends}</div></section>'
        + f"<section><h2>What the trends rest on</h2>{notes}</section>"
        + (f'<section><h2>Curves of the layers</h2><div class="figures">{small}</div></section>' if small else "")
        + "</div></article>"
    )
    return assemble_page(title, body, [])


def _colour(place: float) -> str:
    """Return the colour of a setting at a place from 0, the least, to 1, the greatest."""
    at = np.clip(place, 0.0, 1.0) * (len(_SCALE) - 1)
    before = min(int(at), len(_SCALE) - 2)
    mixed = [round(a + (at - before) * (b - a)) for a, b in zip(_SCALE[before], _SCALE[before + 1], strict=True)]
    return "#" + "".join(f"{part:02x}" for part in mixed)


def _places(found: StripSeries) -> FloatArray:
    """Return the place of each strip's setting from 0, the least, to 1, the greatest, (n,)."""
    settings = np.log(found.settings) if found.condition.by_ratio else found.settings
    return np.asarray((settings - settings[0]) / (settings[-1] - settings[0]))


def _family(found: StripSeries, channel: Channel, unit: float) -> str:
    """Return the curves of one channel of all strips, each in the colour of its setting.

    Args:
        found: the series.
        channel: the channel.
        unit: length of one density and of one log H [px].
    """
    curves = [analysis.channels[channel].curve for analysis in found.analyses]
    x = spread_axis(
        LOG_H_TITLE[found.analyses[0].strip.log_h_unit], [float(h) for c in curves for h in c.grid], 0.03, 0.1
    )
    y = spread_axis("density", [0.0, *(float(d) for c in curves for d in c.grid_density)], 0.03, 0.1)
    about = f"Density against log H, {channel}: one curve for each strip"
    figure = Figure(x, y, unit * (x.high - x.low), unit * (y.high - y.low), about)
    for curve, place in zip(curves, _places(found), strict=True):
        figure.line(curve.grid, curve.grid_density, _colour(float(place)))
    return figure.drawing()


def _legend(found: StripSeries) -> str:
    """Return the scale of colour as a bar with the settings on it."""
    stops = "".join(f'<stop offset="{p:g}" stop-color="{_colour(p)}"/>' for p in np.linspace(0.0, 1.0, 9))
    ticks = "".join(
        f'<path d="M{20 + 400 * place:.1f},26v6" stroke="#33312e"/>'
        f'<text x="{20 + 400 * place:.1f}" y="46" text-anchor="middle" fill="#33312e">{text}</text>'
        for place, text in _setting_labels(found)
    )
    name = esc(f"{found.condition.name}{f' [{found.condition.unit}]' if found.condition.unit else ''}")
    return (
        '<div><svg class="drawing" viewBox="0 0 440 72" width="440" height="72" role="img"'
        f' aria-label="Colour of each setting" font-size="12" font-family="system-ui, sans-serif"><defs>'
        f'<linearGradient id="settings">{stops}</linearGradient></defs>'
        f'<rect x="20" y="10" width="400" height="16" fill="url(#settings)"/>{ticks}'
        f'<text x="220" y="64" text-anchor="middle" fill="#33312e">{name}</text></svg></div>'
    )


def _setting_labels(found: StripSeries) -> list[tuple[float, str]]:
    """Return places and texts of the settings, those that would stand too close left out."""
    labels: list[tuple[float, str]] = []
    for place, setting in sorted(dict(zip(_places(found), found.settings, strict=True)).items()):
        if not labels or place - labels[-1][0] >= 1.0 / _MOST_LABELS or place == 1.0:
            if place == 1.0 and len(labels) > 1 and place - labels[-1][0] < 1.0 / _MOST_LABELS:
                labels.pop()
            labels.append((float(place), f"{setting:g}"))
    return labels


def _section(number: NumberSeries, found: StripSeries) -> str:
    """Return the trend of one number with its change."""
    label = sentence(number_words(number))
    told = f"First to last: {change_words(number)}."
    return (
        f'<figure tabindex="0"><h3>{esc(label)}</h3><div>{_trend(number, found)}</div>'
        f"<figcaption>{esc(minus(told))}</figcaption></figure>"
    )


def _trend(number: NumberSeries, found: StripSeries) -> str:
    """Return the figure of one number against the condition: band, trend, strips, and what is wanted of it."""
    trend, wanted = number.trend, [one for one in found.wanted if one.number is number]
    assert trend is not None
    places = _places(found)
    scale = found.scale_of(number)
    ends = [float(np.interp(s, found.settings, places)) for s in (scale.first, scale.last)]
    at = ends[0] + (ends[1] - ends[0]) * trend.place
    unit = f" [{found.condition.unit}]" if found.condition.unit else ""
    x = Axis(f"{found.condition.name}{unit}", -0.05, 1.05, _setting_labels(found))
    own = number.own or number.numbers
    heights = [*_drawn(number, trend.low), *_drawn(number, trend.high), *(_height(number, w.wanted) for w in wanted)]
    heights += [end for n in own if n is not None and is_shown(n) for end in _ends(number, n)]
    y = _axis(number, heights)
    figure = Figure(x, y, _WIDTH, _HIGH, f"{number_words(number)} against {found.condition.name}")
    if trend.drawn:
        _band(figure, number, at, trend)
        if number.alike is not None:
            _band(figure, number, at, number.alike)
        figure.line(at, _drawn(number, trend.estimate), _TREND)
    for one in wanted:
        _wanted(figure, number, one, scale.place, ends)
    for place, analysis, n, each in zip(places, found.analyses, number.numbers, own, strict=True):
        _strip(figure, number, float(place), n, each, analysis.strip.title)
    return figure.drawing()


def _band(figure: Figure, number: NumberSeries, at: FloatArray, trend: Trend) -> None:
    figure.band(at, _drawn(number, trend.low), _drawn(number, trend.high), _TREND)


def _strip(
    figure: Figure,
    number: NumberSeries,
    place: float,
    whole: ComparableNumber | None,
    own: ComparableNumber | None,
    title: str,
) -> None:
    """Draw one strip's number with its interval, or an arrow at its bound."""
    if whole is None:
        return
    if is_shown(whole) and whole.value.value is not None:
        colour = _colour(place)
        if own is not None:
            figure.bar(place, *_ends(number, own), colour)
        figure.mark(place, _height(number, whole.shown.value or 0.0), colour, f"{title}: {digits.show(whole.shown)}")
    elif whole.shown.bound is not None:
        side, end = whole.shown.bound
        height = _height(number, end)
        if figure.y.low <= height <= figure.y.high:
            text = "↑" if side == ">" else "↓"
            figure.words(place, height, f"{text} {digits.value(whole.shown)}", _colour(place), anchor="middle")


def _ends(number: NumberSeries, own: ComparableNumber) -> tuple[float, float]:
    """Return the heights of the ends of a strip's interval."""
    rows = own.value.rows
    assert rows is not None
    low, high = _drawn(number, np.array(ends_of(rows[1:][np.isfinite(rows[1:])])))
    return float(low), float(high)


def _wanted(
    figure: Figure, number: NumberSeries, one: WantedSetting, place_of: Callable[[float], FloatArray], ends: list[float]
) -> None:
    """Draw what is wanted of a number: a level, and the settings that give it along the level."""
    height = _height(number, one.wanted)
    figure.level(height, f"wanted {one.wanted:g}")
    for setting, width in ((one.setting, 2.0), (one.alike, 5.0)):
        if setting is None or not setting.known:
            continue
        low = -0.05 if setting.low is None else ends[0] + (ends[1] - ends[0]) * float(place_of(setting.low))
        high = 1.05 if setting.high is None else ends[0] + (ends[1] - ends[0]) * float(place_of(setting.high))
        along = np.clip(np.array([low, high]), -0.05, 1.05)
        figure.line(along, np.full(2, height), _WANTED, width=width)


def _axis(number: NumberSeries, heights: list[float]) -> Axis:
    """Return the axis of one number; indexes stand at the usual numbers of the dial."""
    if number.key[1] is not None:
        unit = {"density": "density", "gradient": "gradient", "stops": "log H"}[number.scale]
        return spread_axis("stops" if number.key[0].endswith("_stops") else unit, heights, 0.08, 0.02)
    plain = spread_axis("index", heights, 0.08, 0.5)
    first, last = (degrees(2.0**end) for end in (plain.low, plain.high))
    step = max(1, math.ceil((last - first) / _MOST_LABELS))
    exact = [(math.log2(10.0 ** ((n - 1) / 10.0)), n) for n in range(first, last + 1, step)]
    labels = [(at, f"{nominal_speed(2.0**at):g}") for at, _ in exact if plain.low <= at <= plain.high]
    return Axis(plain.title, plain.low, plain.high, labels)


def _drawn(number: NumberSeries, scaled: FloatArray) -> FloatArray:
    """Return heights on the figure of numbers on their scale: an index by its logarithm, others in their own unit."""
    return scaled if number.key[1] is None else in_own_unit(number.key, scaled)


def _height(number: NumberSeries, shown: float) -> float:
    """Return the height on the figure of a number in its own unit."""
    scaled = on_scale(number.key, np.asarray(shown))
    return float(_drawn(number, scaled))
