"""Several results of one thing: whether they agree, and their combination with what they do not agree in.

Results are rows of draws, on a scale on which errors add. Errors that results share are the same in the same row, so
their covariance is that of the rows: a shared error is counted once, and the weights follow from what is not shared.
So are the offsets between results that their curves show where they overlap; without errors they would be zero.

Whether results agree is a chi-square test of their distances and offsets, from which shared errors cancel
(compatibility of results, VIM 2012, 2.47; the test of Cox 2002, Metrologia 39, procedure A, from memory). What they do
not agree in beyond their errors has reasons, each as likely as the results make it (`disagreement`). Each draw of the
combination takes one of these, so that the interval widens without a threshold, and where one of two is off, holds what
either says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc

from curves.sensitometry.combining.disagreement import Observations, explanations
from curves.sensitometry.core import streams
from curves.sensitometry.core.units import FloatArray

DOUBTED = 0.05
"""Chance below which results of one thing are said to contradict each other: common practice [unitless]."""

_ROUNDING = 1e-4
"""Standard uncertainty that every result has besides, so that no two are one [stops]."""


@dataclass(frozen=True)
class Agreement:
    """Results of one thing held against each other.

    Attributes:
        chi_square: sum of their squared distances from their combination, and of offsets, in the uncertainty of what is
            not shared.
        freedom: degrees of freedom, one less than there are results and offsets.
        chance: chance that results which agree lie as far apart [unitless].
        apart: each result less the combination of the others [stops].
        apart_error: standard uncertainty of that [stops].
        odd: the result that alone contradicts the others, by its place; None without one, and of two results, since
            nothing tells which is off.
    """

    chi_square: float
    freedom: int
    chance: float
    apart: tuple[float, ...]
    apart_error: tuple[float, ...]
    odd: int | None

    @property
    def contradicts(self) -> bool:
        """True if the results contradict each other."""
        return self.chance < DOUBTED


@dataclass(frozen=True, eq=False)
class Offsets:
    """Offsets between results that something else than the results shows: zero but for errors.

    Attributes:
        rows: each offset, row 0 as observed, (m, r) [stops].
        links: for each 1 at the result that it counts from, -1 at the result that it counts to, (m, n).
    """

    rows: FloatArray
    links: FloatArray

    @classmethod
    def none(cls, results: int, rows: int) -> Offsets:
        """Return the offsets of results between which nothing else shows any."""
        return cls(np.zeros((0, rows)), np.zeros((0, results)))


@dataclass(frozen=True, eq=False)
class Combination:
    """Several results of one thing as one.

    Attributes:
        rows: the combination, row 0 the estimate, (r,) [stops].
        weights: share of each result in the estimate, not negative, together 1 [unitless].
        agreement: the test of their agreement.
        scatter: scatter from result to result beyond the errors, row 0 its mean, (r,) [stops].
        shared: standard uncertainty of the combination that more results of the same kind would not shrink [stops].
    """

    rows: FloatArray
    weights: FloatArray
    agreement: Agreement
    scatter: FloatArray
    shared: float


def combine(results: FloatArray, rng: np.random.Generator, offsets: Offsets | None = None) -> Combination:
    """Return the combination of several results of one thing.

    Args:
        results: rows of each, row 0 the estimate, all finite, (n, r) [stops].
        rng: random numbers of this combination alone.
        offsets: the offsets between them that something else shows; None without any.
    """
    values, draws, count = results[:, 0], results[:, 1:], len(results)
    seen = Offsets.none(count, results.shape[1]) if offsets is None else offsets
    observed = Observations(
        np.r_[values, seen.rows[:, 0]], covariance(np.vstack([draws, seen.rows[:, 1:]])), seen.links
    )
    known = observed.known[:count, :count]
    found = explanations(observed)
    each = least_variance_weights(known + found.beyond[:, None, :] * np.eye(count))
    weights = found.chances @ each
    # Each draw takes one reason: which, and how far the combination is off by it, are drawn with the rest.
    pick, off = streams.uniform(rng, draws.shape[1], 1)[:, 0], streams.normal(rng, draws.shape[1], 1)[:, 0]
    which = np.minimum(np.searchsorted(np.cumsum(found.chances), pick), found.chances.size - 1)
    moved = np.sqrt((each**2 * found.beyond).sum(axis=1))[which] * off
    rows = (each[which] * draws.T).sum(axis=1) + moved
    apart = known - np.diag(np.diag(known))
    shared = float(weights @ apart @ weights) / max(1.0 - float(weights @ weights), _ROUNDING)
    scatter = np.sqrt(found.beyond.mean(axis=1))
    return Combination(
        rows=np.r_[weights @ values, rows],
        weights=weights,
        agreement=agreement(observed),
        scatter=np.r_[found.chances @ scatter, scatter[which]],
        shared=math.sqrt(max(shared, 0.0)),
    )


def covariance(draws: FloatArray) -> FloatArray:
    """Return the covariance of results from their draws, (n, d), as (n, n); fewer than two draws show none."""
    count, drawn = draws.shape
    spread = np.atleast_2d(np.cov(draws)) if drawn > 1 else np.zeros((count, count))
    return spread + _ROUNDING**2 * np.eye(count)


def least_variance_weights(known: FloatArray) -> FloatArray:
    """Return the weights, none negative and together 1, with which a mean has the least variance, (n,) or (k, n).

    Without the bound they are those of generalised least squares. A result whose weight would be negative, since it
    carries a shared error more strongly than the others do, has none.

    Args:
        known: covariance of the results, (n, n), or several of these, (k, n, n).
    """
    count = known.shape[-1]
    each = known.reshape(-1, count, count)
    weights = np.linalg.solve(each, np.ones((count, 1)))[..., 0]
    weights /= weights.sum(axis=1, keepdims=True)
    for place in np.flatnonzero(weights.min(axis=1) < 0.0):
        others = np.delete(np.arange(count), weights[place].argmin())
        weights[place] = 0.0
        weights[place, others] = least_variance_weights(each[place][np.ix_(others, others)])
    return np.asarray(weights.reshape(known.shape[:-1]))


def agreement(observed: Observations) -> Agreement:
    """Return the test of the agreement of several results of one thing."""
    count = observed.count
    values, known = observed.values[:count], observed.known[:count, :count]
    chance = _chance(observed.distance, observed.freedom)
    apart, errors, rest = [], [], []
    for one in range(count):
        others = np.arange(count) != one
        contrast = np.zeros(count)
        contrast[others] = -least_variance_weights(known[np.ix_(others, others)])
        contrast[one] = 1.0
        apart.append(float(contrast @ values))
        errors.append(math.sqrt(float(contrast @ known @ contrast)))
        without = observed.of(others)
        rest.append(_chance(without.distance, without.freedom))
    odd = None
    alone = [one for one in range(count) if rest[one] >= DOUBTED]
    if chance < DOUBTED and count > 2 and alone:
        odd = max(alone, key=lambda one: abs(apart[one]) / errors[one])
    return Agreement(observed.distance, observed.freedom, chance, tuple(apart), tuple(errors), odd)


def _chance(chi_square: float, freedom: int) -> float:
    """Return the chance that a chi-square of so many degrees of freedom is greater; 1 where there are none."""
    return float(gammaincc(0.5 * freedom, 0.5 * chi_square)) if freedom else 1.0
