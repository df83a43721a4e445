"""Action limits: a steady process passes them in at most one strip of a hundred, whatever the number of references.

A strip to come lies about the mean of the reference strips by Student's t, with the spread and the freedom of the
reference strips. The chance is shared out over all numbers that are watched, and over the means of the last strips that
are held against the limits. Few references leave each spread uncertain; what all spreads have in common, beside what
errors of reading alone would make of them, is learnt from all numbers together (moderated variances: Smyth 2004, Linear
models and empirical Bayes methods for assessing differential expression in microarray experiments, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import digamma, polygamma, stdtrit

from curves.sensitometry.control.batches import Batches
from curves.sensitometry.core.quantity import COVERAGE
from curves.sensitometry.core.units import FloatArray, IndexArray

RATE = 0.01
"""Chance that a strip of a steady process makes an alarm, in any number and by any mean: our own choice [unitless]."""

MEANS = (1, 2, 8)
"""Last strips whose mean is held against action limits: one alone for an accident, two and eight for a drift: our own
choice."""

_FEWEST_POOLED = 3
"""Fewest numbers from which it is learnt what their spreads have in common: our own choice [unitless]."""

_MOST_FREEDOM = 10.0
"""Most degrees of freedom that the other numbers add to a spread: numbers of one strip scatter together, so that ten
tell less than ten would: our own choice [unitless]."""

_LEAST = 1e-4
"""Least variance of a spread, in that by errors of reading alone: rounded readings may agree by chance [unitless]."""


@dataclass(frozen=True)
class Spread:
    """The spread of a number from strip to strip: standard deviation, in the number's unit, and its freedom."""

    size: float
    freedom: float

    def reach(self, chance: float, variance: float) -> float:
        """Return the distance from its centre that a value keeps to, but for a chance on both sides together.

        Args:
            chance: of a value beyond it [unitless].
            variance: of the value less its centre, in the variance of one strip [unitless].
        """
        return float(stdtrit(self.freedom, 1.0 - 0.5 * chance)) * self.size * math.sqrt(variance)

    def interval(self, value: float, variance: float) -> tuple[float, float]:
        """Return the ends of the 95 % interval of a weighted mean of strips whose variance is stated as for `reach`."""
        reach = self.reach(1.0 - COVERAGE, variance)
        return value - reach, value + reach


def spreads(found: FloatArray, freedom: FloatArray, by_reading: FloatArray) -> list[Spread]:
    """Return the spreads of numbers, each moved towards what all have in common, and no less than readings make them.

    Args:
        found: standard deviation of each number on the reference strips, (k,).
        freedom: degrees of freedom of each, (k,).
        by_reading: standard deviation that errors of reading alone make, (k,).
    """
    least = by_reading**2
    variance = np.maximum(found**2, _LEAST * least)
    if found.size >= _FEWEST_POOLED:
        common, added = _in_common(variance / least, freedom)
        variance = (added * common * least + freedom * variance) / (added + freedom)
        freedom = freedom + added
    size = np.sqrt(np.maximum(variance, least))
    return [Spread(float(s), float(f)) for s, f in zip(size, freedom, strict=True)]


def _in_common(ratio: FloatArray, freedom: FloatArray) -> tuple[float, float]:
    """Return the ratio that the variances of numbers scatter about, and the freedom with which it is known of each.

    Args:
        ratio: variances, in those by errors of reading, (k,) [unitless].
        freedom: degrees of freedom of each, (k,).
    """
    logs = np.log(ratio) - digamma(freedom / 2.0) + np.log(freedom / 2.0)
    # What their scatter might be, rather than what it is: a few numbers may scatter little by chance.
    scatter = logs.var(ddof=1) * (1.0 + math.sqrt(2.0 / (ratio.size - 1)))
    true = float(scatter - polygamma(1, freedom / 2.0).mean())
    added = min(2.0 * _where_trigamma_is(true), _MOST_FREEDOM) if true > 0.0 else _MOST_FREEDOM
    return math.exp(float(logs.mean()) + float(digamma(added / 2.0)) - math.log(added / 2.0)), added


def _where_trigamma_is(value: float) -> float:
    """Return the place at which the trigamma function has a value, by Newton's method on its reciprocal."""
    place = 0.5 + 1.0 / value
    for _ in range(30):
        height = float(polygamma(1, place))
        place += height * (1.0 - height / value) / float(polygamma(2, place))
    return place


@dataclass(frozen=True)
class Alarm:
    """A strip at which a number, or the mean of its last strips, passes an action limit.

    Attributes:
        index: place of the strip, from 0.
        strips: number of strips whose mean it is, the last of them this one.
        mean: of the strips, on the scale of the first batch.
        limit: the action limit that the mean passes.
    """

    index: int
    strips: int
    mean: float
    limit: float

    @property
    def above(self) -> bool:
        """True if the mean lies above its limit."""
        return self.mean > self.limit


def action_limits(centre: float, spread: Spread, batches: Batches, weights: FloatArray, share: float) -> FloatArray:
    """Return the lower and the upper action limit of each single strip, (n, 2).

    Args:
        centre: mean of the reference strips.
        spread: of the number.
        batches: of the strips.
        weights: of the strips in the centre of each batch, (batches, n).
        share: chance of an alarm, of this number by one mean [unitless].
    """
    reach = np.array([spread.reach(share, 1.0 + batches.variance(own)) for own in weights])[batches.batch]
    return np.column_stack([centre - reach, centre + reach])


def alarms(
    values: FloatArray, centre: float, spread: Spread, batches: Batches, weights: FloatArray, share: float
) -> tuple[Alarm, ...]:
    """Return the alarms of one number, at most one a strip.

    A mean counts only where its last strip lies at least half as far off as the limit of the mean: a good strip after a
    bad one is not an alarm, and a bad one after a bad one is.

    Args:
        values: on the scale of the first batch, (n,); NaN where a value is missing.
        centre, spread, batches, weights, share: as for `action_limits`.
    """
    found: list[Alarm] = []
    last: list[int] = []
    for index in np.flatnonzero(batches.judged & np.isfinite(values)).tolist():
        last.append(index)
        for strips in MEANS:
            if strips > len(last):
                break
            used = np.array(last[-strips:])
            alarm = _alarm(values, used, centre, spread.reach(share, _variance(batches, weights, used)))
            if alarm is not None:
                found.append(alarm)
                break
    return tuple(found)


def _variance(batches: Batches, weights: FloatArray, used: IndexArray) -> float:
    """Return the variance of the mean of some strips less their centres, in the variance of one strip."""
    return 1.0 / used.size + batches.variance(weights[batches.batch[used]].mean(axis=0))


def _alarm(values: FloatArray, used: IndexArray, centre: float, reach: float) -> Alarm | None:
    """Return the alarm of the mean of some strips; None if the mean, or twice the last, lies within reach."""
    mean, last = float(values[used].mean()), float(values[used[-1]])
    if abs(mean - centre) <= reach or (last - centre) * np.sign(mean - centre) < 0.5 * reach:
        return None
    return Alarm(int(used[-1]), used.size, mean, centre + math.copysign(reach, mean - centre))
