"""The figures of a strip's stacks: the curves and the casts without filters and behind each stack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from curves.sensitometry.core.units import LAYERS, Channel, FloatArray
from curves.sensitometry.filters.behind import EYE, BareStrip, visual_behind
from curves.sensitometry.filters.cast import TONES
from curves.sensitometry.filters.stacks import Stack, Stacks
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.axes import BAND_PLACES, FAINT, LINE_PLACES, STYLES, Scene, along, base_layout, rounded
from curves.views.page.figures import Figure

Line = dict[str, Any]
"""A line at even places: ``x0``, ``dx`` and ``y``."""


def stack_figures(analysis: Analysis, bare: BareStrip, found: Stacks) -> dict[str, Figure]:
    """Return the figures of a strip's stacks: "curve" the curves, "cast" each layer less the mean of the three.

    Beside ``data`` and ``layout`` each holds ``moved``, the numbers of the traces that a stack moves, and ``stacks``,
    the contents of these traces for each stack.
    """
    return {"curve": curve_figure(analysis, bare, found), "cast": cast_figure(analysis, bare, found)}


def curve_figure(analysis: Analysis, bare: BareStrip, found: Stacks) -> Figure:
    """Return density against log H: bare curves thin, the curves behind the best stack thick."""
    channels = channels_of(bare)
    ensembles = dict(zip(LAYERS, bare.layers, strict=True)) | {bare.eye.channel: bare.eye}
    data: list[dict[str, Any]] = []
    for channel in channels:
        curve = ensembles[channel]
        compared = curve.density[0] - _counted_from(bare, channel)
        data.append(_trace(channel, _line(curve.grid, compared), thick=False))
    stacks = [_moved(bare, one, channels) for one in found.listed]
    chosen = stacks[found.listed.index(found.best)]
    data += [_trace(channel, line, thick=True) for channel, line in zip(channels, _lines(chosen), strict=True)]
    net = bare.match == "net"
    layout = base_layout(
        analysis, Scene(None, None, {}), "density above its own Dmin" if net else "density", large=True
    )
    layout["xaxis"]["title"]["text"] += ", in front of the filters"
    drawn = [y for trace in data for y in trace["y"] if y is not None]
    layout["yaxis"] |= {"range": [rounded(min(0.0, *drawn) - 0.1), rounded(max(drawn) + 0.2)], "automargin": False}
    layout["yaxis"] |= {"scaleanchor": "x", "scaleratio": 1}
    layout["xaxis"] |= {"automargin": False, "constrain": "domain"}
    low, high = layout["xaxis"]["range"]
    longest = max(float(one.prediction.shifts[0].max()) for one in found.listed)
    layout["xaxis"]["range"] = [low, rounded(high + min(longest, 1.0))]
    layout |= {"shapes": chosen["shapes"], "annotations": chosen["annotations"]}
    return {
        "data": data,
        "layout": layout,
        "moved": list(range(len(channels), 2 * len(channels))),
        "stacks": stacks,
    }


def cast_figure(analysis: Analysis, bare: BareStrip, found: Stacks) -> Figure:
    """Return each layer less the mean of the three against log H, thin without filters, thick behind the best stack."""
    without = _casts(bare, np.zeros(len(LAYERS)))
    stacks = []
    for one in found.listed:
        lines = _casts(bare, one.prediction.shifts[0])
        stacks.append({**_columns(lines), "shapes": _tone_marks(bare, one)[0], "annotations": []})
    chosen = stacks[found.listed.index(found.best)]
    data = [_trace(layer, line, thick=False) for layer, line in zip(LAYERS, without, strict=True)]
    data += [_trace(layer, line, thick=True) for layer, line in zip(LAYERS, _lines(chosen), strict=True)]
    layout = base_layout(analysis, Scene(None, None, {}), "from the mean", large=False)
    layout["xaxis"]["title"]["text"] += ", in front of the filters"
    layout["yaxis"] |= {"zeroline": True, "zerolinecolor": FAINT}
    layout |= {"shapes": chosen["shapes"]}
    return {"data": data, "layout": layout, "moved": [3, 4, 5], "stacks": stacks}


def _casts(bare: BareStrip, shifts: FloatArray) -> list[Line]:
    """Return each layer less the mean of the three along log H in front of filters, where the strip shows all three.

    Args:
        bare: the strip.
        shifts: density of the filters to each layer, (3,) [density].
    """
    grids = [layer.grid + shift for layer, shift in zip(bare.layers, shifts, strict=True)]
    first, last = max(grid[0] for grid in grids), min(grid[-1] for grid in grids)
    if last <= first:
        return [_line(np.array([]), np.array([]))] * len(LAYERS)
    x = np.linspace(first, last, BAND_PLACES)
    densities = np.array([
        np.interp(x, grid, layer.density[0]) - _counted_from(bare, channel)
        for grid, layer, channel in zip(grids, bare.layers, LAYERS, strict=True)
    ])  # fmt: skip
    return [_line(x, apart) for apart in densities - densities.mean(axis=0)]


def _line(x: FloatArray, y: FloatArray) -> Line:
    """Return points at even places as the page stores them: the place of the first, the distance, and the numbers."""
    if x.size < 2:
        return {"x0": 0.0, "dx": 1.0, "y": []}
    places = min(LINE_PLACES, x.size)
    return {"x0": rounded(x[0]), "dx": round(float((x[-1] - x[0]) / (places - 1)), 7), "y": along(x, y, places)}


def _columns(lines: Sequence[Line]) -> dict[str, Any]:
    """Return lines as the plotting library takes the contents of several traces."""
    return {key: [line[key] for line in lines] for key in ("x0", "dx", "y")}


def _lines(stack: Mapping[str, Any]) -> list[Line]:
    """Return the lines of a stack, one for each trace that the stack moves."""
    return [{"x0": x0, "dx": dx, "y": y} for x0, dx, y in zip(stack["x0"], stack["dx"], stack["y"], strict=True)]


def _counted_from(bare: BareStrip, channel: Channel) -> float:
    """Return the density from which a curve is drawn, as the layers are compared: its own Dmin, or 0 [density]."""
    if bare.match != "net":
        return 0.0
    return float((bare.eye_dmin if channel == "visual" else bare.dmin[LAYERS.index(channel)]).rows[0])


def channels_of(bare: BareStrip) -> tuple[Channel, ...]:
    """Return the channels whose curves are drawn."""
    return (*LAYERS, "visual") if bare.eye.channel == "visual" else LAYERS


def _trace(channel: Channel, line: Line, *, thick: bool) -> dict[str, Any]:
    what, style = "behind the stack" if thick else "without filters", STYLES[channel]
    return {
        "type": "scatter",
        "mode": "lines",
        "meta": channel,
        "name": f"{channel}, {what}",
        **line,
        "line": {"color": style.colour, "width": 3 if thick else 1, "dash": style.dash or "solid"},
        "opacity": 1.0 if thick else 0.55,
        "hovertemplate": f"<b>{channel}, {what}</b><br>log H %{{x:.2f}}<br>%{{y:.2f}}<extra></extra>",
    }


def _moved(bare: BareStrip, one: Stack, channels: Sequence[Channel]) -> dict[str, Any]:
    """Return the part of the figure that depends on the stack: curves by channel, and the scene's tones."""
    shifts = one.prediction.shifts[0]
    curves = []
    for channel in channels:
        if channel != "visual":
            layer = bare.layers[LAYERS.index(channel)]
            curves.append((layer.grid + shifts[LAYERS.index(channel)], layer.density[0]))
            continue
        first = max(float(e.grid[0]) + f for e, f in zip(bare.layers, shifts, strict=True))
        last = min(float(e.grid[-1]) + f for e, f in zip(bare.layers, shifts, strict=True))
        first, last = max(first, float(bare.eye.grid[0] + shifts @ EYE)), min(last, float(bare.eye.grid[-1]) + 9.0)
        x = np.linspace(first, last, LINE_PLACES) if last > first else np.array([])
        y = (
            visual_behind(bare, np.broadcast_to(shifts, (x.size, 3)), x)
            if bare.eye.kind == "reversal"
            else np.full_like(x, np.nan)
        )
        curves.append((x, y))
    shapes, annotations = _tone_marks(bare, one)
    lines = [_line(x, y - _counted_from(bare, c)) for c, (x, y) in zip(channels, curves, strict=True)]
    return {**_columns(lines), "shapes": shapes, "annotations": annotations}


def _tone_marks(bare: BareStrip, one: Stack) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the lines and the names of the scene's tones at the index of a stack; none without an index."""
    grey = float(one.prediction.grey[0])
    tones = dict(zip(TONES, grey + bare.tones(), strict=True)) if np.isfinite(grey) else {}
    dotted = {"color": FAINT, "width": 1, "dash": "1px 3px"}
    return [
        {"type": "line", "x0": rounded(x), "x1": rounded(x), "yref": "paper", "y0": 0, "y1": 1, "line": dotted,
         "layer": "below"} for x in tones.values()
    ], [
        {"text": tone, "x": rounded(x), "yref": "paper", "y": 1, "yanchor": "top", "showarrow": False,
         "font": {"size": 11, "color": FAINT}, "bgcolor": "#ffffff", "borderpad": 1} for tone, x in tones.items()
    ]  # fmt: skip
