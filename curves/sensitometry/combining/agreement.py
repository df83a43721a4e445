"""Several results of one thing: whether they agree, and their combination with what they do not agree in.

Results are rows of draws, on a scale on which errors add. Errors that results share are the same in the same row, so
their covariance is that of the rows: a shared error is counted once, and the weights follow from what is not shared.

Whether results agree is a chi-square test of their distances, from which shared errors cancel (compatibility of
results, VIM 2012, 2.47; the test of Cox 2002, Metrologia 39, procedure A, from memory). What they do not agree in
beyond their errors is a scatter from result to result, which is not known: none, or one of a wide prior, each as likely
as the results make it. Each draw of the combination takes one of these, so the interval widens without a threshold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc

from curves.sensitometry.core import streams
from curves.sensitometry.core.units import FloatArray

DOUBTED = 0.05
"""Chance below which results of one thing are said to contradict each other: common practice [unitless]."""

NO_SCATTER = 2.0 / 3.0
"""Chance beforehand that results differ by their stated errors alone: our own choice [unitless]."""

USUAL_SCATTER = 0.15
"""Middle of the scatter from strip to strip where there is any: half of a half-Cauchy distribution lies below: our own
choice [stops]."""

_SCATTERS = 40
"""Sizes of scatter that are weighed [unitless]."""

_ROUNDING = 1e-4
"""Standard uncertainty that every result has besides, so that no two are one [stops]."""


@dataclass(frozen=True)
class Agreement:
    """Results of one thing held against each other.

    Attributes:
        chi_square: sum of their squared distances from their combination, in the uncertainty of what is not shared.
        freedom: degrees of freedom, one less than there are results.
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


def combine(results: FloatArray, rng: np.random.Generator) -> Combination:
    """Return the combination of several results of one thing.

    Args:
        results: rows of each, row 0 the estimate, all finite, (n, r) [stops].
        rng: random numbers of this combination alone.
    """
    values, draws = results[:, 0], results[:, 1:]
    known = covariance(draws)
    sizes, chances = _scatters(values, known)
    each = np.array([least_variance_weights(known + size**2 * np.eye(values.size)) for size in sizes])
    weights = chances @ each
    # Each draw takes one size of the scatter: which, and how far the combination is off by it, are drawn with the rest.
    pick, off = streams.uniform(rng, draws.shape[1], 1)[:, 0], streams.normal(rng, draws.shape[1], 1)[:, 0]
    which = np.minimum(np.searchsorted(np.cumsum(chances), pick), sizes.size - 1)
    moved = sizes[which] * np.sqrt((each[which] ** 2).sum(axis=1)) * off
    rows = (each[which] * draws.T).sum(axis=1) + moved
    apart = known - np.diag(np.diag(known))
    shared = float(weights @ apart @ weights) / max(1.0 - float(weights @ weights), _ROUNDING)
    return Combination(
        rows=np.r_[weights @ values, rows],
        weights=weights,
        agreement=agreement(values, known),
        scatter=np.r_[chances @ sizes, sizes[which]],
        shared=math.sqrt(max(shared, 0.0)),
    )


def covariance(draws: FloatArray) -> FloatArray:
    """Return the covariance of results from their draws, (n, d), as (n, n); fewer than two draws show none."""
    count, drawn = draws.shape
    spread = np.atleast_2d(np.cov(draws)) if drawn > 1 else np.zeros((count, count))
    return spread + _ROUNDING**2 * np.eye(count)


def least_variance_weights(known: FloatArray) -> FloatArray:
    """Return the weights, none negative and together 1, with which a mean has the least variance, (n,).

    Without the bound they are those of generalised least squares. A result whose weight would be negative, since it
    carries a shared error more strongly than the others do, has none.

    Args:
        known: covariance of the results, (n, n).
    """
    used = np.arange(len(known))
    while True:
        free = np.linalg.solve(known[np.ix_(used, used)], np.ones(used.size))
        free /= free.sum()
        if free.min() >= 0.0:
            weights = np.zeros(len(known))
            weights[used] = free
            return weights
        used = np.delete(used, int(free.argmin()))


def agreement(values: FloatArray, known: FloatArray) -> Agreement:
    """Return the test of the agreement of several results of one thing.

    Args:
        values: the results, (n,) [stops].
        known: their covariance, (n, n).
    """
    chi_square, freedom = _distance(values, known), values.size - 1
    chance = _chance(chi_square, freedom)
    apart, errors, rest = [], [], []
    for one in range(values.size):
        others = np.arange(values.size) != one
        contrast = np.zeros(values.size)
        contrast[others] = -least_variance_weights(known[np.ix_(others, others)])
        contrast[one] = 1.0
        apart.append(float(contrast @ values))
        errors.append(math.sqrt(float(contrast @ known @ contrast)))
        rest.append(_chance(_distance(values[others], known[np.ix_(others, others)]), freedom - 1))
    odd = None
    alone = [one for one in range(values.size) if rest[one] >= DOUBTED]
    if chance < DOUBTED and freedom > 1 and alone:
        odd = max(alone, key=lambda one: abs(apart[one]) / errors[one])
    return Agreement(chi_square, freedom, chance, tuple(apart), tuple(errors), odd)


def _distance(values: FloatArray, known: FloatArray) -> float:
    """Return the sum of squared distances of results from their combination by generalised least squares."""
    inverse = np.linalg.inv(known)
    weights = inverse.sum(axis=0) / inverse.sum()
    off = values - weights @ values
    return float(off @ inverse @ off)


def _chance(chi_square: float, freedom: int) -> float:
    """Return the chance that a chi-square of so many degrees of freedom is greater; 1 where there are none."""
    return float(gammaincc(0.5 * freedom, 0.5 * chi_square)) if freedom else 1.0


def _scatters(values: FloatArray, known: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return sizes of scatter from result to result, (s,) [stops], and how likely each is by the results, (s,)."""
    places = (np.arange(_SCATTERS) + 0.5) / _SCATTERS
    sizes = np.r_[0.0, USUAL_SCATTER * np.tan(0.5 * np.pi * places)]
    before = np.r_[NO_SCATTER, np.full(_SCATTERS, (1.0 - NO_SCATTER) / _SCATTERS)]
    log_likelihood = np.array([_log_likelihood(values, known + size**2 * np.eye(values.size)) for size in sizes])
    likely = before * np.exp(log_likelihood - log_likelihood.max())
    return sizes, likely / likely.sum()


def _log_likelihood(values: FloatArray, known: FloatArray) -> float:
    """Return the log likelihood of a covariance, the thing itself being unknown, but for a constant."""
    inverse = np.linalg.inv(known)
    return -0.5 * (float(np.linalg.slogdet(known)[1]) + math.log(inverse.sum()) + _distance(values, known))
