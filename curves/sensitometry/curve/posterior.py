"""The curves that the readings allow: the estimate, and those that reading, wedge and smoothing leave possible.

A step lies off the curve because its density was misread and because its exposure is not what it is taken to be. The
first is as large everywhere; the second grows with the slope of the curve. A given size of the second is believed; of
one that is only assumed, the strip decides how much shows: models that hold none, half and all of it are weighed by
their likelihood.

Within a model the penalised fit is a Gaussian posterior. Its covariance falls into what the scatter of the steps does
to the fit, and what the penalty hides (the smoothing's own bias; Nychka 1988, from memory); each part is drawn by
itself, so that each can be put on and off.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import gammaincinv

from curves.sensitometry.core import streams
from curves.sensitometry.core.units import FloatArray, IndexArray
from curves.sensitometry.curve.spline import PENALTY_ORDER, NoisePrior, Smoother, isotonic

READINGS, STEPS, FIT, BETWEEN = "readings", "steps", "smoothing", "between"
"""The sources of error that a fit carries: misreading, exposure errors that differ from step to step, the smoothing;
and of a joined strip the error of each exposure against the others."""


PARTS = (READINGS, STEPS, FIT)

SHARES = {False: {1.0: 1.0}, True: {1.0: 0.5, 0.5: 0.25, 0.0: 0.25}}
"""Share of a step error, given (False) or assumed (True), that may show in a strip, and how likely each is beforehand:
our own choice."""


_SURE = 0.1
"""Chance that readings scatter less than `Scatter.surely` says [unitless]: our own choice."""

_TIMES = np.logspace(-2.0, 3.0, 201)
"""Sizes of the scatter that are weighed against each other, in the size known beforehand [unitless]."""

_SIZES = _TIMES**2
"""Their squares [unitless]."""

_KNOWN = np.log(_SIZES) + 1.0 / _SIZES
"""What each observation of knowledge beforehand takes off their likelihood, twice [nats]."""


@dataclass(frozen=True, eq=False)
class Scatter:
    """The scatter of the readings alone, without what exposure errors do to a step.

    Attributes:
        sizes: of the scatter, ascending, in what was known of it beforehand, (s,) [unitless].
        chance: that the scatter is at most so large, (s,) [unitless].
    """

    sizes: FloatArray
    chance: FloatArray

    @classmethod
    def known(cls, times: float) -> Scatter:
        """Return a scatter that is known for certain, in what was known of it beforehand [unitless]."""
        return cls(np.full(2, times), np.array([0.0, 1.0]))

    @property
    def times(self) -> float:
        """Scatter that is as likely passed as not, in what was known of it beforehand [unitless]."""
        return float(self._at(0.5))

    @property
    def surely(self) -> float:
        """Scatter that is passed with a chance of 90 %, in what was known of it beforehand [unitless]."""
        return float(self._at(_SURE))

    def scaled(self, by: float) -> Scatter:
        """Return the scatter in another unit, of which the present one is ``by``."""
        return Scatter(self.sizes * by, self.chance)

    def draw(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Return `times` and as many draws of the scatter, (1 + count,) [unitless]."""
        return np.concatenate([[self.times], self._at(streams.uniform(rng, count, 1)[:, 0])])

    def _at(self, chance: FloatArray | float) -> FloatArray:
        return np.asarray(np.interp(chance, self.chance, self.sizes))


@dataclass(frozen=True, eq=False)
class Model:
    """A weighted ladder of points and all its penalised fits.

    Attributes:
        smoother: the fits.
        y: weighted points, (n,) [density].
        read: share of each point's variance that is misreading, (n,) [unitless]; the rest is its exposure error.
        choosing: what is known of the noise where smoothness is chosen.
        known: the same, with what repeats say, for the level of the noise.
        prior: log probability of the model beforehand.
    """

    smoother: Smoother
    y: FloatArray
    read: FloatArray
    choosing: NoisePrior
    known: NoisePrior
    prior: float

    @classmethod
    def build(
        cls,
        u: FloatArray,
        rising: FloatArray,
        variance: FloatArray,
        read: FloatArray,
        segments: int,
        choosing: NoisePrior,
        freedom: float,
        prior: float,
    ) -> Model:
        """Weigh points by their variance.

        Args:
            u: normalised log exposure in [0, 1], (n,).
            rising: densities, centred and signed to rise, (n,) [density].
            variance: what is known of each point's variance, (n,) [density squared].
            read: share of it that is misreading, (n,).
            segments: intervals of the spline.
            choosing: what is known of the noise where smoothness is chosen.
            freedom: how many observations the knowledge of the variance is worth [degrees of freedom].
            prior: log probability of the model beforehand.
        """
        typical = 1.0 / float((1.0 / variance).mean())
        weight = typical / variance
        known = NoisePrior(float(np.sqrt(typical)), freedom)
        # The density of the points themselves, not of their weighted images; and the prior's own scale.
        jacobian = 0.5 * float(np.log(weight).sum()) + choosing.freedom * float(np.log(choosing.deviation))
        smoother = Smoother.build(u, weight, segments)
        return cls(smoother, np.sqrt(weight) * rising, read, choosing, known, prior + jacobian)

    @cached_property
    def log_likelihood(self) -> FloatArray:
        """Log likelihood of each smoothing parameter, prior of the model included, (smoothing,)."""
        return self.smoother.log_likelihood(self._squares, self.choosing) + self.prior

    @cached_property
    def _squares(self) -> FloatArray:
        """The penalised sum of squares for each smoothing parameter, (smoothing,)."""
        return self.smoother.penalised_residuals(self.y)

    @cached_property
    def noise(self) -> tuple[FloatArray, float]:
        """Sum of squares for each smoothing parameter, (smoothing,), and its degrees of freedom."""
        total = self._squares + self.known.freedom * self.known.deviation**2
        return total, max(self.y.size - PENALTY_ORDER, 1) + self.known.freedom


@dataclass(frozen=True, eq=False)
class Posterior:
    """The models of one ladder, weighed against each other.

    Attributes:
        models: at least one.
    """

    models: tuple[Model, ...]

    @cached_property
    def log_likelihood(self) -> FloatArray:
        """Log likelihood of each model and smoothing parameter, (models, smoothing)."""
        return np.array([model.log_likelihood for model in self.models])

    @cached_property
    def best(self) -> tuple[Model, int]:
        """The likeliest model, and the index of its likeliest smoothing parameter."""
        which, index = np.unravel_index(int(self.log_likelihood.argmax()), self.log_likelihood.shape)
        return self.models[int(which)], int(index)

    def coefficients(self) -> FloatArray:
        """Return the estimate: the coefficients (K,) of the rising spline that fits best."""
        model, index = self.best
        return model.smoother.monotone(model.y, index)

    def sigma(self) -> float:
        """Return the standard deviation of a point of weight 1 about the best spline, rising or not [density]."""
        model, index = self.best
        total, freedom = model.noise
        return float(np.sqrt(total[index] / freedom))

    def sigma_about(self, coefficients: FloatArray) -> float:
        """Return the standard deviation of a point of weight 1 about a spline of ``coefficients`` (K,) [density]."""
        model, index = self.best
        _, freedom = model.noise
        known = model.known.freedom * model.known.deviation**2
        return float(np.sqrt((model.smoother.penalised_sum(model.y, index, coefficients) + known) / freedom))

    def scatter(self) -> Scatter:
        """Return the scatter of the readings: how likely each size makes the points' distance from the best spline.

        The exposure errors of the points are taken to be as large as any model has them, so that no reading is blamed
        for what the exposure may have done; a point counts the less, the nearer the spline must come to it (restricted
        likelihood, approximately). What was known of the readings beforehand counts as observations.
        """
        model = min(self.models, key=lambda m: float(m.read.sum()))
        index = int(model.log_likelihood.argmax())
        free = 1.0 - model.smoother.leverage(index)
        off = (model.y - model.smoother.design @ model.smoother.centre(model.y, index)) / model.known.deviation
        variance = _SIZES[:, None] * model.read + 1.0 - model.read
        likelihood = -0.5 * (np.log(variance) @ free + (1.0 / variance) @ off**2 + model.known.freedom * _KNOWN)
        chance = np.cumsum(np.exp(likelihood - likelihood.max()))
        return Scatter(_TIMES, chance / chance[-1])

    def error(self, at: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the curve where the basis is ``at``, (p, K), as (p,) [density]."""
        model, index = self.best
        smoother = model.smoother
        variance = ((at @ smoother.to_coefficients) ** 2 * smoother.shrinkage[index]).sum(axis=1)
        return np.asarray(self.sigma() * np.sqrt(variance))

    def draw(
        self,
        count: int,
        rng: np.random.Generator,
        steps: FloatArray | None = None,
        active: Collection[str] = PARTS,
        moved: FloatArray | None = None,
        smoothing: np.random.Generator | None = None,
    ) -> FloatArray:
        """Draw curves that the readings leave possible.

        Args:
            count: number of draws.
            rng: random numbers of this strip and channel alone.
            steps: standard normal exposure errors, (count, n), shared by all that was exposed through the same wedge;
                drawn here if None.
            active: which of `PARTS` to draw; the others are held at the estimate.
            moved: density by which each point is moved in each draw, (count, n) [density]; None for none.
            smoothing: random numbers of the model, of its smoothness and noise, and of what the penalty hides, which
                strips of one film share; ``rng`` if None.

        Returns:
            Rising coefficients, (count, K) [density].
        """
        points, basis = self.models[0].y.size, self.models[0].smoother.design.shape[1]
        # All random numbers are drawn whatever is active, so that a part is the same alone and among the others.
        alike = rng if smoothing is None else smoothing
        choice, level = streams.uniform(alike, count, 2).T
        misread = streams.normal(rng, count, points)
        hidden = streams.normal(alike, count, basis)
        exposed = streams.normal(rng, count, points) if steps is None else steps
        which, index = self._choose(choice, fixed=FIT not in active)
        best, at = self.best
        centre = best.smoother.centre(best.y, at)
        found = np.empty((count, basis))
        for number, model in enumerate(self.models):
            rows = np.flatnonzero(which == number)
            if not rows.size:
                continue
            found[rows] = centre + _scattered(
                model, index[rows], level[rows], misread[rows], exposed[rows], hidden[rows], active
            )
            if FIT in active:
                again = model.smoother.shrinkage[index[rows]] * model.smoother.project(model.y)
                found[rows] += again @ model.smoother.to_coefficients.T - centre
            if moved is not None:
                # Splines add to 1 everywhere, so a row of the design adds to the root of its point's weight.
                pushed = (model.smoother.design.sum(axis=1) * moved[rows]) @ model.smoother.design_diagonal
                found[rows] += (model.smoother.shrinkage[index[rows]] * pushed) @ model.smoother.to_coefficients.T
        return isotonic(found)

    def _choose(self, choice: FloatArray, *, fixed: bool) -> tuple[IndexArray, IndexArray]:
        """Return the model and the smoothing parameter of each draw, by likelihood.

        With ``fixed`` the smoothing parameter is the best of its model; the models still take turns by likelihood, so
        that what is not smoothing keeps its size.
        """
        likelihood = self.log_likelihood
        weight = np.cumsum(np.exp(likelihood - likelihood.max()).ravel())
        picked = np.minimum(np.searchsorted(weight / weight[-1], choice), weight.size - 1)
        which, index = np.unravel_index(picked, likelihood.shape)
        return np.asarray(which), np.asarray(likelihood.argmax(axis=1)[which] if fixed else index)


def _scattered(
    model: Model,
    index: IndexArray,
    level: FloatArray,
    misread: FloatArray,
    exposed: FloatArray,
    hidden: FloatArray,
    active: Collection[str],
) -> FloatArray:
    """Return the distance of the coefficients of the draws that fall to one model from its fit, (rows, K)."""
    smoother = model.smoother
    total, freedom = model.noise
    deviation = np.sqrt(total[index] / (2.0 * gammaincinv(freedom / 2.0, level)))[:, None]
    scatter = np.zeros_like(misread)
    if READINGS in active:
        scatter += np.sqrt(model.read) * misread
    if STEPS in active:
        scatter += np.sqrt(1.0 - model.read) * exposed
    keep = smoother.shrinkage[index]
    coordinates = keep * ((deviation * scatter) @ smoother.design_diagonal)
    if FIT in active:
        # Turned into the diagonal coordinates: draws must not depend on which of many equal axes were found.
        coordinates += np.sqrt(keep * (1.0 - keep)) * deviation * (hidden @ smoother.vectors)
    return np.asarray(coordinates @ smoother.to_coefficients.T)
