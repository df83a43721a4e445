"""Families of curves that no constant of the package was chosen by: kept apart to count coverage, and for nothing else.

Each is a shape that rises from 0 to 1 with log H, drawn at random; a reversal film mirrors it. The first is a film as
grains make it: sizes that spread, and a grain is developable once it has caught enough photons.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
from scipy.special import betainc, gammainc

from curves.sensitometry.core.units import FloatArray

Rise = Callable[[FloatArray], FloatArray]


def grains(rng: np.random.Generator, middle: float) -> Rise:
    """Return grains of log-normal sizes that need a few photons each (Poisson)."""
    photons, spread = int(rng.integers(2, 9)), float(rng.uniform(0.18, 0.34))
    sizes = spread * np.linspace(-2.6, 2.6, 27)
    share = np.exp(-0.5 * (sizes / spread) ** 2)
    share /= share.sum()
    return lambda x: np.asarray(
        sum(w * gammainc(photons, photons * 10.0 ** (x - middle - s)) for w, s in zip(share, sizes, strict=True))
    )


def hyperbola(rng: np.random.Generator, middle: float) -> Rise:
    """Return an algebraic curve: straight in the middle, ends that close slowly."""
    steep, power = float(rng.uniform(1.6, 2.6)), float(rng.uniform(2.2, 4.0))

    def rise(x: FloatArray) -> FloatArray:
        z = steep * (x - middle)
        return np.asarray(0.5 + 0.5 * z / (1.0 + np.abs(z) ** power) ** (1.0 / power))

    return rise


def burr(rng: np.random.Generator, middle: float) -> Rise:
    """Return a curve whose two ends have different softness, by powers of exposure."""
    steep, power = float(rng.uniform(1.3, 2.1)), float(np.exp(rng.choice([-1.0, 1.0]) * rng.uniform(0.2, 0.8)))
    centre = middle - math.log10(2.0 ** (1.0 / power) - 1.0) / steep
    return lambda x: np.asarray(1.0 - (1.0 + 10.0 ** (steep * (x - centre))) ** -power)


def student(rng: np.random.Generator, middle: float) -> Rise:
    """Return Student's distribution function: a normal one with heavier ends."""
    freedom, width = float(rng.uniform(5.0, 12.0)), float(rng.uniform(0.30, 0.46))

    def rise(x: FloatArray) -> FloatArray:
        z = (x - middle) / width
        tail = 0.5 * betainc(freedom / 2.0, 0.5, freedom / (freedom + z**2))
        return np.asarray(np.where(z > 0.0, 1.0 - tail, tail))

    return rise


def arch(rng: np.random.Generator, middle: float) -> Rise:
    """Return half a wave between two level ends, skewed: ends that are reached, not approached."""
    length, skew = float(rng.uniform(1.6, 2.5)), float(rng.uniform(0.75, 1.35))
    return lambda x: np.asarray(np.sin(0.5 * math.pi * np.clip((x - middle) / length + 0.5, 0.0, 1.0) ** skew) ** 2)


def fast_and_slow(rng: np.random.Generator, middle: float) -> Rise:
    """Return a fast layer of one law and a slow one of another, a stop or so apart."""
    share, gap = float(rng.uniform(0.4, 0.7)), float(rng.uniform(0.15, 0.5))
    one, other = hyperbola(rng, middle - gap / 2.0), student(rng, middle + gap / 2.0)
    return lambda x: np.asarray(share * one(x) + (1.0 - share) * other(x))


UNSEEN: Mapping[str, Callable[[np.random.Generator, float], Rise]] = {
    "grains": grains,
    "hyperbola": hyperbola,
    "burr": burr,
    "student": student,
    "arch": arch,
    "fast and slow": fast_and_slow,
}
