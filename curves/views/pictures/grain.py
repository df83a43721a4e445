"""The page of grain: which film is finer, crops of the films at one scale, and granularity against density."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import BY_MEDIAN, LAYERS, Channel, FloatArray
from curves.sensitometry.grain.comparison import Comparison
from curves.sensitometry.grain.film_grain import ChannelGrain, Film, FilmGrain, GrainPoint, channel_transmittances
from curves.views.page import tables
from curves.views.page.axes import FAINT, Style
from curves.views.page.frame import assemble_page, png_uri
from curves.views.page.svg import Axis, Figure
from curves.views.page.tables import Reasons, esc, minus
from curves.views.text import grain
from curves.views.words import digits

FILM_STYLES = (
    Style("#2b2b2b", "", "circle"),
    Style("#b4533c", "9px 3px", "square"),
    Style("#3a5fa0", "2px 2px", "diamond"),
    Style("#2f8068", "6px 2px 1px 2px", "triangle-up"),
)
"""Line styles of films, in turn; a fifth film has the style of the first."""

_LARGE, _SMALL = (760.0, 260.0), (300.0, 200.0)
"""Width and height of the plotting area of the figure in visual density, and of one in a layer [px]."""

_ROOM = 0.2
_TALLEST = 2.0
"""Greatest ratio of an interval's end to the highest number at which the end is drawn [unitless]."""

_LARGEST = 1000.0
"""Side of a crop, where patches are large enough [um]: our own choice."""

_SPREADS = 3.5
"""Standard deviations of the coarsest film's pixels from grey to black, and to white: our own choice [unitless]."""

_BAR = 200.0
"""Length of the scale bar [um]."""


def grain_page(films: Sequence[Film], found: Comparison) -> str:
    """Return the page of a comparison; the same films give the same page, to the letter.

    Args:
        films: the films that were measured; the page shows crops of them.
        found: the comparison, its films in the same order.
    """
    reasons = Reasons("grain-why")
    names = [film.name for film in found.films]
    title = f"Grain: {' and '.join(names)}" if len(names) < 3 else f"Grain of {len(names)} films"
    first = [
        _section("Which film is finer?" if len(names) > 1 else "How much grain?", _answer(found, reasons), "films"),
        _section("What it looks like", crops_html(crops_of(films, found), found.aperture), "pieces"),
    ]
    second = [
        _section("Granularity against density", _key(found) + _plots(found), "behind"),
        _section("Each channel", _summary(found, reasons), "numbers"),
    ]
    every = "".join(_patches(film, reasons) for film in found.films)
    if listed := reasons.listed():
        second.append(_section("Why some numbers are missing", listed, "missing"))
    second.append(_section("What the numbers rest on", _listed(grain.grain_notes(found)), "method"))
    body = (
        f'<article id="grain"><div class="sheet"><header><h1>{esc(title)}</h1>'
        f'<p class="facts">{esc(grain.heading(found))}</p></header>{"".join(first)}</div>'
        f'<div class="sheet">{"".join(second)}</div>'
        f'<details class="steps"><summary>Every patch</summary>{every}</details></article>'
    )
    return assemble_page(title, body, [], styles=["pictures/pictures.css"])


def grain_figure(found: Comparison, channel: Channel) -> str:
    """Return granularity against density in one channel as SVG: patches joined, intervals as bars, bounds as rings.

    Args:
        found: the comparison.
        channel: visual, or a layer that a film was read in.
    """
    every = [p.found.rms for film in found.films for c in film.channels.values() for p in c.points]
    # A bound or an interval far above all numbers is cut off at the edge, so that it does not press the others flat.
    top = min(max(map(_top, every)), _TALLEST * max([1.0, *(q.value for q in every if q.value is not None)]))
    low, high = _densities_shown(found, channel)
    size = _LARGE if channel == "visual" else _SMALL
    drawn = Figure(
        Axis(f"{channel} density", low, high),
        Axis("rms granularity", 0.0, 1.08 * top),
        *size,
        f"Granularity against {channel} density",
    )
    asked = np.full(2, found.density)
    drawn.line(asked, np.array([0.0, drawn.y.high]), FAINT, width=1.0, dash="1 3")
    for number, film in enumerate(found.films):
        if channel in film.channels:
            style = FILM_STYLES[number % len(FILM_STYLES)]
            _draw(drawn, film.name, film.channels[channel].points, style, top)
    return drawn.drawing()


def _densities_shown(found: Comparison, channel: Channel) -> tuple[float, float]:
    """Return the ends of the density axis: all patches and the density asked for, with a margin."""
    every = [found.density]
    every += [
        p.found.density for film in found.films if channel in film.channels for p in film.channels[channel].points
    ]
    return min(every) - _ROOM, max(every) + _ROOM


def _draw(drawn: Figure, name: str, points: Sequence[GrainPoint], style: Style, top: float) -> None:
    """Draw a film's patches: numbers as joined marks with bars, bounds as rings at the bound."""
    measured = [p for p in points if p.found.rms.value is not None]
    at = np.array([p.found.density for p in measured])
    values = np.array([p.found.rms.value for p in measured], dtype=float)
    drawn.line(at, values, style.colour, width=1.6, dash=style.dash)
    for p, x, value in zip(measured, at, values, strict=True):
        low, high = p.found.rms.known_ends
        drawn.bar(float(x), low, min(high, drawn.y.high), style.colour)
        drawn.mark(float(x), float(value), style.colour, f"{name}, {p.label}: {_told(p)}")
    for p in points:
        if p.found.rms.value is None and p.found.rms.bound is not None:
            height = min(_top(p.found.rms), top)
            drawn.mark(p.found.density, height, style.colour, f"{name}, {p.label}: {_told(p)}", open_=True, size=5.0)


def _told(point: GrainPoint) -> str:
    """Return the words that the pointer shows at a patch."""
    return f"density {point.found.density:.2f}, {digits.value_and_interval(point.found.rms, grain.DIGITS)}"


def _top(q: Quantity) -> float:
    if q.value is None:
        return q.bound[1] if q.bound else 0.0
    return q.value if q.high is None else q.high


def _section(title: str, content: str, name: str) -> str:
    return f'<section class="{name}"><h2>{esc(title)}</h2>{content}</section>\n'


def _answer(found: Comparison, reasons: Reasons) -> str:
    """Return each film's granularity at the density asked for, the verdicts, and the remarks."""
    cards = []
    for film in found.films:
        at = film.channels["visual"].at
        ends = minus(digits.interval(at, grain.DIGITS))
        number = minus(digits.value(at, grain.DIGITS)) + (reasons.mark(at.why) if at.value is None and at.why else "")
        kind = "index" if at.value is not None else "index none"
        between = f"95 % interval {ends}; " if ends else ""
        cards.append(
            f'<div><p class="{kind}"><strong>{number}</strong></p><p class="before"><b>{esc(film.name)}</b><br>'
            f"{esc(between + (at.note or ''))}<br>{esc(grain.film_words(film))}</p></div>"
        )
    verdicts = "".join(f'<p class="range">{esc(v.sentence)}.</p>' for v in found.verdicts)
    remarks = "".join(f"<li>{esc(remark)}</li>" for remark in grain.grain_remarks(found))
    return f'<div class="cards">{"".join(cards)}</div>{verdicts}' + (
        f'<ul class="warnings">{remarks}</ul>' if remarks else ""
    )


def _key(found: Comparison) -> str:
    items = " ".join(
        f"{tables.style_swatch(FILM_STYLES[n % len(FILM_STYLES)])} {esc(film.name)}"
        for n, film in enumerate(found.films)
    )
    return f'<p class="facts">{items}</p>'


def _plots(found: Comparison) -> str:
    layers = [c for c in LAYERS if any(c in film.channels for film in found.films)]
    large = (
        f'<figure tabindex="0">{grain_figure(found, "visual")}<figcaption>Bars: 95 % intervals. Rings: upper bounds of'
        " granularity. Dotted: the density asked for.</figcaption></figure>"
    )
    others = "".join(f'<figure tabindex="0">{grain_figure(found, layer)}</figure>' for layer in layers)
    return large + (f'<div class="figures">{others}</div>' if others else "")


def _summary(found: Comparison, reasons: Reasons) -> str:
    """Return granularity at the density asked for, one row for each film, one column for each channel."""
    channels: list[Channel] = [c for c in (*LAYERS, "visual") if any(c in film.channels for film in found.films)]
    head = "".join(f'<th scope="col">{name}</th>' for name in ("film", *channels))
    rows = []
    for film in found.films:
        cells = [_at(film.channels[c].at, reasons) if c in film.channels else "" for c in channels]
        rows.append(f'<tr><th scope="row">{esc(film.name)}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>')
    caption = f"<caption>Rms granularity at density {found.density:.2f} in each channel</caption>"
    return _tabulated(caption, head, rows)


def _at(q: Quantity, reasons: Reasons) -> str:
    note = f'<small class="note">{esc(q.note)}</small>' if q.note else ""
    return tables.quantity(q, grain.DIGITS, reasons) + note


def _patches(film: FilmGrain, reasons: Reasons) -> str:
    """Return every patch of a film, a row each, a column for each channel; readings and dust are those of visual."""
    head = "".join(
        f'<th scope="col">{name}</th>'
        for name in ("patch", *(f"{tables.swatch(c)} {c}" for c in film.channels), "readings", "set aside")
    )
    rows = []
    for points in zip(*(channel.points for channel in _by_patch(film)), strict=True):
        visual = points[-1]
        cells = [_patch(point, reasons) for point in points]
        cells += [f"{visual.found.apertures:.0f}", esc(grain.share_words(visual.found.set_aside))]
        rows.append(f'<tr><th scope="row">{esc(visual.label)}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>')
    return _tabulated(f"<caption>{esc(film.name)}</caption>", head, rows)


def _patch(point: GrainPoint, reasons: Reasons) -> str:
    words = f"at {point.found.density:.2f}, scanner {grain.noise_number(point)}"
    return f'{tables.quantity(point.found.rms, grain.DIGITS, reasons)}<small class="note">{esc(minus(words))}</small>'


def _by_patch(film: FilmGrain) -> list[ChannelGrain]:
    """Return the channels of a film with their points in the order of the patches."""
    return [
        ChannelGrain(c.channel, tuple(sorted(c.points, key=lambda p: p.patch)), c.at) for c in film.channels.values()
    ]


def _tabulated(caption: str, head: str, rows: Sequence[str]) -> str:
    return (
        f'<div class="wide" tabindex="0"><table>{caption}<thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _listed(sentences: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{esc(s)}</li>' for s in sentences)}</ul>"


@dataclass(frozen=True, eq=False)
class Crop:
    """A square from the middle of a film's patch.

    Attributes:
        name: name of the film.
        label: name of the patch.
        density: density of the patch [density].
        deviation: density less the patch's own, (n, n) [density].
        side: side of the square [um].
    """

    name: str
    label: str
    density: float
    deviation: FloatArray
    side: float


def crops_of(films: Sequence[Film], found: Comparison) -> list[Crop]:
    """Return a crop of one patch of each film, all of one size to half a pixel.

    The patch is the one nearest in density to the density asked for on the first film, and the one nearest to that
    patch on each other film.

    Args:
        films: the films that were measured.
        found: the comparison, its films in the same order.
    """
    asked = _nearest(found.films[0].channels["visual"].points, found.density).found.density
    nearest = [_nearest(f.channels["visual"].points, asked) for f in found.films]
    pictures = [channel_transmittances(film.patches[p.patch])["visual"] for film, p in zip(films, nearest, strict=True)]
    side = min(_LARGEST, *(min(t.shape) * f.pitch for t, f in zip(pictures, films, strict=True)))
    crops = []
    for film, point, light in zip(films, nearest, pictures, strict=True):
        count = min(round(side / film.pitch), *light.shape)
        top, left = ((n - count) // 2 for n in light.shape)
        level = 10.0**-point.found.density
        piece = np.maximum(light[top : top + count, left : left + count], level / 100.0)
        deviation = np.asarray(-np.log10(piece) - point.found.density)
        crops.append(Crop(film.name, point.label, point.found.density, deviation, count * film.pitch))
    return crops


def span_of(crops: Sequence[Crop]) -> float:
    """Return the density from grey to black, and to white, for all crops [density]."""
    widest = max(BY_MEDIAN * float(np.median(np.abs(c.deviation))) for c in crops)
    return max(0.05, math.ceil(20.0 * _SPREADS * widest) / 20.0)


def grey(deviation: FloatArray, span: float) -> NDArray[np.uint8]:
    """Return densities as grey values: the patch's own density is middle grey, denser is darker; ends are cut off.

    Args:
        deviation: density less the patch's own, any shape [density].
        span: density from middle grey to black, and to white.
    """
    return np.asarray(np.rint(np.clip(127.5 * (1.0 - deviation / span), 0.0, 255.0)), dtype=np.uint8)


def crops_html(crops: Sequence[Crop], aperture: float) -> str:
    """Return the crops as figures of one size, each with a scale bar and the aperture drawn to scale."""
    span, widest = span_of(crops), max(c.side for c in crops)
    cells = "".join(
        f'<figure class="crop"><img src="{png_uri(grey(c.deviation, span))}" width="{c.deviation.shape[1]}"'
        f' height="{c.deviation.shape[0]}" style="width:{100.0 * c.side / widest:.2f}%"'
        f' alt="Grain of {esc(c.name)}, {c.side / 1000.0:.2f} mm square">{_scale(widest, aperture)}'
        f"<figcaption><b>{esc(c.name)}</b>, {esc(c.label)}, density {c.density:.2f}</figcaption></figure>"
        for c in crops
    )
    return (
        f'<div class="crops">{cells}</div><p class="facts">Each picture is {widest / 1000.0:.2f} mm square, from the'
        " middle of a patch near the density asked for, in visual density. Middle grey is the patch's own"
        f" density; in every picture black and white lie {span:.2f} above and below it. Each pixel of the scan is drawn"
        " as a square, neither smoothed nor sharpened. The ring is the aperture. Finer pixels alone show more grain:"
        " judge scans of one resolution by eye, others by the numbers.</p>"
    )


def _scale(widest: float, aperture: float) -> str:
    """Return the scale bar and the aperture as a drawing as wide as the crop."""
    length = _BAR if widest >= 2.0 * _BAR else _BAR / 4.0
    unit = 1000.0 / widest
    bar, ring = length * unit, aperture * unit
    return (
        f'<svg class="scale" viewBox="0 0 1000 {max(70.0, ring + 8.0):.0f}" role="img" aria-label="Scale:'
        f' {length / 1000.0:g} mm, and the aperture of {aperture:g} um"><path d="M0 35H{bar:.1f}M0 20V50M{bar:.1f}'
        f' 20V50" /><text x="{bar + 18.0:.1f}" y="50">{length / 1000.0:g} mm</text>'
        f'<circle cx="{996.0 - ring / 2.0:.1f}" cy="{ring / 2.0 + 4.0:.1f}" r="{ring / 2.0:.1f}"/>'
        f'<text x="{980.0 - ring:.1f}" y="50" text-anchor="end">{aperture:g} µm</text></svg>'
    )


def _nearest(points: Sequence[GrainPoint], density: float) -> GrainPoint:
    return min(points, key=lambda p: abs(p.found.density - density))
