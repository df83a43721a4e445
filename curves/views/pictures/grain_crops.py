"""Crops of films side by side, at one physical scale and one density scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain.comparison import Comparison
from curves.sensitometry.grain.film_grain import Film, GrainPoint, channel_transmittances
from curves.views.page.frame import png_uri
from curves.views.page.tables import esc

_LARGEST = 1000.0
"""Side of a crop, where patches are large enough [um]: our own choice."""

_SPREADS = 3.5
"""Standard deviations of the coarsest film's pixels from grey to black, and to white: our own choice [unitless]."""

_BAR = 200.0
"""Length of the scale bar [um]."""


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
    widest = max(1.4826 * float(np.median(np.abs(c.deviation))) for c in crops)
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
