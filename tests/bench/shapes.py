"""Families of curves that the fit was not made for, each drawn at random.

Shapes are functions of log H that rise from 0 to 1; a reversal film mirrors them, so that the shoulder of a shape is
its dense end in either kind. Nothing here is used by the package, and little of the package is used here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, ndtr

from curves.sensitometry.core.units import FloatArray

Rise = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Film:
    """An invented film: density = dmin + height * rise, of log H (negative) or of log H mirrored at ``middle``."""

    kind: str
    dmin: float
    height: float
    rise: Rise
    middle: float

    def density(self, log_h: FloatArray) -> FloatArray:
        """Return the density at ``log_h``, any shape [density]."""
        x = log_h if self.kind == "negative" else 2.0 * self.middle - log_h
        return np.asarray(self.dmin + self.height * self.rise(x))


def two_emulsions(rng: np.random.Generator, middle: float) -> Rise:
    """Return two normal distribution functions: the family that the fit was first judged by."""
    share, gap = rng.uniform(0.35, 0.65), rng.uniform(0.2, 0.7)
    one, two = rng.uniform(0.22, 0.40, 2)
    return lambda x: np.asarray(
        share * ndtr((x - middle + gap / 2) / one) + (1 - share) * ndtr((x - middle - gap / 2) / two)
    )


def three_emulsions(rng: np.random.Generator, middle: float) -> Rise:
    """Return three: a curve with a swell in its straight part."""
    shares = rng.dirichlet([4.0, 4.0, 4.0])
    centres = middle + np.array([-0.55, 0.0, 0.55]) * rng.uniform(0.7, 1.1)
    widths = rng.uniform(0.22, 0.40, 3)
    return lambda x: np.asarray(sum(s * ndtr((x - c) / w) for s, c, w in zip(shares, centres, widths, strict=True)))


def skewed(rng: np.random.Generator, middle: float) -> Rise:
    """Return a generalised logistic: one end much softer than the other."""
    steep, power = rng.uniform(3.2, 5.0), float(np.exp(rng.choice([-1.0, 1.0]) * rng.uniform(0.4, 0.9)))
    centre = middle - math.log(power) / steep
    return lambda x: np.asarray(expit(steep * (x - centre)) ** power)


def hard_shoulder(rng: np.random.Generator, middle: float) -> Rise:
    """Return a soft start, a straight line and an abrupt end."""
    length, soft, hard = rng.uniform(1.3, 1.8), rng.uniform(0.10, 0.18), rng.uniform(0.02, 0.05)

    def rise(x: FloatArray) -> FloatArray:
        start = soft * np.logaddexp(0.0, (x - middle + length / 2) / soft)
        return np.asarray((start - hard * np.logaddexp(0.0, (start - length) / hard)) / length)

    return rise


FAMILIES: Mapping[str, Callable[[np.random.Generator, float], Rise]] = {
    "two emulsions": two_emulsions,
    "three emulsions": three_emulsions,
    "skewed": skewed,
    "hard shoulder": hard_shoulder,
}
