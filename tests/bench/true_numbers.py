"""The true numbers of a film that is known exactly, by their definitions alone, on a fine grid of log H in lux-seconds.

Nothing of the package is used but the size of a stop. The indexes of a reversal film are found in
`tests.bench.index_truth`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from curves.sensitometry.core.units import STOP, FloatArray, Kind
from tests.bench.index_truth import crossing, shadow_point

Curve = Callable[[FloatArray], FloatArray]

LEAST, MOST, STEP = -7.0, 4.0, 0.0005
BASE = 0.04
"""Density of the support of every film [density]."""


def truth(density: Curve, kind: Kind) -> dict[str, float]:
    """Return the true numbers by name; those that a film does not have are left out.

    Args:
        density: of log H, falling for a reversal film, rising for a negative.
        kind: of film.
    """
    x = np.linspace(LEAST, MOST, round((MOST - LEAST) / STEP) + 1)
    # Every number is found on a falling curve: a negative is mirrored, and a point of it mirrored back.
    mirrored = kind == "negative"
    d = density(-x) if mirrored else density(x)
    dmin, dmax = float(d.min()), float(d.max())
    found = {"dmin": dmin, "dmax": dmax, "base": BASE, "veil": dmin - BASE}

    def at(net: float) -> float:
        return crossing(x, d, dmin + net) if net < dmax - dmin else math.nan

    start, end, found["gamma"] = straight_line(x, d)
    thin, dense = at(0.10 if mirrored else 0.04), at(0.90 * (dmax - dmin))
    found |= {
        "range_stops": (thin - dense) / STOP,
        "toe_stops": max(thin - end, 0.0) / STOP,
        "straight_stops": (end - start) / STOP,
        "shoulder_stops": max(start - dense, 0.0) / STOP,
        "average_gradient_150": chord(x, d, at(0.10), 1.50),
        "average_gradient_130": chord(x, d, at(0.10), 1.30),
        "contrast_index": contrast_index(at),
    }
    if mirrored:
        speed = -at(0.10)
        found |= {
            "speed": speed,
            "average_gradient": found["average_gradient_130"],
            "average_gradient_net": 1.75 / (at(0.25) - at(2.00)),
            "iso_6": 0.8 / 10.0**speed,
            "fractional_gradient": 0.8 / 10.0 ** (-fractional_point(x, d) + 0.83 - 0.86 * 0.80 + 0.24 * 0.80**2),
            "gain": 1.30 * found["average_gradient_130"],
        }
        return {name: value for name, value in found.items() if math.isfinite(value)}
    found["T"] = at(0.20)
    found["S"], _ = shadow_point(x, d, dmin, found["T"])
    found["M"] = 0.5 * (found["T"] + found["S"])
    found |= {"average_gradient": 1.80 / (at(0.20) - at(2.00)), "iso_2240": 10.0 / 10.0 ** found["M"]}
    for tones, point in (("highlights", "T"), ("mid_tones", "M"), ("shadows", "S")):
        found[f"gradient_{tones}"] = chord(x, d, found[point] + 0.5 * STOP, STOP)
    return {name: value for name, value in found.items() if math.isfinite(value)}


def straight_line(x: FloatArray, d: FloatArray) -> tuple[float, float, float]:
    """Return the ends of the straight-line part of a falling curve [log10], and gamma [density per log10 H]."""
    half = round(0.30 / STEP)
    mean = (d[: -2 * half] - d[2 * half :]) / (2 * half * STEP)
    steep = np.flatnonzero(mean >= 0.9 * mean.max())
    longest = max(np.split(steep, np.flatnonzero(np.diff(steep) > 1) + 1), key=len)
    centres = x[half:-half]
    return float(centres[longest[0]]), float(centres[longest[-1]]), float(mean[longest].mean())


def chord(x: FloatArray, d: FloatArray, start: float, interval: float) -> float:
    """Return the slope of a falling curve over ``interval`` of less log H from ``start`` [density per log10 H]."""
    near, far = np.interp([start, start - interval], x, d)
    return float(far - near) / interval


def contrast_index(at: Callable[[float], float]) -> float:
    """Return the slope of the line that meets the curve at radii 0.2 and 2.2; NaN where the curve is too low.

    Args:
        at: log H of a net density.
    """

    def excess(angle: float) -> float:
        return at(0.2 * math.sin(angle)) - at(2.2 * math.sin(angle)) - 2.0 * math.cos(angle)

    angles = np.arctan(np.geomspace(0.05, 10.0, 400))
    known = [a for a in angles if math.isfinite(excess(a))]
    if not known or excess(known[-1]) < 0.0:
        return math.nan
    return math.tan(brentq(excess, known[0], known[-1]))


def fractional_point(x: FloatArray, d: FloatArray) -> float:
    """Return the point of a falling curve whose gradient is 0.3 of its mean over the 1.50 of less log H from there."""
    cells = round(1.50 / STEP)
    gradient = -np.gradient(d, STEP)[cells:]
    mean = (d[:-cells] - d[cells:]) / 1.50
    steepest = int(gradient.argmax())
    short = np.flatnonzero(gradient[steepest:] < 0.3 * mean[steepest:])
    return float(x[cells:][steepest + int(short[0])])
