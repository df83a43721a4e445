"""Simulated reversal strips with a known truth, to judge fits by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from curves.sensitometry.core.units import FloatArray


@dataclass(frozen=True)
class TwoNormals:
    """A reversal curve: Dmin plus two falling normal distribution functions, as a film of two emulsions gives.

    Attributes:
        dmin: [density].
        height, centre, width: of the two falls, [density], [log10 H], [log10 H].
    """

    dmin: float
    height: tuple[float, float]
    centre: tuple[float, float]
    width: tuple[float, float]

    @property
    def dmax(self) -> float:
        """Highest density [density]."""
        return self.dmin + sum(self.height)

    def density(self, log_h: FloatArray) -> FloatArray:
        """Return the true density at ``log_h``, any shape [density]."""
        falls = zip(self.height, self.centre, self.width, strict=True)
        return np.asarray(self.dmin + sum(h * ndtr((c - log_h) / w) for h, c, w in falls))

    def log_h_at(self, net: float) -> float:
        """Return the log H where density is ``net`` above Dmin [log10]."""
        ends = min(self.centre) - 9 * max(self.width), max(self.centre) + 9 * max(self.width)
        return float(brentq(lambda x: float(self.density(np.asarray(x))) - self.dmin - net, *ends, xtol=1e-10))


@dataclass(frozen=True, eq=False)
class SimulatedStrip:
    """Readings of a strip, (n,), and the curve they came from."""

    log_h: FloatArray
    density: FloatArray
    truth: TwoNormals


def simulate(
    rng: np.random.Generator, steps: int = 21, increment: float = 0.15, noise: float = 0.015, decimals: int | None = 2
) -> SimulatedStrip:
    """Return one strip whose curve comes within 0.02 of both its ends.

    Args:
        rng: source of random numbers.
        steps: number of steps [unitless].
        increment: log H from step to step [log10].
        noise: standard deviation of a reading [density].
        decimals: what readings are rounded to; None for not at all.
    """
    span = (steps - 1) * increment
    log_h = np.linspace(-span, 0.0, steps)
    while True:
        total, share = rng.uniform(2.4, 3.3), rng.uniform(0.35, 0.65)
        middle, gap = -span / 2 + rng.uniform(-0.15, 0.15), rng.uniform(0.2, 0.7)
        one, two = rng.uniform(0.20, 0.38, 2)
        truth = TwoNormals(
            dmin=rng.uniform(0.10, 0.45),
            height=(share * total, (1 - share) * total),
            centre=(middle - gap / 2, middle + gap / 2),
            width=(float(one), float(two)),
        )
        exact = truth.density(log_h)
        if exact[-1] - truth.dmin < 0.02 and truth.dmax - exact[0] < 0.02:
            break
    read = exact + rng.normal(0.0, noise, steps) if noise else exact
    return SimulatedStrip(log_h, read if decimals is None else np.round(read, decimals), truth)
