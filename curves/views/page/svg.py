"""Figures drawn as SVG: they show without a script or a library, on paper and in any browser."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from curves.sensitometry.core.units import FloatArray, IndexArray
from curves.views.page.axes import FAINT, INK, RULE, STYLES
from curves.views.page.tables import esc, minus

_LEFT, _RIGHT, _TOP, _BOTTOM = 68.0, 16.0, 18.0, 46.0
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_SMALL = 1e-9
_STILL = 640.0
"""Width of the plotting area of a figure at rest [px]."""
_LETTERS = 13.0
"""Height of a line of letters with the gap to what they name [px]."""
_PLACE = 12.0
"""Distance of the points of a line at rest: the eye does not see its corners [px]."""


@dataclass(frozen=True)
class Axis:
    """One axis of a figure.

    Attributes:
        title: what is counted, with its unit.
        low, high: ends of the axis, in that unit.
        labels: texts at given places in place of numbers at round ones.
    """

    title: str
    low: float
    high: float
    labels: Sequence[tuple[float, str]] = ()

    def ticks(self, most: int) -> list[tuple[float, str]]:
        """Return the places of the marks and their texts, at most about ``most`` of them."""
        if self.labels:
            return list(self.labels)
        rough = (self.high - self.low) / most
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(s * power for s in _STEPS if s * power >= rough * (1.0 - _SMALL))
        decimals = max(0, -math.floor(math.log10(step) + _SMALL) + (1 if round(step / power, 1) == 2.5 else 0))
        first = math.ceil(self.low / step - _SMALL)
        places = [(first + n) * step for n in range(int((self.high - first * step) / step + _SMALL) + 1)]
        return [(x, minus(f"{x + 0.0:.{decimals}f}")) for x in places]


@dataclass
class Figure:
    """A figure under construction: axes, then whatever is drawn on them, in order.

    Attributes:
        x, y: the axes.
        width, height: of the plotting area [px].
        about: the figure in words, for readers who cannot see it.
    """

    x: Axis
    y: Axis
    width: float
    height: float
    about: str
    _drawn: list[str] = field(default_factory=list, init=False)

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return the place of a point on the figure [px]."""
        return (
            _LEFT + (x - self.x.low) / (self.x.high - self.x.low) * self.width,
            _TOP + (self.y.high - y) / (self.y.high - self.y.low) * self.height,
        )

    def line(self, xs: FloatArray, ys: FloatArray, colour: str, *, width: float = 2.0, dash: str = "") -> None:
        """Draw a line through points; it is broken where a number is missing."""
        known = np.isfinite(xs) & np.isfinite(ys)
        path, begun = [], False
        for x, y, there in zip(xs, ys, known, strict=True):
            if there:
                # After M further pairs are corners of the line.
                path.append(f"{' ' if begun else 'M'}{_pair(*self.at(float(x), float(y)))}")
            begun = bool(there)
        dashes = f' stroke-dasharray="{dash.replace("px", "")}"' if dash else ""
        self._drawn.append(
            f'<path d="{"".join(path)}" fill="none" stroke="{colour}" stroke-width="{width:g}"{dashes}'
            ' stroke-linejoin="round"/>'
        )

    def band(self, xs: FloatArray, low: FloatArray, high: FloatArray, colour: str) -> None:
        """Draw the area between two lines."""
        around = [*zip(xs, high, strict=True), *reversed(list(zip(xs, low, strict=True)))]
        points = " ".join(_pair(*self.at(float(x), float(y))) for x, y in around if math.isfinite(y))
        self._drawn.append(f'<polygon points="{points}" fill="{colour}" fill-opacity="0.15" stroke="none"/>')

    def mark(self, x: float, y: float, colour: str, title: str, *, open_: bool = False, size: float = 4.0) -> None:
        """Draw a round mark that the pointer can ask for its words."""
        cx, cy = self.at(x, y)
        inside = "#ffffff" if open_ else colour
        self._drawn.append(
            f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="{size:g}" fill="{inside}" stroke="{colour}" stroke-width="1.6">'
            f"<title>{esc(title)}</title></circle>"
        )

    def dots(self, xs: FloatArray, ys: FloatArray, colour: str) -> None:
        """Draw small round dots of one colour."""
        places = "".join(f"M{_pair(*self.at(float(x), float(y)))}h0" for x, y in zip(xs, ys, strict=True))
        self._drawn.append(f'<path d="{places}" stroke="{colour}" stroke-width="5" stroke-linecap="round"/>')

    def bar(self, x: float, low: float, high: float, colour: str) -> None:
        """Draw an interval upright at ``x``; it runs to the frame, without a cap, where it ends beyond it."""
        (px, top), (_, bottom) = self.at(x, min(high, self.y.high)), self.at(x, max(low, self.y.low))
        inside = [end for end, within in ((top, high <= self.y.high), (bottom, low >= self.y.low)) if within]
        caps = "".join(f"M{px - 4:.1f},{end:.1f}h8" for end in inside)
        self._drawn.append(
            f'<path d="M{px:.1f},{top:.1f}V{bottom:.1f}{caps}" stroke="{colour}" stroke-width="1.4" fill="none"/>'
        )

    def level(self, y: float, name: str, *, dash: str = "4 3") -> None:
        """Draw a level line with its name above it, or below it where the frame is near."""
        _, py = self.at(self.x.low, y)
        base = py - 4.0 if py - _LETTERS > _TOP else py + _LETTERS
        right = _LEFT + self.width
        self._drawn.append(
            f'<path d="M{_LEFT:g},{py:.1f}H{right:g}" stroke="{FAINT}" stroke-dasharray="{dash}" fill="none"/>'
            f'<text x="{right - 4:g}" y="{base:.1f}" text-anchor="end" fill="{FAINT}">{esc(name)}</text>'
        )

    def words(self, x: float, y: float, text: str, colour: str, *, anchor: str = "start", lift: float = 0.0) -> None:
        """Write a short text at a point, ``lift`` above it [px]."""
        px, py = self.at(x, y)
        self._drawn.append(
            f'<text x="{px:.1f}" y="{py - lift:.1f}" fill="{colour}" text-anchor="{anchor}">{esc(text)}</text>'
        )

    def drawing(self) -> str:
        """Return the figure as an SVG element that scales to its place."""
        width, height = _LEFT + self.width + _RIGHT, _TOP + self.height + _BOTTOM
        return (
            f'<svg class="drawing" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" height="{height:.0f}"'
            f' role="img" aria-label="{esc(self.about)}" font-size="12" font-family="system-ui, sans-serif">'
            f"{self._frame()}{''.join(self._drawn)}</svg>"
        )

    def _frame(self) -> str:
        """Return grid, marks, numbers and titles of both axes."""
        right, bottom = _LEFT + self.width, _TOP + self.height
        across, up = self.x.ticks(max(2, int(self.width / 60))), self.y.ticks(max(4, int(self.height / 40)))
        columns = [(self.at(x, self.y.low)[0], text) for x, text in across]
        rows = [(self.at(self.x.low, y)[1], text) for y, text in up]
        grid = [f"M{px:.1f},{_TOP:g}V{bottom:.1f}" for px, _ in columns] + [
            f"M{_LEFT:g},{py:.1f}H{right:g}" for py, _ in rows
        ]
        below = "".join(f'<text x="{px:.1f}" y="{bottom + 16:.1f}">{esc(text)}</text>' for px, text in columns)
        beside = "".join(f'<text x="{_LEFT - 7:g}" y="{py + 4:.1f}">{esc(text)}</text>' for py, text in rows)
        parts = [
            f'<rect x="{_LEFT:g}" y="{_TOP:g}" width="{self.width:g}" height="{self.height:.1f}" fill="#ffffff"'
            f' stroke="{FAINT}"/><path d="{"".join(grid)}" stroke="{RULE}"/>'
            f'<g text-anchor="middle" fill="{INK}">{below}</g><g text-anchor="end" fill="{INK}">{beside}</g>'
        ]
        middle = _TOP + self.height / 2.0
        parts.append(
            f'<text x="{_LEFT + self.width / 2.0:g}" y="{bottom + 37:g}" text-anchor="middle" fill="{INK}">'
            f"{esc(self.x.title)}</text>"
            f'<text transform="translate(13 {middle:g}) rotate(-90)" text-anchor="middle" fill="{INK}">'
            f"{esc(self.y.title)}</text>"
        )
        return "".join(parts)


def drawing_of(figure: Mapping[str, Any], about: str) -> str:
    """Return a page's figure, as the plotting library takes it, as an SVG element at rest.

    One density is as long as one log H.

    Args:
        figure: ``data`` and ``layout``, both axes with their ranges.
        about: the figure in words.
    """
    layout = figure["layout"]
    x, y = (Axis(layout[a]["title"]["text"], *layout[a]["range"]) for a in ("xaxis", "yaxis"))
    drawn = Figure(x, y, _STILL, _STILL * (y.high - y.low) / (x.high - x.low), about)
    names = {label["x"]: label["text"] for label in layout["annotations"] if label.get("yref") == "paper"}
    levels = {label["y"]: label["text"] for label in layout["annotations"] if label.get("xref") == "paper"}
    for shape in layout["shapes"]:
        if shape.get("xref") == "paper":
            drawn.level(shape["y0"], levels.get(shape["y0"], ""))
        else:
            ends = np.array([y.low, y.high])
            drawn.line(np.full(2, shape["x0"]), ends, FAINT, width=1.0, dash="1 3")
            drawn.words(shape["x0"], y.high, names.get(shape["x0"], ""), FAINT, anchor="middle", lift=4.0)
    below: FloatArray | None = None
    for trace in figure["data"]:
        xs, ys = _points(trace)
        if trace.get("fill") == "tonexty" and below is not None:
            kept = _thinned(drawn, xs, 1.5 * _PLACE)
            drawn.band(xs[kept], below[kept], ys[kept], STYLES[trace["meta"]].colour)
        elif str(trace.get("mode", "")).startswith("markers"):
            _draw_marks(drawn, trace)
        elif "line" in trace and trace["line"]["width"] > 0:
            line, kept = trace["line"], _thinned(drawn, xs, _PLACE)
            width = min(line["width"], 4.0)
            drawn.line(xs[kept], ys[kept], line["color"], width=width, dash=line.get("dash", "").replace("px", ""))
        below = ys
    return drawn.drawing()


def _points(trace: Mapping[str, Any]) -> tuple[FloatArray, FloatArray]:
    """Return the points of a trace, NaN where there is none, (n,) each."""
    ys = np.array([math.nan if y is None else y for y in trace.get("y", ())], dtype=float)
    if "x0" in trace:
        return trace["x0"] + trace["dx"] * np.arange(ys.size), ys
    return np.array([math.nan if x is None else x for x in trace["x"]], dtype=float), ys


def _draw_marks(figure: Figure, trace: Mapping[str, Any]) -> None:
    """Draw the steps as dots, and points as rings with their letters."""
    colour, (xs, ys) = STYLES[trace["meta"]].colour, _points(trace)
    if "steps" in trace["name"]:
        figure.dots(xs, ys, colour)
        return
    letters = trace.get("text", [""] * xs.size)
    for x, y, letter, about in zip(xs, ys, letters, trace["customdata"], strict=True):
        figure.mark(float(x), float(y), colour, f"{trace['meta']}, {html.unescape(about[0])}", open_=True, size=4.5)
        if letter:
            figure.words(float(x), float(y), html.unescape(letter), colour, anchor="middle", lift=9.0)


def _thinned(figure: Figure, xs: FloatArray, apart: float) -> IndexArray:
    """Return the places of the points of a line that are drawn: both ends, and others ``apart`` [px] between."""
    length = figure.at(float(xs[-1]), 0.0)[0] - figure.at(float(xs[0]), 0.0)[0]
    most = min(xs.size, max(2, math.ceil(length / apart) + 1))
    return np.unique(np.linspace(0, xs.size - 1, most).round().astype(np.intp))


def spread_axis(title: str, values: Iterable[float], room: float, least: float) -> Axis:
    """Return an axis that holds values with some room at either end.

    Args:
        title: what is counted.
        values: numbers that the axis must hold; those that are not finite do not count.
        room: part of the length that is left free at either end [unitless].
        least: least length of the axis, in its unit.
    """
    known = [v for v in values if math.isfinite(v)] or [0.0, 1.0]
    low, high = min(known), max(known)
    if high - low < least:
        low, high = 0.5 * (low + high) - least / 2.0, 0.5 * (low + high) + least / 2.0
    free = room * (high - low)
    return Axis(title, low - free, high + free)


def _pair(x: float, y: float) -> str:
    return f"{x:.1f},{y:.1f}"
