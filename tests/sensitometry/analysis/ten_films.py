"""Ten invented films of every temper, in closed form, and a strip of each: for tests of what the index comes to.

Shapes are of arctangents, logistic and power functions, none of which the fit is made of. Exposures are in lux-seconds
of a meter of K = 13.2, so that an index of 100 puts mid-grey at 0.086 lux-seconds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import Channel
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis

Array = NDArray[np.float64]
Curve = Callable[[Array], Array]

METER = math.sqrt(12.5 * 14.0)
STEP = 0.15


def logistic(dmin: float, dmax: float, middle: float, steep: float, power: float = 1.0) -> Curve:
    """Return a falling generalised logistic: ``power`` above 1 softens its shoulder, below 1 its toe."""
    return lambda x: dmin + (dmax - dmin) * (1.0 - (1.0 + np.exp(-steep * (x - middle))) ** -power)


def mixture(*parts: tuple[float, Curve]) -> Curve:
    """Return the sum of several curves, each by its share."""
    return lambda x: np.asarray(sum(share * curve(x) for share, curve in parts))


@dataclass(frozen=True)
class Film:
    """An invented film.

    Attributes:
        curves: density of log H in lux-seconds by channel; the eye's where only that was read.
        steps: log H of its strip [log10 lux-seconds].
        base: density of its support by channel [density]; empty if it was not read.
        patches: True if unexposed and fully exposed film were read.
    """

    curves: Mapping[Channel, Curve]
    steps: Array
    base: Mapping[Channel, float] = field(default_factory=dict)
    patches: bool = True

    @property
    def eye(self) -> Curve:
        """Density as the eye sees it: its own curve, or the mixture of the layers' transmittances."""
        if "visual" in self.curves:
            return self.curves["visual"]
        weights: Mapping[Channel, float] = {"red": 0.33, "green": 0.655, "blue": 0.015}
        return lambda x: -np.log10(sum(w * 10.0 ** -self.curves[c](x) for c, w in weights.items()))


def ladder(last: float, steps: int = 25) -> Array:
    """Return the log H of a strip of steps of 0.15 that ends at ``last`` [log10 lux-seconds]."""
    return np.asarray(last - STEP * np.arange(steps)[::-1])


def _layers(red: Curve, green: Curve, blue: Curve) -> dict[Channel, Curve]:
    return {"red": red, "green": green, "blue": blue}


FILMS: Mapping[str, Film] = {
    "clear": Film({"visual": logistic(0.10, 3.30, -1.28, 2.6)}, ladder(0.9, 29), {"visual": 0.07}),
    "orange base": Film(
        _layers(logistic(0.32, 2.30, -0.50, 2.5), logistic(0.52, 2.75, -0.46, 2.5), logistic(0.86, 3.05, -0.40, 2.5)),
        ladder(1.5),
        {"red": 0.20, "green": 0.42, "blue": 0.74},
    ),
    "low contrast": Film({"visual": logistic(0.12, 1.25, -0.60, 2.0)}, ladder(1.5, 29), {"visual": 0.06}),
    "high contrast": Film(
        {"visual": mixture((0.8, logistic(0.06, 3.60, -1.00, 9.0)), (0.2, logistic(0.06, 3.60, -2.40, 2.5)))},
        ladder(0.2, 29),
        {"visual": 0.04},
    ),
    "fogged": Film({"visual": logistic(0.38, 2.20, -0.80, 2.8)}, ladder(1.0), {"visual": 0.06}),
    "one layer slow": Film(
        _layers(logistic(0.10, 3.0, -1.10, 3.2), logistic(0.12, 3.2, -1.05, 3.2), logistic(0.15, 3.3, -0.45, 3.2)),
        ladder(0.9),
        {"red": 0.05, "green": 0.05, "blue": 0.06},
    ),
    "dense base": Film({"visual": logistic(0.24, 3.20, -0.90, 2.6)}, ladder(1.1, 27), {"visual": 0.20}),
    "expired": Film({"visual": logistic(0.25, 1.62, -0.95, 3.0)}, ladder(0.7), {"visual": 0.08}),
    "short strip": Film({"visual": logistic(0.12, 3.10, -0.70, 3.2)}, ladder(0.30), {"visual": 0.07}, patches=False),
    "two emulsions": Film(
        {"visual": mixture((0.54, logistic(0.10, 2.50, -1.40, 6.0)), (0.46, logistic(0.10, 2.50, -0.60, 6.0)))},
        ladder(0.6, 29),
        {"visual": 0.06},
    ),
}


def strip_of(film: Film, *, noise: float = 0.0, seed: int = 1) -> Strip:
    """Return a strip of a film as its record would describe it: read to 0.01, without error unless asked for.

    Args:
        film: the film.
        noise: standard deviation of a reading [density].
        seed: of the noise.
    """
    rng = np.random.default_rng(seed)

    def read(density: Array) -> Array:
        return np.asarray(np.round(density + noise * rng.standard_normal(np.shape(density)), 2))

    ends = np.array([-9.0, 7.0])
    read_ends = {c: read(curve(ends)) for c, curve in film.curves.items()}
    patches = Patches(
        base=film.base,
        unexposed={c: float(d[0]) for c, d in read_ends.items()} if film.patches else {},
        fully_exposed={c: float(d[1]) for c, d in read_ends.items()} if film.patches else {},
    )
    return Strip(
        title="invented",
        kind="reversal",
        density="visual" if "visual" in film.curves else "status A",
        exposure=GivenExposure("lux-seconds", uncertainty_stops=0.10, seconds=0.02, meter_uncertainty_stops=0.15),
        position=film.steps,
        readings={c: read(curve(film.steps)) for c, curve in film.curves.items()},
        patches=patches,
        repeatability=max(noise, 0.01),
        reader_zero=0.01,
    )


@cache
def analysis_of(name: str) -> Analysis:
    """Return the analysis of a film's strip, read without error."""
    return analyse(strip_of(FILMS[name]), Choices(draws=400, most_draws=400))
