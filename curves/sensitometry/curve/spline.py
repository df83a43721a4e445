"""A penalised spline with monotone coefficients: the numerical engine under every characteristic curve.

The curve is f(u) = sum c_k B_k(u), cubic B-splines on equal intervals of the normalised log exposure u in [0, 1].
Third differences of c are penalised; f rises wherever c does not fall, so a monotone curve is a least-squares
problem whose increments of c are not negative.

For one set of weights, `Smoother` turns fit, effective degrees of freedom and the restricted likelihood of *every*
smoothing parameter into a few vector operations, by diagonalising the design and the penalty together (Demmler and
Reinsch). Seen as a Gaussian prior on roughness (Wahba 1983, from memory), the same decomposition gives exact draws of
the coefficients: `posterior` makes them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import scipy

from curves.sensitometry.core.units import FloatArray

DEGREE = 3
"""Degree of the spline: cubic."""

PENALTY_ORDER = 3
"""Order of the differences that are penalised: what is not penalised at all is a parabola."""

SMOOTHING = 10.0 ** np.linspace(-9.0, 2.0, 45)
"""Smoothing parameters tried, from nearly interpolating to a parabola [unitless]."""

_TRACE = 1e-6
"""Share of the penalty that stands in for readings where intervals hold none [unitless]."""

_PATIENCE = 1000
"""Steps that the non-negative solver may take; it needs about one for each increment that is held."""


@dataclass(frozen=True)
class NoisePrior:
    """Knowledge of the scatter of a step before the curve is fitted.

    Attributes:
        deviation: standard deviation [density].
        freedom: how many observations that knowledge is worth [degrees of freedom].
    """

    deviation: float
    freedom: float


@dataclass(frozen=True, eq=False)
class Smoother:
    """All penalised least-squares splines through one weighted ladder of points, indexed by smoothing parameter.

    Attributes:
        design: basis at the points, rows weighted, (n, K).
        difference: third differences of the coefficients, scaled, (K - 3, K).
        to_coefficients: maps the diagonal coordinates to B-spline coefficients, (K, K).
        design_diagonal: `design` in those coordinates, (n, K).
        penalty: eigenvalues of the penalty there, (K,).
        scale: size of the design's Gram matrix against that of the penalty's [unitless].
    """

    design: FloatArray
    difference: FloatArray
    to_coefficients: FloatArray
    design_diagonal: FloatArray
    penalty: FloatArray
    scale: float

    @classmethod
    def build(cls, u: FloatArray, weight: FloatArray, segments: int) -> Smoother:
        """Diagonalise design and penalty for points ``u`` in [0, 1] with ``weight`` (mean 1), both (n,)."""
        return _smoother(u.tobytes(), weight.tobytes(), segments)

    def project(self, y: FloatArray) -> FloatArray:
        """Return the weighted points ``y`` (n,) in diagonal coordinates, (K,)."""
        return np.asarray(self.design_diagonal.T @ y)

    @cached_property
    def vectors(self) -> FloatArray:
        """The orthonormal axes of the diagonal coordinates, (K, K), which draws alone need."""
        gram, roughness = self.design.T @ self.design, self.difference.T @ self.difference
        return np.asarray(np.linalg.cholesky(gram + _TRACE * self.scale * roughness).T @ self.to_coefficients)

    @cached_property
    def shrinkage(self) -> FloatArray:
        """The share of each coordinate that every smoothing parameter keeps, (smoothing, K) [unitless]."""
        return np.asarray(1.0 / (1.0 + SMOOTHING[:, None] * self.penalty))

    def penalised_residuals(self, y: FloatArray) -> FloatArray:
        """Return the penalised residual sum of squares for each smoothing parameter, (smoothing,)."""
        z, keep = self.project(y), self.shrinkage
        fitted = (keep * z) @ self.design_diagonal.T
        residual = ((y - fitted) ** 2).sum(axis=1)
        return np.asarray(residual + SMOOTHING * ((keep * z) ** 2 * self.penalty).sum(axis=1))

    def penalised_sum(self, y: FloatArray, index: int, coefficients: FloatArray) -> float:
        """Return the penalised residual sum of squares of a spline with ``coefficients`` (K,)."""
        residual = y - self.design @ coefficients
        return float(residual @ residual + SMOOTHING[index] * ((self.difference @ coefficients) ** 2).sum())

    def log_likelihood(self, squares: FloatArray, prior: NoisePrior) -> FloatArray:
        """Return the restricted log likelihood of each smoothing parameter, noise integrated out, (smoothing,).

        Args:
            squares: the `penalised_residuals` of the points, (smoothing,).
            prior: what is known of the noise.
        """
        freedom = max(len(self.design) - PENALTY_ORDER, 1) + prior.freedom
        explained = squares + prior.freedom * prior.deviation**2
        return np.asarray(-0.5 * (freedom * np.log(explained) + self._occam))

    @cached_property
    def _occam(self) -> FloatArray:
        """The price of each smoothing parameter: -2 log of the normalisation of its likelihood, (smoothing,) [nats]."""
        rank = len(self.penalty) - PENALTY_ORDER
        return np.asarray(np.log1p(SMOOTHING[:, None] * self.penalty).sum(axis=1) - rank * np.log(SMOOTHING))

    def leverage(self, index: int) -> FloatArray:
        """Return the leverage of each point at smoothing parameter ``index``, (n,) [unitless]."""
        return np.asarray((self.design_diagonal**2 * self.shrinkage[index]).sum(axis=1))

    def centre(self, y: FloatArray, index: int) -> FloatArray:
        """Return the coefficients (K,) that fit best at smoothing parameter ``index``, rising or not."""
        return np.asarray(self.to_coefficients @ (self.shrinkage[index] * self.project(y)))

    def monotone(self, y: FloatArray, index: int) -> FloatArray:
        """Return the coefficients (K,) of the rising spline that fits best at smoothing parameter ``index``.

        It is the best spline of all, pushed up at each increment that would be negative by as much as holds the
        increment at zero. Those pushes are a non-negative least-squares problem of their own, the dual (Lawson and
        Hanson 1974, from memory), which ends after as many turns as there are such increments: few, as a rule.
        """
        # In these coordinates the distance from the best spline, `centre`, is what a push costs.
        keep = np.sqrt(self.shrinkage[index])
        axes, best = self.to_coefficients * keep, keep * self.project(y)
        increments = axes[1:] - axes[:-1]
        pushes, _ = scipy.optimize.nnls(increments.T, -best, maxiter=_PATIENCE)
        # An increment that is held at zero must not fall by a rounding error.
        return np.asarray(np.maximum.accumulate(axes @ (best + pushes @ increments)))


@lru_cache(maxsize=64)
def _smoother(u_bytes: bytes, weight_bytes: bytes, segments: int) -> Smoother:
    """Return `Smoother.build`, which the channels of a strip share, and the strips of one wedge."""
    u, weight = np.frombuffer(u_bytes), np.frombuffer(weight_bytes)
    design = np.sqrt(weight)[:, None] * basis(u, segments)
    difference, roughness, size_of_roughness = _difference(segments)
    gram = design.T @ design
    # Diagonalised against their sum, which is well conditioned: against the Gram matrix alone the free coordinates,
    # whose penalty is zero, would come out with rounding errors of the largest penalty.
    scale = float(gram.trace()) / size_of_roughness
    penalised = scale * roughness
    inverse = np.linalg.inv(np.linalg.cholesky(gram + penalised))
    rough, turned = np.linalg.eigh(inverse @ penalised @ inverse.T)
    rough[:PENALTY_ORDER] = 0.0
    np.minimum(np.maximum(rough, 0.0), 1.0, out=rough)
    size = 1.0 - rough + _TRACE * rough
    to_coefficients = inverse.T @ turned / np.sqrt(size)
    return Smoother(design, difference, to_coefficients, design @ to_coefficients, rough / (scale * size), scale)


def basis(u: FloatArray, segments: int, derivative: int = 0) -> FloatArray:
    """Return the cubic B-splines on ``segments`` equal intervals of [0, 1] at ``u`` (n,) in it, as (n, segments + 3).

    ``derivative`` 1 gives their slope per unit of u.
    """
    return _basis(u.tobytes(), segments, derivative)


@lru_cache(maxsize=64)
def _basis(u_bytes: bytes, segments: int, derivative: int) -> FloatArray:
    """Return `basis`, which the channels of a strip and the strips of a wedge share."""
    u = np.frombuffer(u_bytes)
    knots = np.arange(-DEGREE, segments + DEGREE + 1) / segments
    if derivative == 0:
        found = _splines(u, knots, DEGREE)
    else:
        lower, none = _splines(u, knots[1:-1], DEGREE - 1), np.zeros((u.size, 1))
        found = (np.hstack([-lower, none]) + np.hstack([none, lower])) * segments
    found.flags.writeable = False
    return found


def _splines(u: FloatArray, knots: FloatArray, degree: int) -> FloatArray:
    """Return the B-splines on ``knots`` at ``u`` (n,) by the recurrence of de Boor and Cox, (n, knots - degree - 1)."""
    count = knots.size - degree - 1
    interval = np.clip(np.searchsorted(knots, u, side="right") - 1, degree, count - 1)
    # Of each degree only those are not zero whose support holds the interval: one more than of the degree before.
    own = np.ones((1, u.size))
    for size in range(1, degree + 1):
        above = knots[interval + np.arange(1, size + 1)[:, None]]
        below = knots[interval + np.arange(1 - size, 1)[:, None]]
        share = own / (above - below)
        own = np.zeros((size + 1, u.size))
        own[:-1] = share * (above - u)
        own[1:] += share * (u - below)
    found = np.zeros((u.size, count))
    found[np.arange(u.size), interval + np.arange(-degree, 1)[:, None]] = own
    return found


@lru_cache(maxsize=64)
def _difference(segments: int) -> tuple[FloatArray, FloatArray, float]:
    """Return the third differences of the coefficients, (K - 3, K), whose square is a roughness integral.

    Behind them come the form of that integral, (K, K), and its trace.
    """
    difference = np.diff(np.eye(segments + DEGREE), PENALTY_ORDER, axis=0) * segments ** (PENALTY_ORDER - 0.5)
    roughness = difference.T @ difference
    return difference, roughness, float(roughness.trace())


def isotonic(values: FloatArray) -> FloatArray:
    """Return the closest rising sequence to each row of ``values`` (d, K), in the least-squares sense.

    The max-min formula of isotonic regression (Barlow et al. 1972, from memory), for all rows at once: element i is
    the greatest over s <= i of the least over t >= i of mean(values[s..t]).
    """
    falling = (np.diff(values, axis=1) < 0).any(axis=1)
    if not falling.any():
        return values
    # Columns are turned into rows, so that each step below runs along all sequences at once.
    total = np.cumsum(values[falling].T, axis=0)
    count = len(total)
    length = np.arange(1.0, count + 1)[:, None]
    found = np.minimum.accumulate((total / length)[::-1])[::-1]
    for start in range(1, count):
        mean = (total[start:] - total[start - 1]) / length[: count - start]
        np.maximum(found[start:], np.minimum.accumulate(mean[::-1])[::-1], out=found[start:])
    result = values.copy()
    result[falling] = found.T
    return result
