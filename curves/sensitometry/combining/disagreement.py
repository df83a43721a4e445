"""The reasons why results of one thing may differ by more than their errors: all of them scatter, or one alone is off.

How likely each reason is, the results tell. Every reason is one model: what was observed is normal, with the covariance
of the errors and, beside it, that of the scatter and of the result that is off, and the thing itself is not known.
A reason acts on an exposure, and then the offset between two curves shows it too; or on the result alone, as another
development does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import BoolArray, FloatArray

NO_SCATTER = 2.0 / 3.0
"""Chance beforehand that results do not scatter beyond their stated errors: our own choice [unitless]."""

USUAL_SCATTER = 0.15
"""Middle of the scatter from strip to strip where there is any: half of a half-Cauchy distribution lies below: our own
choice [stops]."""

_SCATTERS = 20
"""Sizes of scatter that are weighed [unitless]."""

OFF = 0.10
"""Chance beforehand that a result is off, by a time written down wrong or the like: our own choice [unitless]."""

_OFF_SIZES = np.array([0.5, 1.0, 2.0, 4.0])
"""Standard deviations of how far it is off, each as likely as the others: our own choice [stops]."""

_LEAST_CHANCE = 1e-5
"""Reasons that are less likely than this are left out [unitless]."""


@dataclass(frozen=True, eq=False)
class Observations:
    """Results of one thing, and the offsets between them that something else shows.

    Attributes:
        values: the results, and then the offsets, (n + m,) [stops].
        known: covariance of their errors, (n + m, n + m).
        links: for each offset 1 at the result that it counts from, -1 at the result that it counts to, (m, n).
    """

    values: FloatArray
    known: FloatArray
    links: FloatArray

    @property
    def count(self) -> int:
        """Number of results."""
        return int(self.links.shape[1])

    @property
    def freedom(self) -> int:
        """Number of observations beyond those that it takes to know the thing itself."""
        return int(self.values.size) - 1

    def of(self, some: BoolArray) -> Observations:
        """Return some of the results with the offsets between these.

        Args:
            some: True for each result that is taken, (n,).
        """
        between = ~self.links[:, ~some].any(axis=1)
        taken = np.r_[some, between]
        return Observations(self.values[taken], self.known[np.ix_(taken, taken)], self.links[between][:, some])

    @property
    def distance(self) -> float:
        """Sum of squared distances from what the results have in common, by generalised least squares [unitless]."""
        return float(_fit(self, np.zeros_like(self.known), np.zeros((self.values.size, 1)), np.zeros(1))[1][0])


@dataclass(frozen=True, eq=False)
class Explanations:
    """Reasons why results differ by more than their errors.

    Attributes:
        chances: how likely each is by the results, together 1, (e,) [unitless].
        beyond: variance of each result beyond its errors, (e, n) [stops squared].
    """

    chances: FloatArray
    beyond: FloatArray


def explanations(observed: Observations) -> Explanations:
    """Return the reasons why results may differ by more than their errors, without those that are not likely at all."""
    count, sizes = observed.count, _scatter_sizes()
    alone = np.vstack([np.eye(count), np.zeros_like(observed.links)])
    ways = [np.vstack([np.eye(count), observed.links]), alone] if len(observed.links) else [alone]
    scatters = [(NO_SCATTER, 0.0, alone)]
    scatters += [((1.0 - NO_SCATTER) / sizes.size / len(ways), size, way) for size in sizes for way in ways]
    # Of so many results none is off, or one: two that are off by themselves are a scatter.
    one_off = OFF * count / (1.0 - OFF + OFF * count)
    moved = np.hstack([alone[:, :1], *(way for way in ways for _ in _OFF_SIZES)])
    off = np.r_[0.0, np.tile(np.repeat(_OFF_SIZES, count), len(ways))]
    before = np.r_[1.0 - one_off, np.full(off.size - 1, one_off / (off.size - 1))]
    varies = (off[:, None] * moved[:count].T) ** 2
    log_likelihood = np.array([_fit(observed, size**2 * way @ way.T, moved, off)[0] for _, size, way in scatters])
    chances = np.outer([chance for chance, _, _ in scatters], before) * np.exp(log_likelihood - log_likelihood.max())
    beyond = np.array([size**2 + varies for _, size, _ in scatters])
    kept = chances >= _LEAST_CHANCE * chances.sum()
    return Explanations(chances[kept] / chances[kept].sum(), beyond[kept])


def _scatter_sizes() -> FloatArray:
    """Return sizes of the scatter from result to result, each as likely beforehand as the others, (s,) [stops]."""
    places = (np.arange(_SCATTERS) + 0.5) / _SCATTERS
    return np.asarray(USUAL_SCATTER * np.tan(0.5 * np.pi * places))


def _fit(
    observed: Observations, beyond: FloatArray, moved: FloatArray, off: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return log likelihood, but for a constant, and sum of squared distances, (k,) each: for each way of moving them.

    Args:
        observed: the observations.
        beyond: their covariance beyond that of their errors, (n + m, n + m).
        moved: change of each observation by one stop of each way, (n + m, k).
        off: standard deviation of the stops of each way, (k,) [stops].
    """
    inverse = np.linalg.inv(observed.known + beyond)
    log_size = -float(np.linalg.slogdet(inverse)[1])
    common = np.r_[np.ones(observed.count), np.zeros(len(observed.links))]
    values = observed.values
    # A covariance that is greater by one vector has an inverse that is less by one (Sherman and Morrison).
    seen = inverse @ moved
    size = 1.0 + off**2 * (moved * seen).sum(axis=0)
    gain, by_common, by_values = off**2 / size, common @ seen, values @ seen
    certainty = common @ inverse @ common - gain * by_common**2
    cross = common @ inverse @ values - gain * by_common * by_values
    distance = values @ inverse @ values - gain * by_values**2 - cross**2 / certainty
    return -0.5 * (log_size + np.log(size) + np.log(certainty) + distance), distance
