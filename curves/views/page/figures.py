"""The figures of a strip's page, as plain dictionaries that the plotting library draws.

Every trace names its channel in ``meta``, so that the page can show and hide a channel in all figures at once. Channels
differ in dash and marker as well as in colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import ENDS
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding, Point, StepFinding
from curves.views.page.axes import (
    BAND_PLACES,
    FAINT,
    LINE_PLACES,
    STYLES,
    Scene,
    along,
    base_layout,
    level_lines,
    numbers,
    rounded,
    scene,
    shown,
)

Figure = dict[str, Any]

_BAND_OPACITY = 0.16


def figures(analysis: Analysis, choices: Choices) -> dict[str, Figure]:
    """Return the figures of one strip: "curve", "gradient", "residual" and, for colour, "layers".

    Each has ``data`` and ``layout``; numbers are rounded to four decimals.
    """
    here = scene(analysis, choices)
    found = {
        "curve": curve_figure(analysis, here),
        "gradient": gradient_figure(analysis, here),
        "residual": residual_figure(analysis, here),
    }
    if all(layer in analysis.channels for layer in LAYERS):
        found["layers"] = layers_figure(analysis, here)
    return found


def curve_figure(analysis: Analysis, here: Scene) -> Figure:
    """Return density against log H: readings, curves with their 95 % bands, straight-line parts and points."""
    data: list[dict[str, Any]] = []
    channels = analysis.channels.values()
    for found in channels:
        curve = found.curve
        data += _band(found.channel, curve.grid, curve.low, curve.high)
        if found.straight is not None:
            inside = (curve.grid >= found.straight[0]) & (curve.grid <= found.straight[1])
            straight = _line(found.channel, curve.grid[inside], curve.grid_density[inside], width=8)
            data.append({**straight, "opacity": 0.28, "hoverinfo": "skip"})
        data.append({**_line(found.channel, curve.grid, curve.grid_density), "hoverinfo": "skip"})
    for found in channels:
        data += _steps(found)
    for found in channels:
        data += _points(found, lettered=found.channel == analysis.working_ei.channel)
    base = analysis.channels[analysis.working_ei.channel].measures["base"].value
    # Room below the base for its name.
    low = min(0.0, min(float(f.curve.density.min()) for f in channels) - 0.1, *([] if base is None else [base - 0.2]))
    high = max(float(f.curve.density.max()) for f in channels) + 0.25
    layout = base_layout(analysis, here, "density", large=True)
    # One density is as long as one log H, so that a gamma has one slope on every screen and sheet.
    layout["yaxis"] |= {
        "range": [rounded(low), rounded(high)],
        "scaleanchor": "x",
        "scaleratio": 1,
        "automargin": False,
    }
    layout["xaxis"] |= {"automargin": False, "constrain": "domain"}
    levels = level_lines(analysis)
    layout["shapes"] = [*layout["shapes"], *(shape for shape, _ in levels)]
    layout["annotations"] = [*layout["annotations"], *(label for _, label in levels)]
    if here.zero is not None:
        # An axis is drawn only where a trace asks for it.
        data.append({"x": [None], "y": [None], "xaxis": "x2", "hoverinfo": "skip"})
    return {"data": data, "layout": layout}


def gradient_figure(analysis: Analysis, here: Scene) -> Figure:
    """Return gradient against log H, positive for both kinds, with the 95 % band of the index's channel."""
    data: list[dict[str, Any]] = []
    for found in analysis.channels.values():
        curve = found.curve
        if found.channel == analysis.working_ei.channel and len(curve.gradient_draws):
            low, high = np.quantile(np.abs(curve.gradient_draws), ENDS, axis=0)
            data += _band(found.channel, curve.grid, low, high)
        data.append({**_line(found.channel, curve.grid, np.abs(curve.grid_gradient)), **_hover("gradient", ".2f")})
    layout = base_layout(analysis, here, "gradient", large=False)
    layout["yaxis"]["rangemode"] = "tozero"
    return {"data": data, "layout": layout}


def residual_figure(analysis: Analysis, here: Scene) -> Figure:
    """Return reading minus curve against log H; a step set aside beyond the scale is drawn at the scale's edge."""
    kept = [abs(s.residual) for f in analysis.channels.values() for s in f.steps if s.flag is None]
    edge = 1.25 * max([*kept, *(2.0 * f.curve.sigma for f in analysis.channels.values())])
    data: list[dict[str, Any]] = []
    for found in analysis.channels.values():
        for trace in _steps(found, residual=True):
            y = [None if v is None else rounded(min(max(v, -0.9 * edge), 0.9 * edge)) for v in trace["y"]]
            data.append({**trace, "y": y})
    layout = base_layout(analysis, here, "reading − curve", large=False)
    layout["yaxis"] |= {"range": [rounded(-edge), rounded(edge)], "zeroline": True, "zerolinecolor": FAINT}
    return {"data": data, "layout": layout}


def layers_figure(analysis: Analysis, here: Scene) -> Figure:
    """Return each layer less the mean of the layers against log H, with its 95 % band: the cast and its crossover.

    For a reversal densities are absolute; for a negative, whose base is masked, above each layer's lowest density.
    """
    layers = [analysis.channels[c].curve for c in LAYERS]
    start, end = max(c.grid[0] for c in layers), min(c.grid[-1] for c in layers)
    grid = np.linspace(start, end, BAND_PLACES)

    def above(rows: FloatArray, own: FloatArray) -> FloatArray:
        values = along_rows(grid, own, rows)
        return values if analysis.strip.kind == "reversal" else values - rows.min(axis=1, keepdims=True)

    density = [above(np.vstack([c.grid_density, c.draws]), c.grid) for c in layers]
    mean = np.mean(density, axis=0)
    data: list[dict[str, Any]] = []
    for channel, rows in zip(LAYERS, density, strict=True):
        apart = rows - mean
        if len(apart) > 1:
            low, high = np.quantile(apart[1:], ENDS, axis=0)
            data += _band(channel, grid, low, high)
        data.append({**_line(channel, grid, apart[0]), **_hover("from the mean", "+.2f")})
    layout = base_layout(analysis, here, "from the mean", large=False)
    layout["yaxis"] |= {"zeroline": True, "zerolinecolor": FAINT}
    return {"data": data, "layout": layout}


def _line(channel: Channel, x: FloatArray, y: FloatArray, *, width: float = 2.0) -> dict[str, Any]:
    """Return a line through points at even places."""
    style = STYLES[channel]
    line: dict[str, Any] = {"color": style.colour, "width": width}
    if style.dash and width < 4:
        line["dash"] = style.dash
    return {
        "mode": "lines", "meta": channel, "name": channel, "line": line,
        **_places(x, y, LINE_PLACES),
    }  # fmt: skip


def _places(x: FloatArray, y: FloatArray, most: int) -> dict[str, Any]:
    """Return points at even places as the page stores them: the place of the first, the distance, and the numbers."""
    places = min(most, x.size)
    return {"x0": rounded(x[0]), "dx": round(float((x[-1] - x[0]) / (places - 1)), 7), "y": along(x, y, places)}


def _band(channel: Channel, x: FloatArray, low: FloatArray, high: FloatArray) -> Iterator[dict[str, Any]]:
    """Yield the two edges of a filled area between ``low`` and ``high`` at even places, (n,) each."""
    for edge in (low, high):
        yield {
            "mode": "lines",
            "meta": channel,
            "name": f"{channel}, 95 % interval",
            **_places(x, edge, BAND_PLACES),
            "line": {"width": 0},
            **({"fill": "tonexty", "fillcolor": _see_through(STYLES[channel].colour, _BAND_OPACITY)}
               if edge is high else {}),
            "hoverinfo": "skip",
        }  # fmt: skip


def _steps(found: ChannelFinding, *, residual: bool = False) -> Iterator[dict[str, Any]]:
    """Yield the steps as markers: the steps kept, and the steps set aside (larger, open, crossed)."""
    style = STYLES[found.channel]
    kept = [s for s in found.steps if s.flag is None]
    aside = [s for s in found.steps if s.flag is not None]
    for steps, symbol, size in ((kept, style.marker, 5.5), (aside, f"{style.marker}-x-open", 10)):
        if symbol.startswith("triangle"):
            symbol = symbol.replace("-x-open", "-open-dot")
        if not steps:
            continue
        yield {
            "mode": "markers",
            "meta": found.channel,
            "name": f"{found.channel}, {'steps' if steps is kept else 'set aside'}",
            "x": numbers(s.log_h for s in steps),
            "y": numbers(s.residual if residual else s.density for s in steps),
            "customdata": [_about(s, residual=residual) for s in steps],
            "marker": {"symbol": symbol, "size": size, "color": style.colour, "line": {"width": 1.4}}
            if steps is aside
            else {"symbol": symbol, "size": size, "color": style.colour, "opacity": 0.8},
            "hovertemplate": f"<b>{found.channel}, %{{customdata[0]}}</b><br>log H %{{x:.2f}}<br>"
            f"{'' if residual else 'density %{customdata[2]}<br>'}reading − curve %{{customdata[1]}}<extra></extra>",
        }


def _about(step: StepFinding, *, residual: bool) -> list[str]:
    """Return the texts that the pointer shows at a step: label, residual with the flag, density on the curve."""
    label = step.label if f"{step.step}" in step.label else f"{step.label} (step {step.step})"
    label += f", mean of {step.repeats}" if step.repeats > 1 else ""
    apart = f"{step.residual:+.3f}".replace("-", "−") + (f"<br>{shown(step.flag)}" if step.flag else "")
    return [shown(label), apart, *([] if residual else [f"{step.density:.2f}"])]


def _points(found: ChannelFinding, *, lettered: bool) -> Iterator[dict[str, Any]]:
    """Yield the points of a curve as rings with their intervals in log H, and their letters if ``lettered``."""
    at = {n: p for n, p in found.points.items() if p.log_h.value is not None and p.density is not None}
    if not at:
        return
    colour = STYLES[found.channel].colour
    trace: dict[str, Any] = {
        "mode": "markers+text" if lettered else "markers",
        "meta": found.channel,
        "name": f"{found.channel}, points",
        "x": numbers(p.log_h.value for p in at.values() if p.log_h.value is not None),
        "y": numbers(p.density for p in at.values() if p.density is not None),
        "error_x": {
            "type": "data",
            "symmetric": False,
            "array": numbers(_reach(p)[1] for p in at.values()),
            "arrayminus": numbers(_reach(p)[0] for p in at.values()),
            "thickness": 1.2,
            "width": 3,
            "color": colour,
        },
        "customdata": [[shown(name), shown(p.meaning)] for name, p in at.items()],
        "marker": {"symbol": "circle", "size": 11, "color": "#ffffff", "line": {"width": 2, "color": colour}},
        "hovertemplate": f"<b>{found.channel}, %{{customdata[0]}}</b><br>%{{customdata[1]}}<br>log H %{{x:.2f}}<br>"
        "density %{y:.2f}<extra></extra>",
    }
    if lettered:
        trace |= {
            "text": [shown(name) for name in at],
            "textposition": "top right" if found.curve.kind == "reversal" else "top left",
            "textfont": {"size": 14, "color": colour, "weight": 700},
        }
    yield trace


def _reach(point: Point) -> tuple[float, float]:
    """Return the length of a point's interval below and above the point [log10]."""
    q = point.log_h
    assert q.value is not None
    return q.value - (q.value if q.low is None else q.low), (q.value if q.high is None else q.high) - q.value


def _hover(word: str, digits: str) -> dict[str, str]:
    return {"hovertemplate": f"<b>%{{meta}}</b><br>log H %{{x:.2f}}<br>{word} %{{y:{digits}}}<extra></extra>"}


def _see_through(colour: str, opacity: float) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{opacity})"
