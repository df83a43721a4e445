"""The characteristic curve of one channel: a monotone smooth function of log exposure, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.screening import Misfit, find_misfits
from curves.sensitometry.spline import NoisePrior, Smoother, basis
from curves.sensitometry.units import FEWEST_STEPS, FloatArray, Kind

ASSUMED_REPEATABILITY = 0.01
"""Standard deviation of one reading where none is given: common practice for a good densitometer [density]."""

GRID = 241
DRAWS = 1000
_LARGEST_BASIS = 30
_PRIOR_FREEDOM = {"assumed": 1.0, "given": 3.0, "most": 5.0}


@dataclass(frozen=True, eq=False)
class Curve:
    """A fitted characteristic curve.

    Attributes:
        kind: "negative" (rises with exposure) or "reversal" (falls).
        log_h, density: the steps it was fitted to, ascending log H, (n,); repeats averaged [log10], [density].
        repeats: readings behind each step, (n,) [unitless].
        fitted, residual: the curve at the steps, and reading minus curve, (n,) [density].
        flags: for each step why it was set aside, or None.
        sigma: standard deviation of a step about the curve [density].
        freedom: effective number of parameters of the curve [unitless].
        grid: log H from the first to the last step, ascending, (g,) [log10].
        grid_density, grid_gradient: the curve there, (g,) [density], [density per log10 H].
        low, high: pointwise 95 % interval of the curve on the grid, (g,) [density].
        draws: curves that the readings allow, on the grid, (d, g) [density]; empty if none were asked for.
        gradient_draws: their gradients, (d, g) [density per log10 H].
    """

    kind: Kind
    log_h: FloatArray
    density: FloatArray
    repeats: FloatArray
    fitted: FloatArray
    residual: FloatArray
    flags: tuple[str | None, ...]
    sigma: float
    freedom: float
    grid: FloatArray
    grid_density: FloatArray
    grid_gradient: FloatArray
    low: FloatArray
    high: FloatArray
    draws: FloatArray
    gradient_draws: FloatArray

    def density_at(self, log_h: ArrayLike) -> FloatArray:
        """Return the density at ``log_h`` [log10], any shape; NaN off the strip: nothing is extrapolated."""
        x = np.asarray(log_h, dtype=np.float64)
        return np.asarray(np.interp(x, self.grid, self.grid_density, left=np.nan, right=np.nan))

    def gradient_at(self, log_h: ArrayLike) -> FloatArray:
        """Return the gradient at ``log_h``, any shape [density per log10 H]; NaN off the strip."""
        x = np.asarray(log_h, dtype=np.float64)
        return np.asarray(np.interp(x, self.grid, self.grid_gradient, left=np.nan, right=np.nan))


@dataclass(frozen=True, eq=False)
class Ladder:
    """Steps ready to fit: ascending, distinct log H, finite densities, repeats averaged.

    `Ladder.of` guarantees all of this; nothing after it checks again.
    """

    log_h: FloatArray
    density: FloatArray
    repeats: FloatArray
    spread: float
    spread_freedom: float

    @classmethod
    def of(cls, log_h: ArrayLike, density: ArrayLike) -> Ladder:
        """Average readings at the same log H and sort; readings that are NaN were not taken and are left out.

        Args:
            log_h: one entry per reading, 1-D [log10].
            density: same shape [density].

        Raises:
            StripError: shapes differ, a log H is not finite, or fewer than four different steps were read.
        """
        x, d = np.asarray(log_h, dtype=np.float64), np.asarray(density, dtype=np.float64)
        if x.ndim != 1 or x.shape != d.shape:
            raise StripError(f"log H has shape {x.shape}, density {d.shape}", needed="two 1-D lists of the same length")
        if not np.isfinite(x).all() or np.isinf(d).any():
            raise StripError("a log H or a density is not a finite number", needed="finite numbers (NaN = not read)")
        read = np.isfinite(d)
        x, d = x[read], d[read]
        # Exposures that agree to a millionth of a stop are one step: they differ by rounding only.
        _, first, member = np.unique(np.round(x, 7), return_index=True, return_inverse=True)
        repeats = np.bincount(member, minlength=first.size).astype(np.float64)
        if first.size < FEWEST_STEPS:
            raise StripError(
                f"only {first.size} different steps were read",
                needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
            )
        mean = np.bincount(member, weights=d) / repeats
        scatter = float(((d - mean[member]) ** 2).sum())
        freedom = float(d.size - first.size)
        spread = float(np.sqrt(scatter / freedom)) if freedom else 0.0
        return cls(x[first], mean, repeats, spread, freedom)

    def noise(self, repeatability: float | None) -> NoisePrior:
        """Return what is known of a step's scatter from the instrument and from repeat readings."""
        known = "assumed" if repeatability is None else "given"
        freedom = _PRIOR_FREEDOM[known]
        one = ASSUMED_REPEATABILITY if repeatability is None else repeatability
        total = freedom + self.spread_freedom
        variance = (freedom * one**2 + self.spread_freedom * self.spread**2) / total
        return NoisePrior(float(np.sqrt(variance / self.repeats.mean())), min(total, _PRIOR_FREEDOM["most"]))


def fit_curve(
    log_h: ArrayLike,
    density: ArrayLike,
    *,
    kind: Kind,
    repeatability: float | None = None,
    draws: int = DRAWS,
    seed: int = 0,
) -> Curve:
    """Fit the characteristic curve of one channel.

    The curve is monotone (rising for a negative, falling for a reversal) and as smooth as the readings ask for: a
    cubic spline with non-negative increments whose roughness penalty has the greatest restricted likelihood. Steps
    that do not belong are named in ``flags`` and set aside. Nothing is extrapolated.

    Args:
        log_h: log exposure of each reading, 1-D [log10].
        density: the readings, same shape, NaN where not read [density]; the same log H twice is a repeat.
        kind: "negative" or "reversal".
        repeatability: standard deviation of one reading [density]; 0.01 is assumed if None.
        draws: how many curves to draw for intervals; 0 for none, and then no intervals.
        seed: seed of the draws.

    Returns:
        The curve, from the lowest to the highest log H read.

    Raises:
        StripError: too few steps, or shapes that differ.
    """
    ladder = Ladder.of(log_h, density)
    sign = 1.0 if kind == "negative" else -1.0
    # 1. Normalise: u in [0, 1], density rising.
    start, span = ladder.log_h[0], np.ptp(ladder.log_h)
    # Rounding takes out the last bits of log H, so that the same strip at another exposure gives the same curve.
    u, rising = np.round((ladder.log_h - start) / span, 9), sign * ladder.density
    level = float(rising.mean())
    weight = ladder.repeats / ladder.repeats.mean()
    segments = int(np.clip(u.size - 1, 8, _LARGEST_BASIS))
    choosing = NoisePrior(ASSUMED_REPEATABILITY if repeatability is None else repeatability, _PRIOR_FREEDOM["assumed"])
    # 2. Set aside the steps that do not belong.
    misfits = find_misfits(u, rising - level, weight, segments, choosing)
    kept = np.ones(u.size, dtype=bool)
    kept[[m.index for m in misfits]] = False
    # 3. Choose the smoothness and fit a rising spline.
    smoother = Smoother.build(u[kept], weight[kept], segments)
    y = np.sqrt(weight[kept]) * (rising[kept] - level)
    likelihood = smoother.log_likelihood(y, choosing)
    best = int(likelihood.argmax())
    coefficients = smoother.monotone(y, best)
    at_grid, slope = _grid_basis(segments)
    fitted = sign * (basis(u, segments) @ coefficients + level)
    known = ladder.noise(repeatability)
    total = smoother.penalised_residuals(y)[best] + known.freedom * known.deviation**2
    sigma = float(np.sqrt(total / (max(y.size - 3, 1) + known.freedom)))
    # 4. Draw the curves that the readings allow.
    if draws:
        drawn, _ = smoother.draw(y, known, likelihood, draws, (seed,))
        drawn_density = sign * (drawn @ at_grid.T + level)
        drawn_gradient = sign * (drawn @ slope.T) / span
        low, high = np.quantile(drawn_density, [0.025, 0.975], axis=0)
    else:
        drawn_density = drawn_gradient = np.empty((0, GRID))
        low = high = np.full(GRID, np.nan)
    return Curve(
        kind=kind,
        log_h=ladder.log_h,
        density=ladder.density,
        repeats=ladder.repeats,
        fitted=fitted,
        residual=ladder.density - fitted,
        flags=_flags(u.size, misfits, sign),
        sigma=sigma,
        freedom=float(smoother.leverage(best).sum()),
        grid=start + span * np.linspace(0.0, 1.0, GRID),
        grid_density=sign * (at_grid @ coefficients + level),
        grid_gradient=sign * (slope @ coefficients) / span,
        low=low,
        high=high,
        draws=drawn_density,
        gradient_draws=drawn_gradient,
    )


@lru_cache(maxsize=64)
def _grid_basis(segments: int) -> tuple[FloatArray, FloatArray]:
    """Return the basis and its slope per unit of u on the grid, each (GRID, segments + 3)."""
    u = np.linspace(0.0, 1.0, GRID)
    return basis(u, segments), basis(u, segments, derivative=1)


def _flags(count: int, misfits: tuple[Misfit, ...], sign: float) -> tuple[str | None, ...]:
    """Return for each of ``count`` steps why it was set aside, or None."""
    flags: list[str | None] = [None] * count
    for misfit in misfits:
        side = "above" if sign * misfit.distance > 0 else "below"
        flags[misfit.index] = (
            f"{abs(misfit.distance):.2f} {side} the curve of the other steps,"
            f" {abs(misfit.scatters):.0f} times their scatter: set aside"
        )
    return tuple(flags)
