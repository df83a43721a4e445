"""The steps that a curve is fitted to: the readings of each averaged, and what their scatter is known to be."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import FEWEST_STEPS, FloatArray, IndexArray
from curves.sensitometry.core.values import Numbers, numbers
from curves.sensitometry.curve.spline import NoisePrior

ASSUMED_REPEATABILITY = 0.01
"""Standard deviation of one reading where none is given: common practice for a good densitometer [density]."""

PRIOR_FREEDOM = {"assumed": 1.0, "given": 3.0, "most": 5.0}
"""How many readings the knowledge of their scatter is worth: assumed, given, and with repeats at most [degrees of
freedom]."""


@dataclass(frozen=True, eq=False)
class MeanSteps:
    """Steps ready to fit: ascending, distinct log H, finite densities, repeats averaged.

    `MeanSteps.of` guarantees all of this; nothing after it checks again.

    Attributes:
        log_h, density: of each step, (n,) [log10], [density].
        repeats: number of readings behind each step, (n,) [unitless].
        spread: standard deviation of the readings of one step about their mean [density].
        spread_freedom: its degrees of freedom; 0 where no step was read twice.
        first: the first reading of each step, among all that were given, (n,).
        given: number of readings given, those that were not taken included.
    """

    log_h: FloatArray
    density: FloatArray
    repeats: FloatArray
    spread: float
    spread_freedom: float
    first: IndexArray
    given: int

    @classmethod
    def of(cls, log_h: Numbers, density: Numbers) -> MeanSteps:
        """Average readings at the same log H and sort; readings that are NaN were not taken and are left out.

        Args:
            log_h: one entry per reading, 1-D [log10].
            density: same shape, None or NaN where not read [density].

        Raises:
            StripError: lengths differ, something is not a number, or fewer than four different steps were read.
        """
        x, d = numbers(log_h, "log H"), numbers(density, "density")
        if x.size != d.size:
            raise StripError(f"{x.size} log H with {d.size} densities", needed="two lists of the same length")
        if not np.isfinite(x).all():
            raise StripError(
                "a log H is not given", needed="a log H for every density (a density may be None: not read)"
            )
        given, read = x.size, np.isfinite(d).nonzero()[0]
        x, d = x[read], d[read]
        # Exposures that agree to a millionth of a stop are one step: they differ by rounding only.
        first, member, repeats = _distinct(np.round(x, 7).tobytes())
        if first.size < FEWEST_STEPS:
            raise StripError(
                f"only {first.size} different steps were read",
                needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
            )
        mean = np.bincount(member, weights=d) / repeats
        scatter = float(((d - mean[member]) ** 2).sum())
        freedom = float(d.size - first.size)
        spread = float(np.sqrt(scatter / freedom)) if freedom else 0.0
        return cls(x[first], mean, repeats, spread, freedom, read[first], given)

    def noise(self, repeatability: float | None) -> NoisePrior:
        """Return the scatter of one reading, as the instrument and repeat readings tell it."""
        known = "assumed" if repeatability is None else "given"
        freedom = PRIOR_FREEDOM[known]
        one = ASSUMED_REPEATABILITY if repeatability is None else repeatability
        total = freedom + self.spread_freedom
        variance = (freedom * one**2 + self.spread_freedom * self.spread**2) / total
        return NoisePrior(float(np.sqrt(variance)), min(total, PRIOR_FREEDOM["most"]))


@lru_cache(maxsize=64)
def _distinct(log_h_bytes: bytes) -> tuple[IndexArray, IndexArray, FloatArray]:
    """Return the first reading of each different log H, the place of each reading's log H, and the counts of readings.

    Their shapes are (n,), (readings,) and (n,), with the different log H ascending. The channels of a strip share all
    three, and so do the strips of one wedge.
    """
    _, first, member = np.unique(np.frombuffer(log_h_bytes), return_index=True, return_inverse=True)
    return first, member, np.bincount(member, minlength=first.size).astype(np.float64)
