"""How often could the best possible test tell a misreading?

``python -m tests.bench.ideal --slips 160``; ``--beyond 0.5`` lets the softness of films lie outside the ranges that
they are drawn from, by half of each. What is told is counted on the same films and slips.
A clean strip is a film of the families of `tests.bench.misreadings`, as dense, steep and fast as a film may be, and a
test may suspect one in a hundred of them, whichever film it is. A misread strip then cannot be told with more than a
certain chance: that of the test which compares it with the one clean film that is most like it, knows both, their
scatter and the wedge's, and needs only find the place of the mistake (Neyman and Pearson). Every clean film gives such
a bound; the nearest one found gives the lowest.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import cast

import numpy as np
from scipy.optimize import least_squares
from scipy.special import ndtr, ndtri

from curves.sensitometry.core.units import FloatArray, Kind
from tests.bench.drawn_strips import SHAPES, SPAN, Case, draw
from tests.bench.misreadings import MISTAKES, moves, told
from tests.bench.shapes import Rise

Family = Callable[[np.random.Generator, float], Rise]

FALSE_ALARMS = 0.01
"""Share of clean strips that a test may suspect [unitless]."""

SURE = 0.95
"""Chance from which the best test tells a mistake nearly always [unitless]."""

ROUNDED = 0.0029
"""Standard deviation of what rounding to two decimals adds: 0.01 over the root of 12 [density]."""

ANY_FILM = (0.2, 0.6, 1.0)
"""How far base, height and speed may lie beyond the ranges that films are drawn from: no test knows them beforehand
[ranges]."""

PLACES: Mapping[str, Callable[[int, int], float]] = {
    "neighbouring rows exchanged": lambda steps, _: steps,
    "the same in one channel": lambda steps, channels: steps * channels,
    "distant rows exchanged": lambda steps, _: steps**2 / 2,
    "a row moved, a block shifted": lambda steps, _: steps**2,
    "read twice and skipped": lambda steps, _: steps**2,
    "channels exchanged from a step on": lambda steps, channels: steps * channels,
    "a step skipped": lambda steps, _: steps,
    "the same on the steep part": lambda steps, _: steps,
    "solarised end, 0.05": lambda _steps, _channels: 1.0,
}
"""How many places a mistake may have, of so many steps and channels."""


@dataclass
class Dials:
    """What a family draws, set by hand: a dial from 0 to 1 for each, from one end of its range to the other."""

    dials: FloatArray
    sign: float = 1.0
    used: int = field(default=0, init=False)

    def _next(self) -> float:
        self.used += 1
        return float(self.dials[min(self.used, self.dials.size) - 1])

    def uniform(self, low: float, high: float, size: int | None = None) -> float | FloatArray:
        """Return values between two ends."""
        if size is None:
            return low + (high - low) * self._next()
        return np.array([low + (high - low) * self._next() for _ in range(size)])

    def dirichlet(self, alpha: list[float]) -> FloatArray:
        """Return shares of a whole, none of them less than a tenth of another."""
        weights = np.array([max(0.1 + self._next(), 0.02) for _ in alpha])
        return np.asarray(weights / weights.sum())

    def choice(self, _options: list[float]) -> float:
        """Return the sign."""
        return self.sign


@dataclass(frozen=True)
class Film:
    """A family with its dials: a clean film as the strips are made of it.

    Attributes:
        family, sign: the shape, and the sign that some of them draw.
        kind: of the film.
        log_h: of the steps, (n,) [log10].
        middle: of log H [log10].
    """

    family: Family
    sign: float
    kind: Kind
    log_h: FloatArray
    middle: float

    @property
    def dials(self) -> int:
        """How many there are: base, height and centre, and those of the shape."""
        shape = Dials(np.full(16, 0.5), self.sign)
        self.family(cast(np.random.Generator, shape), self.middle)
        return 3 + shape.used

    def densities(self, dials: FloatArray) -> FloatArray:
        """Return the densities of the steps, (n,) [density]."""
        centre = self.middle + 0.8 * (dials[2] - 0.5)
        rise = self.family(cast(np.random.Generator, Dials(dials[3:], self.sign)), centre)
        off = self.log_h - centre
        seen = centre + (off if self.kind == "negative" else -off)
        return np.asarray(0.1 + 0.5 * dials[0] + (1.78 + 2.13 * dials[1]) * rise(seen))

    def nearest(self, densities: FloatArray, scatter: float, wedge: float, shapes: float) -> FloatArray:
        """Return the film's densities nearest to given ones, (n,) [density].

        Args:
            densities: given, (n,) [density].
            scatter: of a reading [density].
            wedge: uncertainty of a step [density].
            shapes: how far the dials of the shape may lie beyond theirs [ranges].
        """
        slope = np.gradient(densities, self.log_h)
        size = np.hypot(scatter, wedge * slope)
        base, height = densities.min(), np.ptp(densities)
        half = float(self.log_h[np.abs(densities - base - 0.5 * height).argmin()])
        known = np.array([(base - 0.1) / 0.5, (height - 1.78) / 2.13, (half - self.middle) / 0.8 + 0.5])
        beyond = np.append(ANY_FILM, np.full(self.dials - 3, shapes))
        best: tuple[float, FloatArray] = (math.inf, densities)

        def off(dials: FloatArray) -> FloatArray:
            return np.asarray((self.densities(dials) - densities) / size)

        for start in (0.3, 0.7):
            at = np.clip(np.append(known, np.full(self.dials - 3, start)), 0.02 - beyond, 0.98 + beyond)
            found = least_squares(off, at, bounds=(-beyond, 1.0 + beyond), max_nfev=40, ftol=1e-3)
            if found.cost < best[0]:
                best = (float(found.cost), self.densities(found.x))
        return best[1]


def distance(
    entered: FloatArray,
    kind: Kind,
    log_h: FloatArray,
    scatter: float,
    wedge: float,
    first: str,
    shapes: float,
) -> float:
    """Return how far a table lies from the nearest clean film found [standard deviations].

    Args:
        entered: densities as they would be entered without scatter, (c, n) [density].
        kind: of the film.
        log_h: of the steps, (n,) [log10].
        scatter: of a reading [density].
        wedge: uncertainty of a step [density].
        first: the family tried first: others are left as soon as some layers alone lie further off.
        shapes: how far the dials of clean films' shapes may lie beyond theirs [ranges].
    """
    middle = float(log_h.mean())
    least = math.inf
    for name in sorted(SHAPES, key=lambda name: name != first):
        for sign in (-1.0, 1.0) if name == "skewed" else (1.0,):
            film = Film(SHAPES[name], sign, kind, log_h, middle)
            clean: FloatArray = np.empty((0, log_h.size))
            square = 0.0
            for layers in range(1, len(entered) + 1):
                clean = np.asarray(np.vstack([clean, film.nearest(entered[layers - 1], scatter, wedge, shapes)]))
                square = _square(entered[:layers] - clean, np.gradient(clean, log_h, axis=1), scatter, wedge)
                if square > least:
                    break
            least = min(least, square)
    return math.sqrt(max(least, 0.0))


def _square(off: FloatArray, slope: FloatArray, scatter: float, wedge: float) -> float:
    """Return the squared distance of layers from a clean film: errors of the wedge move all layers of a step, so that
    it is the inverse of scatter**2 I + wedge**2 s s' [variances]."""
    along = (off * slope).sum(axis=0) ** 2 * wedge**2 / (scatter**2 + wedge**2 * (slope**2).sum(axis=0))
    return float(((off**2).sum(axis=0) - along).sum()) / scatter**2


def best_chance(distance: float, places: float) -> float:
    """Return the chance with which the best test tells a strip at a distance from all clean ones.

    Args:
        distance: from the nearest clean film [standard deviations].
        places: how many the mistake may have: false alarms are divided among them.
    """
    return float(ndtr(distance + ndtri(FALSE_ALARMS / places)))


def without_errors(case: Case) -> Case:
    """Return the same film with its wedge as stated and its readings without scatter."""
    return replace(case, exact=case.even, read=case.even, half=None, decimals=9)


def chances(name: str, slips: int, shapes: float) -> Iterator[tuple[float, bool]]:
    """Yield the best test's chance of mistakes of one kind that move the index, and whether the check tells them."""
    found = 0
    for seed in itertools.count():
        key = (sorted(MISTAKES).index(name), seed)
        rng, again = np.random.default_rng(key), np.random.default_rng(key)
        case, same = draw(rng), draw(again)
        entered, exactly = MISTAKES[name](rng, case), MISTAKES[name](again, without_errors(same))
        if entered is None or exactly is None or not moves(case, entered):
            continue
        log_h = -SPAN / (case.steps - 1) * np.arange(float(case.steps))
        scatter = math.hypot(case.noise, ROUNDED)
        far = distance(exactly.readings, case.kind, log_h, scatter, case.wedge, case.family, shapes)
        yield best_chance(far, PLACES[name](case.steps, len(case.exact))), bool(told(case, entered.readings))
        found += 1
        if found == slips:
            return


def main() -> None:
    """Print what is told of each mistake beside what the best test would tell."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slips", type=int, default=160, help="of each kind, that move the index")
    parser.add_argument("--beyond", type=float, default=0.0, help="of the ranges of the films' softness")
    wanted = parser.parse_args()
    print(f"{wanted.slips} slips of each kind that move the index, per cent with standard errors")
    print(f"{'':36} told      best   told of those that the best tells nearly always")
    for name in MISTAKES:
        best, found = np.array(list(chances(name, wanted.slips, wanted.beyond))).T
        sure = best >= SURE
        share = f"{100 * found[sure].mean():5.0f} of {sure.sum():3d}" if sure.any() else "-"
        error = math.sqrt(found.mean() * (1.0 - found.mean()) / found.size)
        print(f"{name:36} {100 * found.mean():3.0f} ±{100 * error:2.0f} {100 * best.mean():6.0f}   {share}", flush=True)


if __name__ == "__main__":
    main()
