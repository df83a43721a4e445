"""A round aperture over square pixels: the share of each pixel inside the aperture, and the loss by blur."""

from __future__ import annotations

import math

import numpy as np

from curves.sensitometry.core.units import FloatArray


def aperture_area(diameter: float) -> float:
    """Return the area of a circle; diameter [um], area [um2]."""
    return math.pi * diameter**2 / 4.0


def aperture_weights(diameter: float, pitch: float) -> FloatArray:
    """Return the share of each pixel in a circle centred on the middle pixel, (k, k), k odd; the shares add up to 1.

    Each share is the exact area of the pixel inside the circle, over the circle's area.

    Args:
        diameter: diameter of the circle [um].
        pitch: distance between pixels [um].
    """
    radius = diameter / 2.0
    reach = max(0, math.ceil(radius / pitch - 0.5))
    edges = np.asarray((np.arange(-reach, reach + 2) - 0.5) * pitch, dtype=np.float64)
    corner = _quadrant(edges[:, None], edges[None, :], radius)
    inside = np.diff(np.diff(corner, axis=0), axis=1)
    return np.asarray(np.maximum(inside, 0.0) / aperture_area(diameter))


def _quadrant(x: FloatArray, y: FloatArray, radius: float) -> FloatArray:
    """Return the area of the circle between the axes and (x, y), negative where x and y differ in sign."""
    sign = np.sign(x) * np.sign(y)
    u, v = np.minimum(np.abs(x), radius), np.minimum(np.abs(y), radius)
    # From 0 to ``flat`` the rectangle is as high as v, from there on the circle is lower.
    flat = np.minimum(u, np.sqrt(np.maximum(radius**2 - v**2, 0.0)))
    return np.asarray(sign * (flat * v + _under_circle(u, radius) - _under_circle(flat, radius)))


def _under_circle(u: FloatArray, radius: float) -> FloatArray:
    """Return the area under the quarter circle from 0 to u."""
    height = np.sqrt(np.maximum(radius**2 - u**2, 0.0))
    return np.asarray(0.5 * (u * height + radius**2 * np.arcsin(np.clip(u / radius, -1.0, 1.0))))


def blur_loss(diameter: float, pitch: float, neighbour: float = 0.0) -> float:
    """Return the share of grain's variance that is lost because the aperture is made of pixels [unitless].

    For grain without correlation between pixels (white) the variance through the weights w is S sum(w^2) / pitch^2,
    and through a sharp circle S / area; the ratio follows from the weights alone. Grain whose neighbouring pixels are
    correlated loses less, nearly in proportion to one less their correlation: within 0.034 for grain of an exponential
    or a Gaussian autocorrelation of any length, by numerical integration. The correction by this loss is our own
    choice: without it a film would have less granularity the coarser it is scanned.

    Args:
        diameter: diameter of the aperture [um].
        pitch: distance between pixels [um].
        neighbour: correlation of grain between neighbouring pixels, limited to 0 to 1 [unitless].
    """
    white = 1.0 - float((aperture_weights(diameter, pitch) ** 2).sum()) * aperture_area(diameter) / pitch**2
    return white * (1.0 - min(max(neighbour, 0.0), 1.0))
