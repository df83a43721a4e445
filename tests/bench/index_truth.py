"""The true index of a reversal film that is known exactly, from the definitions alone: nothing of the package is used.

All on one fine grid of log H in lux-seconds. A meter of constant K gives mid-grey H = 0.6516 K / EI.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Curve = Callable[[Array], Array]

STOP = math.log10(2.0)
WHITE, SHADOW = 0.70, -0.90
"""Scene white and textured shadow against mid-grey: common practice [log10]."""

LEAST, MOST, STEP = -9.0, 7.0, 0.0005
SAG = 0.02
"""Fall of the curve below the line from T at which the touch counts in full, in proportion below that [density]."""


@dataclass(frozen=True)
class Truth:
    """What is true of a film and a meter.

    Attributes:
        dmin, dmax: [density].
        t, s: log H [log10 lux-seconds].
        by_touch: True if S is, for the better part, where the line from T touches.
        highlight, middle, cleared, shadow, thin, dense: the index that each asks for [unitless].
        share: of highlight in the mix [unitless].
        index: by the rule; low, high: ends of the range [unitless].
        basis: what decides.
    """

    dmin: float
    dmax: float
    t: float
    s: float
    by_touch: bool
    highlight: float
    middle: float
    cleared: float
    shadow: float
    thin: float
    dense: float
    share: float
    index: float
    basis: str

    @property
    def low(self) -> float:
        """Lowest index worth using [unitless]."""
        return max(self.cleared, self.thin)

    @property
    def high(self) -> float:
        """Highest index worth using [unitless]."""
        return min(self.shadow, self.dense)


def shadow_point(x: Array, d: Array, dmin: float, t: float) -> tuple[float, bool]:
    """Return log H of S, and whether the touch fixed it: Dmin + 2.00, or the touch of the steepest line from T."""
    before = x < t - 0.02
    run, gain = t - x[before], d[before] - dmin - 0.20
    # A line needs a stop, or 0.60 of density, to have a slope of its own.
    slope = np.where((run > 0.30) | (gain > 0.60), gain / run, -np.inf)
    best = int(slope.argmax())
    plain = crossing(x, d, dmin + 2.00) if float(d.max()) > dmin + 2.00 else math.nan
    if float(d[before][best]) >= dmin + 2.00:
        return plain, False
    sag = dmin + 2.00 - float(np.interp(t - 1.80 / float(slope[best]), x, d))
    share = min(max(sag / SAG, 0.0), 1.0)
    touch = float(x[before][best])
    if share == 1.0 or math.isnan(plain):
        return touch, True
    return plain + share * (touch - plain), share > 0.5


def crossing(x: Array, d: Array, level: float) -> float:
    """Return where a falling curve has a density [log10]."""
    return float(np.interp(-level, -d, x))


USUAL = math.sqrt(12.5 * 14.0)
"""K of a meter where nobody stated it: the middle of those that are built, in the log [cd s / m2]."""


def truth_of(density: Curve, constant: float = USUAL, behind: Curve | None = None) -> Truth:
    """Return what is true of a film with a meter of constant K.

    Args:
        density: of log H in lux-seconds, falling.
        constant: K of the meter [cd s / m2].
        behind: the film behind a filter, by the light in front of it: the densities are those of the film without.
    """
    x = np.arange(LEAST, MOST, STEP)
    d = density(x)
    dmin, dmax = float(d.min()), float(d.max())
    span, k = dmax - dmin, 0.6516 * constant
    t = crossing(x, d, dmin + 0.20)
    s, by_touch = shadow_point(x, d, dmin, t)
    nets = {"highlight": 0.20, "cleared": 0.04, "shadow": 0.90 * span,
            "thin": min(0.40, 0.30 * span), "dense": min(1.40, 0.60 * span)}  # fmt: skip
    tones = {"highlight": WHITE, "cleared": WHITE, "shadow": SHADOW, "thin": 0.0, "dense": 0.0}
    seen = d if behind is None else behind(x)
    if behind is not None:
        t, s = crossing(x, seen, dmin + 0.20), crossing(x, seen, float(np.interp(s, x, d)))
    asked = {n: k / 10.0 ** (crossing(x, seen, dmin + net) - tones[n]) for n, net in nets.items()}
    asked["middle"] = 10.0 / 10.0 ** (0.5 * (t + s))
    index, share, basis = by_rule(dmin, asked)
    return Truth(dmin, dmax, t, s, by_touch, share=share, index=index, basis=basis, **asked)


def by_rule(dmin: float, asked: Mapping[str, float]) -> tuple[float, float, str]:
    """Return the index by the rule, the share of highlight in its mix, and what decides.

    Args:
        dmin: [density].
        asked: the index that each tone asks for: highlight, middle, cleared, shadow, thin, dense.
    """
    latitude = math.log2(asked["shadow"] / asked["cleared"])
    share = min(max((0.30 - dmin) / 0.16, 0.0), 1.0) * min(max(1.0 + latitude, 0.0), 1.0)
    mixed = asked["highlight"] ** share * asked["middle"] ** (1.0 - share)
    middle_one = sorted([mixed, asked["cleared"], asked["shadow"]])[1]
    index = min(max(middle_one, asked["thin"]), asked["dense"])
    basis = "highlight" if share >= 1.0 else "middle" if share <= 0.0 else "mixed"
    if index != middle_one:
        basis = "grey"
    elif middle_one != mixed:
        basis = "cleared" if middle_one == asked["cleared"] else "shadow"
    return index, share, basis


def landing(density: Curve, index: float, constant: float, tone: float) -> float:
    """Return the density on which a tone lands with a meter set to an index.

    Args:
        density: of log H in lux-seconds.
        index: what the meter is set to [unitless].
        constant: K of the meter [cd s / m2].
        tone: log H above mid-grey [log10].
    """
    return float(density(np.array([math.log10(0.6516 * constant / index) + tone]))[0])
