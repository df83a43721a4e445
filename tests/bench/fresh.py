"""Six more families of curves, made after every constant was chosen: to count coverage, and for nothing else.

Each is a shape that rises from 0 to 1 with log H, drawn at random; a reversal film mirrors it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
from scipy.special import expit, ndtr

from curves.sensitometry.core.units import FloatArray

Rise = Callable[[FloatArray], FloatArray]


def gompertz(rng: np.random.Generator, middle: float) -> Rise:
    """Return a double exponential, either way around: one end abrupt, the other long."""
    steep, turned = float(rng.uniform(2.2, 3.6)), bool(rng.random() < 0.5)

    def rise(x: FloatArray) -> FloatArray:
        z = np.clip(steep * (x - middle), -40.0, 40.0)
        return np.asarray(-np.expm1(-np.exp(z)) if turned else np.exp(-np.exp(-z)))

    return rise


def thick_layer(rng: np.random.Generator, middle: float) -> Rise:
    """Return grains of one law in a layer that dims the light with depth, each depth a logistic of its own."""
    steep, dimming = float(rng.uniform(5.0, 8.0)), float(rng.uniform(0.5, 1.1))
    depths = dimming * (np.linspace(0.0, 1.0, 31) - 0.5)
    return lambda x: np.asarray(expit(steep * (x[..., None] - middle - depths)).mean(axis=-1))


def inhibited(rng: np.random.Generator, middle: float) -> Rise:
    """Return a layer whose developed density holds back its own development: log H is known by density."""
    steep, held_back = float(rng.uniform(5.5, 9.0)), float(rng.uniform(0.2, 0.9))
    z = np.linspace(-30.0, 30.0, 12001)
    log_h = middle + z / steep + held_back * (expit(z) - 0.5)
    return lambda x: np.asarray(np.interp(x, log_h, expit(z)))


def broken_lines(rng: np.random.Generator, middle: float) -> Rise:
    """Return two straight lines of different slope between level ends, each corner rounded."""
    first, second, slopes = rng.uniform(0.5, 0.9), rng.uniform(0.5, 0.9), rng.uniform(0.7, 1.4)
    corners = middle + np.array([-first, 0.0, second]) + 0.5 * (first - second)
    changes = np.array([1.0, slopes - 1.0, -slopes])
    rounding = rng.uniform(0.06, 0.16, 3)

    def rise(x: FloatArray) -> FloatArray:
        bends = zip(changes, corners, rounding, strict=True)
        return np.asarray(
            sum(c * r * np.logaddexp(0.0, (x - at) / r) for c, at, r in bends) / (first + slopes * second)
        )

    return rise


def weibull(rng: np.random.Generator, middle: float) -> Rise:
    """Return the share of grains hit, by powers of exposure, in two emulsions a stop or less apart."""
    powers, share = rng.uniform(1.1, 1.9, 2), float(rng.uniform(0.3, 0.7))
    gap = float(rng.uniform(0.0, 0.4))

    def hit(x: FloatArray, power: float) -> FloatArray:
        return np.asarray(-np.expm1(-math.log(2.0) * 10.0 ** np.clip(power * x, -12.0, 2.5)))

    return lambda x: np.asarray(
        share * hit(x - middle + gap / 2.0, powers[0]) + (1.0 - share) * hit(x - middle - gap / 2.0, powers[1])
    )


def long_tailed(rng: np.random.Generator, middle: float) -> Rise:
    """Return a normal rise and, for a few of the grains, one three times as wide: ends that flatten slowly."""
    few, width = float(rng.uniform(0.06, 0.16)), float(rng.uniform(0.28, 0.40))
    return lambda x: np.asarray((1.0 - few) * ndtr((x - middle) / width) + few * ndtr((x - middle) / (2.4 * width)))


FRESH: Mapping[str, Callable[[np.random.Generator, float], Rise]] = {
    "gompertz": gompertz,
    "thick layer": thick_layer,
    "inhibited": inhibited,
    "broken lines": broken_lines,
    "weibull": weibull,
    "long-tailed": long_tailed,
}
