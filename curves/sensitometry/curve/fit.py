"""The characteristic curve of one channel: a monotone smooth function of log exposure, with its uncertainty."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr

from curves.errors import StripError
from curves.sensitometry.core import streams
from curves.sensitometry.core.choices import DRAWS
from curves.sensitometry.core.quantity import ENDS
from curves.sensitometry.core.units import KINDS, FloatArray, Kind, sign_of
from curves.sensitometry.core.values import Bounds, Numbers, number, whole, word
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY, PRIOR_FREEDOM, MeanSteps
from curves.sensitometry.curve.posterior import PARTS, SHARES, Model, Posterior, Scatter
from curves.sensitometry.curve.screening import find_misfits, flags
from curves.sensitometry.curve.spline import DEGREE, NoisePrior, Smoother, basis

GRID = 241
"""Places along a strip at which a curve is known, twelve to a step of an even wedge of 21: our own choice."""

_PLACES = np.linspace(0.0, 1.0, GRID)
_CONTRADICTION = 0.30
"""Mean density change against the declared kind, from one half of the strip to the other, that refutes it."""

_FALSE_ALARM = 1e-3
"""Chance that a level strip is said to move against its kind [unitless]."""

_RUN, _FEWEST_IN_A_RUN = 0.4, 8
"""Mean square of the difference of neighbours, against twice the mean square, below which residuals run together, and
the number of steps that can show it. Simulated strips that follow their curve stay above 0.55: our own choice."""

_LARGEST_BASIS = 30
"""Most intervals of the spline: more of them change the curve of no film, and take time: our own choice."""


@dataclass(frozen=True, eq=False, repr=False)
class Curve:
    """A fitted characteristic curve.

    Attributes:
        kind: "negative" (rises with exposure) or "reversal" (falls).
        log_h, density: the steps it was fitted to, ascending log H, (n,); repeats averaged [log10], [density].
        repeats: readings behind each step, (n,) [unitless].
        fitted, residual: the curve at the steps, and reading minus curve, (n,) [density].
        flags: for each step why it was set aside, or None.
        sigma: standard deviation of a step about the curve, as the steps and the repeatability tell it [density].
        misfit: why the steps do not follow the curve, a clause; None if they do.
        freedom: effective number of parameters of the curve [unitless].
        grid: log H from the least to the most exposed step, ascending, (g,) [log10].
        grid_density, grid_gradient: the curve there, (g,) [density], [density per log10 H].
        draws: curves that the readings allow, on the grid, (d, g) [density]; empty if none were asked for.
        gradient_draws: their gradients, (d, g) [density per log10 H].
        posterior: what the readings say of the curve, to draw from again.
        scatter: of one reading, in the repeatability given, or assumed.
        level: what was taken from the signed densities before the fit [density].
        kept: which of the steps were fitted, (n,).
    """

    kind: Kind
    log_h: FloatArray
    density: FloatArray
    repeats: FloatArray
    fitted: FloatArray
    residual: FloatArray
    flags: tuple[str | None, ...]
    sigma: float
    misfit: str | None
    freedom: float
    grid: FloatArray
    grid_density: FloatArray
    grid_gradient: FloatArray
    draws: FloatArray
    gradient_draws: FloatArray
    posterior: Posterior
    scatter: Scatter
    level: float
    kept: np.ndarray[tuple[int], np.dtype[np.bool_]]

    def __repr__(self) -> str:
        parts = [
            self.kind,
            f"{self.log_h.size} steps",
            f"log H {self.grid[0]:.2f} to {self.grid[-1]:.2f}",
            f"density {self.grid_density[0]:.2f} to {self.grid_density[-1]:.2f}",
            f"sigma {self.sigma:.3f}",
        ]
        if not self.kept.all():
            parts.append(f"{np.count_nonzero(~self.kept)} set aside")
        if self.misfit is not None:
            parts.append("does not follow its steps")
        return f"Curve({', '.join(parts)})"

    def draw(
        self,
        count: int,
        rng: np.random.Generator,
        steps: FloatArray | None = None,
        active: Collection[str] = PARTS,
        moved: FloatArray | None = None,
        smoothing: np.random.Generator | None = None,
    ) -> tuple[FloatArray, FloatArray]:
        """Draw curves that the readings leave possible, on the grid.

        Args:
            count: number of draws.
            rng: random numbers of this strip and channel alone.
            steps: standard normal exposure error of each step, (count, n); drawn here if None.
            active: which sources to draw, of `posterior.PARTS`.
            moved: how far the true log H of each step lies above the stated one, (count, n) [log10]; None for not.
            smoothing: random numbers of all that is smoothing, which strips of one film share; ``rng`` if None.

        Returns:
            Densities (count, g) [density] and gradients (count, g) [density per log10 H].
        """
        kept = None if steps is None else steps[:, self.kept]
        slope_there = np.abs(np.interp(self.log_h[self.kept], self.grid, self.grid_gradient))
        pushed = None if moved is None else -slope_there * moved[:, self.kept]
        coefficients = self.posterior.draw(count, rng, kept, active, pushed, smoothing)
        at_grid, slope = _grid_basis(self.posterior.models[0].smoother.design.shape[1] - DEGREE)
        sign = sign_of(self.kind)
        return sign * (coefficients @ at_grid.T + self.level), sign * (coefficients @ slope.T) / np.ptp(self.grid)

    @property
    def low(self) -> FloatArray:
        """Lower end of the pointwise 95 % interval of the curve on the grid, (g,) [density]; NaN without draws."""
        return np.asarray(self._band[0])

    @property
    def high(self) -> FloatArray:
        """Upper end of the pointwise 95 % interval of the curve on the grid, (g,) [density]; NaN without draws."""
        return np.asarray(self._band[1])

    @cached_property
    def _band(self) -> FloatArray:
        """The ends of the pointwise 95 % interval, (2, g) [density]; found when first read, which an index is not."""
        count = len(self.draws)
        if not count:
            return np.full((2, self.grid.size), np.nan)
        ordered, places = np.sort(self.draws, axis=0), np.array(ENDS) * (count - 1)
        before = places.astype(np.intp)
        rise = ordered[np.minimum(before + 1, count - 1)] - ordered[before]
        return np.asarray(ordered[before] + (places - before)[:, None] * rise)

    @property
    def end_error(self) -> tuple[float, float]:
        """Standard uncertainty of the curve at its first and its last log H, the smoothing's own included [density]."""
        at_grid, _ = _grid_basis(self.posterior.models[0].smoother.design.shape[1] - DEGREE)
        first, last = self.posterior.error(at_grid[[0, -1]])
        return float(first), float(last)

    def density_at(self, log_h: ArrayLike) -> FloatArray:
        """Return the density at ``log_h`` [log10], any shape; NaN off the strip: nothing is extrapolated."""
        x = np.asarray(log_h, dtype=np.float64)
        return np.asarray(np.interp(x, self.grid, self.grid_density, left=np.nan, right=np.nan))


def fit_curve(
    log_h: Numbers,
    density: Numbers,
    *,
    kind: Kind,
    repeatability: float | None = None,
    step_uncertainty: ArrayLike = 0.0,
    step_assumed: bool = False,
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
        step_uncertainty: standard uncertainty of log H that differs from step to step, for all or for each reading
            [log10]: the wedge's, or a shutter's.
        step_assumed: True if that uncertainty is assumed: the readings then decide how much of it there is.
        draws: how many curves to draw for intervals; 0 for none, and then no intervals.
        seed: seed of the draws.

    Returns:
        The curve, from the lowest to the highest log H read.

    Raises:
        StripError: an unknown kind or one that the readings contradict, too few steps, shapes that differ, or an
            argument out of range.
    """
    word(kind, KINDS, "kind")
    if repeatability is not None:
        number(repeatability, "repeatability", Bounds(above=0.0))
    draws, seed = whole(draws, "draws", least=0), whole(seed, "seed", least=0)
    ladder = MeanSteps.of(log_h, density)
    _refuse_contradiction(ladder, kind)
    sign = sign_of(kind)
    # 1. Normalise: u in [0, 1], density rising.
    start, span = ladder.log_h[0], np.ptp(ladder.log_h)
    # Rounding takes out the last bits of log H, so that the same strip at another exposure gives the same curve.
    u, rising = np.round((ladder.log_h - start) / span, 9), sign * ladder.density
    level = float(rising.mean())
    weight = ladder.repeats / ladder.repeats.mean()
    segments = min(max(u.size - 1, 8), _LARGEST_BASIS)
    one = ASSUMED_REPEATABILITY if repeatability is None else repeatability
    choosing = NoisePrior(one, PRIOR_FREEDOM["assumed"])
    # 2. What exposure errors do to each step grows with the slope there, which a first fit tells.
    exposed = _at_steps(step_uncertainty, ladder) / span
    exposed = exposed * _slope(u, rising - level, weight, segments, choosing) if exposed.any() else exposed
    # 3. Set aside the steps that do not belong.
    misfits = find_misfits(u, rising - level, weight, segments, choosing, exposed)
    kept = np.ones(u.size, dtype=bool)
    kept[[m.index for m in misfits]] = False
    # 4. Choose the smoothness, and how much of the exposure errors shows, and fit a rising spline.
    known = ladder.noise(repeatability)
    shares, x, y = SHARES[step_assumed] if exposed.any() else {0.0: 1.0}, u[kept], rising[kept] - level

    def weighed(one: float, known: NoisePrior) -> Posterior:
        models = []
        for share, chance_of_it in shares.items():
            read, step = known.deviation**2 / ladder.repeats[kept], (share * exposed[kept]) ** 2
            plain = NoisePrior(float(np.sqrt(1.0 / (1.0 / (one**2 + step)).mean())), choosing.freedom)
            of_read, chance = read / (read + step), float(np.log(chance_of_it))
            models.append(Model.build(x, y, read + step, of_read, segments, plain, known.freedom, chance))
        return Posterior(tuple(models))

    posterior = weighed(one, known)
    # 5. Readings that surely scatter more than is known of them weigh less, where exposure errors are small.
    scatter = posterior.scatter()
    if (times := scatter.surely) > 1.0 and exposed.any():
        known = replace(known, deviation=times * known.deviation)
        posterior = weighed(times * one, known)
        scatter = posterior.scatter()
    coefficients = posterior.coefficients()
    model, best = posterior.best
    at_grid, slope = _grid_basis(segments)
    fitted = sign * (basis(u, segments) @ coefficients + level)
    residual = ladder.density - fitted
    none = np.empty((0, GRID))
    curve = Curve(
        kind=kind,
        log_h=ladder.log_h,
        density=ladder.density,
        repeats=ladder.repeats,
        fitted=fitted,
        residual=residual,
        flags=flags(u.size, misfits, sign),
        sigma=posterior.sigma_about(coefficients),
        misfit=_misfit(
            u[kept], residual[kept], rising[kept], np.sqrt(one**2 / ladder.repeats + exposed**2)[kept], kind
        ),
        freedom=float(model.smoother.leverage(best).sum()),
        grid=start + span * _PLACES,
        grid_density=sign * (at_grid @ coefficients + level),
        grid_gradient=sign * (slope @ coefficients) / span,
        draws=none,
        gradient_draws=none,
        posterior=posterior,
        scatter=scatter.scaled(known.deviation / one),
        level=level,
        kept=kept,
    )
    # 6. Draw the curves that the readings allow.
    if draws == 0:
        return curve
    drawn, gradient = curve.draw(draws, streams.stream(seed, "curve"))
    return replace(curve, draws=drawn, gradient_draws=gradient)


def _refuse_contradiction(ladder: MeanSteps, kind: Kind) -> None:
    """Raise StripError if density plainly moves against the declared kind."""
    half = (ladder.density.size + 1) // 2
    change = float(ladder.density[half:].mean() - ladder.density[:half].mean())
    found: Kind = "negative" if change > 0 else "reversal"
    if abs(change) > _CONTRADICTION and found != kind:
        raise StripError(
            f"the kind is {kind}, but density {'rises' if change > 0 else 'falls'} with exposure",
            needed=f'kind "{found}", or readings in the order of the wedge, step 1 at its clear end',
            hint="check the kind, and whether the strip was read from its other end",
        )


def _misfit(u: FloatArray, residual: FloatArray, rising: FloatArray, expected: FloatArray, kind: Kind) -> str | None:
    """Return the reason why steps do not follow their curve, a clause; None if they do.

    Args:
        u: normalised log exposure of the steps, ascending, (n,).
        residual: reading minus curve, (n,) [density].
        rising: densities, signed to rise, (n,) [density].
        expected: standard deviation that is expected of each step, (n,) [density].
        kind: the declared kind.
    """
    x = u - u.mean()
    slope = float(x @ rising / (x @ x))
    if slope < 0:
        off_line = rising - rising.mean() - slope * x
        error = np.sqrt(float(off_line @ off_line) / (u.size - 2) / (x @ x))
        if stdtr(u.size - 2, slope / max(float(error), 1e-12)) < _FALSE_ALARM:
            way = "falls" if kind == "negative" else "rises"
            return f"density {way} with exposure, by {-slope * np.ptp(u):.2f} along the strip, as no {kind} does"
    # Steps that scatter at random change from one to the next as much as they lie off the curve (von Neumann 1941).
    scatter = residual / expected
    off = float(scatter @ scatter) / u.size
    change = scatter[1:] - scatter[:-1]
    run = u.size >= _FEWEST_IN_A_RUN and 0.5 * float(change @ change) / change.size < _RUN * off
    if run and off > 1.0:
        size = float(np.sqrt((residual**2).mean()))
        return (
            f"the steps lie {size:.2f} off the curve in runs, not at random: readings swapped, or not one {kind} curve"
        )
    return None


def _at_steps(step_uncertainty: ArrayLike, ladder: MeanSteps) -> FloatArray:
    """Return the exposure uncertainty of each step of the ladder, (n,) [log10]."""
    each = np.asarray(step_uncertainty, dtype=np.float64)
    if each.shape not in ((), (ladder.given,)) or not (np.isfinite(each) & (each >= 0.0)).all():
        raise StripError(
            "step_uncertainty is not an uncertainty for each reading",
            needed="one number of at least 0 for all readings, or as many as there are readings",
        )
    return np.asarray(each[ladder.first] if each.ndim else np.full(ladder.first.size, float(each)))


def _slope(u: FloatArray, rising: FloatArray, weight: FloatArray, segments: int, prior: NoisePrior) -> FloatArray:
    """Return the slope of a first fit at each step, (n,) [density per unit of u], not negative."""
    smoother = Smoother.build(u, weight, segments)
    y = np.sqrt(weight) * rising
    coefficients = smoother.monotone(y, int(smoother.log_likelihood(smoother.penalised_residuals(y), prior).argmax()))
    return np.asarray(np.maximum(basis(u, segments, derivative=1) @ coefficients, 0.0))


@lru_cache(maxsize=64)
def _grid_basis(segments: int) -> tuple[FloatArray, FloatArray]:
    """Return the basis and its slope per unit of u on the grid, each (GRID, segments + 3)."""
    return basis(_PLACES, segments), basis(_PLACES, segments, derivative=1)
