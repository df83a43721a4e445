"""Results in a notebook: numbers with their intervals, the answer over a small curve, the main figure of the page.

`attach` adds these representations to the result classes. The public package calls it, because the science imports no
views.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.page.axes import FAINT, INK, LOG_H_TITLE, RULE, STYLES, scene, shown
from curves.views.page.figures import curve_figure
from curves.views.page.tables import esc, minus
from curves.views.text.answer import answer_line
from curves.views.words import digits

if TYPE_CHECKING:
    import plotly.graph_objects as go

_WIDTH, _HEIGHT = 440, 250
_LEFT, _RIGHT, _TOP, _BOTTOM = 30, 10, 20, 34
_THINNED = 4
"""Every so many points of a curve's grid are drawn: 61 of 241 are smooth at this size."""


def figure(analysis: Analysis, choices: Choices | None = None) -> go.Figure:
    """Return the main figure of the page as a plotly figure: readings, curves with 95 % bands, points and scene tones.

    Args:
        analysis: results of a strip.
        choices: places of scene tones; those of the analysis if None.

    Returns:
        The figure, which a notebook shows. A click on a channel in the legend hides the channel.
    """
    import plotly.graph_objects as go

    drawn = curve_figure(analysis, scene(analysis, choices or analysis.choices))
    named: set[str] = set()
    for trace in drawn["data"]:
        channel = trace.get("meta")
        curve = channel is not None and trace["name"] == channel and "opacity" not in trace
        trace |= {"showlegend": curve, **({"legendgroup": channel} if channel else {})}
        named |= {channel} if curve else set()
    layout = drawn["layout"] | {
        "template": {},
        "paper_bgcolor": "#ffffff",
        "showlegend": len(named) > 1,
        "height": 520,
        "title": {"text": shown(analysis.strip.title), "font": {"size": 14}},
    }
    layout["margin"] |= {"t": layout["margin"]["t"] + 36}
    return go.Figure(drawn["data"], layout)


def attach() -> None:
    """Add representations to the result classes: `str()` in words, and HTML for a notebook."""
    for owner, faces in _FACES.items():
        for name, face in faces.items():
            setattr(owner, name, face)


def quantity_html(quantity: Quantity) -> str:
    """Return a number with its interval, or the bound and the reason in small print."""
    number, ends = digits.value(quantity), digits.interval(quantity)
    why = f": <small>{esc(quantity.why)}</small>" if quantity.value is None and quantity.why else ""
    return f"<span>{minus(f'{number} ({ends})' if ends else number)}{why}</span>"


def analysis_html(analysis: Analysis) -> str:
    """Return the answer, a small picture of the curves, the reason and the advice."""
    ei = analysis.working_ei
    before = "" if ei.nominal is None else f"<p>Before rounding: {quantity_html(ei.recommended)}.</p>"
    curves = {channel: found.curve for channel, found in analysis.channels.items()}
    picture = curves_svg(curves, LOG_H_TITLE[analysis.strip.log_h_unit])
    words = "".join(f"<p>{esc(sentence)}</p>" for sentence in (ei.reason, *ei.advice))
    return f"<div><p><b>{esc(answer_line(analysis))}</b></p>{before}{picture}{words}</div>"


def curve_html(curve: Curve) -> str:
    """Return a small picture of a curve, and the misfit of its steps if there is one."""
    why = "" if curve.misfit is None else f"<p>The steps do not follow the curve: {esc(curve.misfit)}.</p>"
    return f"<div>{curves_svg({'visual': curve}, 'log H')}{why}</div>"


_FACES: Mapping[type, Mapping[str, Callable[..., str]]] = {
    Quantity: {"__str__": digits.show, "_repr_html_": quantity_html},
    Analysis: {"__str__": answer_line, "_repr_html_": analysis_html},
    Curve: {"_repr_html_": curve_html},
}


@dataclass(frozen=True)
class _Plane:
    """The plane of log H and density, with the places of its points in the picture.

    Attributes:
        left, right: log H at the ends of the horizontal axis [log10].
        low, high: density at the ends of the vertical axis [density].
    """

    left: float
    right: float
    low: float
    high: float

    def x(self, log_h: float) -> float:
        """Return the distance of a log H from the left [px]."""
        return _LEFT + (log_h - self.left) / (self.right - self.left) * (_WIDTH - _LEFT - _RIGHT)

    def y(self, density: float) -> float:
        """Return the distance of a density from the top [px]."""
        return _HEIGHT - _BOTTOM - (density - self.low) / (self.high - self.low) * (_HEIGHT - _TOP - _BOTTOM)

    def path(self, log_h: Iterable[float], density: Iterable[float]) -> str:
        """Return a line through points, as the letters of an SVG path."""
        return "M" + "L".join(f"{self.x(x):.1f} {self.y(y):.1f}" for x, y in zip(log_h, density, strict=True))


def curves_svg(curves: Mapping[Channel, Curve], log_h_title: str) -> str:
    """Return curves with their bands and their steps as a small SVG picture, which asks for no network.

    Args:
        curves: at least one, by channel.
        log_h_title: title of the horizontal axis.
    """
    every = curves.values()
    plane = _Plane(
        min(float(c.grid[0]) for c in every) - 0.05,
        max(float(c.grid[-1]) for c in every) + 0.05,
        min(0.0, *(float(c.density.min()) for c in every)),
        max(float(c.density.max()) for c in every) + 0.1,
    )
    drawn = "".join(_channel(plane, channel, curve) for channel, curve in curves.items())
    key = " ".join(f'<tspan fill="{STYLES[channel].colour}">{channel}</tspan>' for channel in curves)
    drawn += f'<text x="{_WIDTH - _RIGHT}" y="12" text-anchor="end">{key}</text>' if len(curves) > 1 else ""
    words = "; ".join(f"{channel}: {curve!r}" for channel, curve in curves.items())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH}" height="{_HEIGHT}" role="img"'
        f' aria-label="{esc(words)}" font-family="system-ui, sans-serif" font-size="11" fill="{INK}">'
        f'<rect width="100%" height="100%" fill="#ffffff"/>{_axes(plane, log_h_title)}{drawn}</svg>'
    )


def _axes(plane: _Plane, log_h_title: str) -> str:
    """Return grid lines with their numbers, and the titles of both axes."""
    parts = []
    for density in _round_numbers(plane.low, plane.high):
        y = f"{plane.y(density):.1f}"
        parts.append(f'<path d="M{_LEFT} {y}H{_WIDTH - _RIGHT}" stroke="{RULE}"/>')
        parts.append(f'<text x="{_LEFT - 5}" y="{y}" dy="4" text-anchor="end">{density:g}</text>')
    foot = _HEIGHT - _BOTTOM
    for log_h in _round_numbers(plane.left, plane.right):
        x = f"{plane.x(log_h):.1f}"
        parts.append(f'<path d="M{x} {_TOP}V{foot}" stroke="{RULE}"/>')
        parts.append(f'<text x="{x}" y="{foot + 14}" text-anchor="middle">{minus(f"{log_h:g}")}</text>')
    parts.append(f'<path d="M{_LEFT} {_TOP}V{foot}H{_WIDTH - _RIGHT}" stroke="{FAINT}" fill="none"/>')
    parts.append(f'<text x="{_WIDTH - _RIGHT}" y="{_HEIGHT - 5}" text-anchor="end">{esc(log_h_title)}</text>')
    parts.append('<text x="4" y="12">density</text>')
    return "".join(parts)


def _channel(plane: _Plane, channel: Channel, curve: Curve) -> str:
    """Return the band, the curve and the steps of one channel; steps set aside are rings."""
    colour, some = STYLES[channel].colour, slice(None, None, _THINNED)
    grid = curve.grid[some]
    parts = []
    if np.isfinite(curve.low).all():
        around = plane.path([*grid, *grid[::-1]], [*curve.low[some], *curve.high[some][::-1]])
        parts.append(f'<path d="{around}Z" fill="{colour}" fill-opacity="0.16"/>')
    parts.append(f'<path d="{plane.path(grid, curve.grid_density[some])}" stroke="{colour}" fill="none"/>')
    dots = _dots(plane, curve.log_h[curve.kept], curve.density[curve.kept])
    parts.append(f'<path d="{dots}" stroke="{colour}" stroke-width="3.5" stroke-linecap="round"/>')
    for x, y in zip(curve.log_h[~curve.kept], curve.density[~curve.kept], strict=True):
        parts.append(f'<circle cx="{plane.x(x):.1f}" cy="{plane.y(y):.1f}" r="4" stroke="{colour}" fill="none"/>')
    return "".join(parts)


def _dots(plane: _Plane, log_h: FloatArray, density: FloatArray) -> str:
    """Return a dot at each point, as the letters of an SVG path that a round pen draws."""
    return "".join(f"M{plane.x(x):.1f} {plane.y(y):.1f}h0" for x, y in zip(log_h, density, strict=True))


def _round_numbers(low: float, high: float) -> list[float]:
    """Return the multiples of a half, or of a whole number on a long axis, between ``low`` and ``high``."""
    step = 0.5 if high - low <= 4.0 else float(math.ceil((high - low) / 8.0))
    return [n * step for n in range(math.ceil(low / step), math.floor(high / step) + 1)]
