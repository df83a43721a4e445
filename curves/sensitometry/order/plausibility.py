"""The plausibility of readings in the order they were entered, and in every order that one slip makes of it.

A film's curve is smooth: between neighbouring steps it moves much as it moved before. Readings that are a smooth curve
and noise have a likelihood, with the stiffness of the curve and the size of the noise left open: a Gaussian process
whose third divided differences are independent (Wahba 1983, from memory). Exchanging two rows, moving one, exchanging
two channels along a part: each changes the likelihood, and a change of a few readings changes a quadratic form of them
by a few products, so that all exchanges of a strip are tried at once.

Every gain here is the natural logarithm of how many times more likely the readings become [nats].
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.special import gammaln

from curves.sensitometry.core.units import FloatArray

FEWEST = 6
"""Steps below which three parameters of a curve and a noise leave nothing to judge an order by [unitless]."""

_ORDER = 3
"""Order of the differences that a smooth curve keeps small, as in the fit."""

_SOFTNESS = 10.0 ** np.arange(-4.0, 4.0)
"""Variance of the noise over that of the curve's third differences, each tried [unitless]."""

_WIDEST = 3.0
"""Range in which a reading that has nothing to do with the curve lies: own choice [density]."""

_SMALL_SAMPLE = 2.0
"""How much more a scatter may be than was found, over the degrees of freedom it was found by: own choice [unitless]."""

Steps = np.ndarray[tuple[int], np.dtype[np.intp]]


@dataclass(frozen=True, eq=False)
class Roughness:
    """The part of readings at given positions that is not a smooth curve, for each softness tried.

    Attributes:
        form: quadratic form of the readings that a smooth curve leaves, (softness, n, n) [unitless].
        price: -2 log of the normalisation of the likelihood, but for the size of the noise, (softness,) [nats].
    """

    form: FloatArray
    price: FloatArray

    @classmethod
    def at(cls, position: FloatArray) -> Roughness:
        """Return the roughness at positions, ascending, (n,) [steps]; computed once for each ladder."""
        return _roughness(tuple(np.round(position, 4)))

    @cached_property
    def diagonal(self) -> FloatArray:
        """The diagonals of `form`, (softness, n)."""
        return np.asarray(np.diagonal(self.form, axis1=1, axis2=2))


@lru_cache(maxsize=16)
def _roughness(position: tuple[float, ...]) -> Roughness:
    x = np.array(position)
    difference = np.eye(x.size)
    for k in range(1, _ORDER + 1):
        difference = np.diff(difference, axis=0) / ((x[k:] - x[:-k]) / k)[:, None]
    difference *= np.sqrt((x[_ORDER:] - x[:-_ORDER]) / _ORDER)[:, None]
    size, axes = np.linalg.eigh(difference.T @ difference)
    size = np.clip(size, 0.0, None)
    size[:_ORDER] = 0.0
    grown = _SOFTNESS[:, None] * size
    form = np.asarray((axes * (grown / (1.0 + grown))[:, None, :]) @ axes.T)
    price = np.log1p(grown).sum(axis=1) - (x.size - _ORDER) * np.log(_SOFTNESS)
    # Parabolas are free: how many of them there are depends on the positions, unless all steps are alike.
    parabolas = np.vander(x - x[0], _ORDER)
    free = np.linalg.slogdet(parabolas.T @ parabolas)[1] - np.log(size[_ORDER:]).sum()
    return Roughness(form, price + free)


@dataclass(frozen=True, eq=False)
class Plausibility:
    """Readings of a strip in one order, and the gain of other orders.

    Attributes:
        readings: (c, n), no NaN, ascending log H; channels are independent but for the order of their rows [density].
        position: log H of each, ascending, in units of the usual step, (n,) [steps].
        deviation: scatter of a reading, given or assumed [density].
        freedom: number of readings that this knowledge is worth [degrees of freedom].
    """

    readings: FloatArray
    position: FloatArray
    deviation: float
    freedom: float

    @cached_property
    def roughness(self) -> Roughness:
        """The quadratic form at the positions of the readings."""
        return Roughness.at(self.position)

    @cached_property
    def _pulls(self) -> FloatArray:
        """The form times the readings, (c, softness, n): a reading's residual about the curve [density]."""
        return np.asarray((self.roughness.form[None] @ self.readings[:, None, :, None])[..., 0])

    @cached_property
    def _rough(self) -> FloatArray:
        """The form of the readings as they are, (c, softness) [density squared]."""
        return np.asarray((self._pulls * self.readings[:, None, :]).sum(axis=2))

    @cached_property
    def logarithm(self) -> FloatArray:
        """Log likelihood of each channel as it is, (c,) [nats]."""
        return self._logarithm(self._rough, self.roughness.price)

    @cached_property
    def softness(self) -> Steps:
        """Index of the softness that suits each channel best, (c,)."""
        likelihood = self._freedom * np.log(self._rough + self._known) + self.roughness.price
        return np.asarray(likelihood.argmin(axis=1))

    @property
    def residual(self) -> FloatArray:
        """Readings less the best curve, (c, n) [density]."""
        return np.asarray(self._pulls[np.arange(len(self.readings)), self.softness])

    @property
    def looseness(self) -> FloatArray:
        """Share of a reading's variance that its residual keeps, (c, n) [unitless]."""
        return np.asarray(self.roughness.diagonal[self.softness])

    @cached_property
    def steepness(self) -> FloatArray:
        """The size of the best curve's slope at each step, (c, n) [density per step]."""
        return np.abs(np.gradient(self.readings - self.residual, self.position, axis=1))

    @cached_property
    def flat_scatter(self) -> tuple[float, float]:
        """The squares of the residuals in the flattest half of each channel, with what is known of them beforehand
        [density squared], and their degrees of freedom. Errors of exposure do not show there."""
        residual, slope = self.residual, self.steepness
        flat = np.argsort(slope, axis=1, kind="stable")[:, : (slope.shape[1] + 1) // 2]
        squares = float((np.take_along_axis(residual, flat, 1) ** 2).sum())
        freedom = float(np.take_along_axis(self.looseness, flat, 1).sum())
        return squares + self._known, freedom + self.freedom

    @property
    def scatter(self) -> float:
        """The scatter of a reading [density]."""
        squares, freedom = self.flat_scatter
        return float(np.sqrt(squares / freedom))

    @property
    def cautious_scatter(self) -> float:
        """The scatter of a reading, and more where little is known of it [density]."""
        return self.scatter * (1.0 + _SMALL_SAMPLE / self.flat_scatter[1])

    def row_exchanges(self) -> FloatArray:
        """Return the gain of exchanging two rows in each channel, (c, n, n), symmetric [nats]."""
        y, form, diagonal = self.readings, self.roughness.form, self.roughness.diagonal
        apart = y[:, None, :, None] - y[:, None, None, :]
        stiff = diagonal[:, :, None] + diagonal[:, None, :] - 2.0 * form
        pull = self._pulls[:, :, :, None] - self._pulls[:, :, None, :]
        rough = self._rough[:, :, None, None] + apart * (apart * stiff - 2.0 * pull)
        return self._gain(rough)

    def row_moves(self, *, up: bool) -> FloatArray:
        """Return the gain of moving a row to the other end of a block in each channel, (c, n, n) [nats].

        Element [i, j], i < j: the rows from i to j move by one, and the row that drops off stands at the other end;
        ``up`` takes row i to j, else row j to i. The rest of the array means nothing.
        """
        y, form = self.readings, self.roughness.form
        n = y.shape[1]
        moved = np.arange(n - 1) if up else np.arange(1, n)
        change = np.diff(y, axis=1) if up else -np.diff(y, axis=1)
        # Sums from row 0 on: a block's is the difference of two.
        straight = _summed(change[:, None, :] * self._pulls[:, :, moved], axis=2)
        rows = _summed(change[:, None, :, None] * form[None, :, moved, :], axis=2)
        square = _summed(rows[:, :, :, moved] * change[:, None, None, :], axis=3)
        own = np.diagonal(square, axis1=2, axis2=3)
        rough = self._rough[:, :, None, None] + own[:, :, None, :] + own[:, :, :, None] - 2.0 * square
        rough += 2.0 * (straight[:, :, None, :] - straight[:, :, :, None])
        # The row that drops off, at the end of the block it comes to.
        here = np.diagonal(rows, axis1=2, axis2=3)
        apart = (y[:, :, None] - y[:, None, :])[:, None]
        if up:
            at, stiff = (self._pulls + here)[:, :, None, :] - rows, self.roughness.diagonal[:, None, :]
        else:
            at = (self._pulls - here)[:, :, :, None] + np.swapaxes(rows, 2, 3)
            apart, stiff = -apart, self.roughness.diagonal[:, :, None]
        return self._gain(rough + apart * (2.0 * at + apart * stiff))

    def channel_exchanges(self, pairs: list[tuple[int, int]]) -> FloatArray:
        """Return the gain of exchanging two channels along a part, for each pair of channels, (p, n + 1, n + 1) [nats].

        Element [i, j], i < j: from row i up to, not including, row j. The rest of the array means nothing.
        """
        both = np.array(pairs)
        apart = self.readings[both[:, 1]] - self.readings[both[:, 0]]
        square = _summed(_summed(apart[:, None, :, None] * self.roughness.form * apart[:, None, None, :], 2), 3)
        own = np.diagonal(square, axis1=2, axis2=3)
        square = own[:, :, None, :] + own[:, :, :, None] - 2.0 * square
        gain = np.zeros((len(pairs), *square.shape[2:]))
        for channel, sign in ((both[:, 0], 2.0), (both[:, 1], -2.0)):
            pull = _summed(sign * apart[:, None] * self._pulls[channel], 2)
            pull += self._rough[channel, :, None]
            rough = square + (pull[:, :, None, :] - (pull - self._rough[channel, :, None])[:, :, :, None])
            gain += self._logarithm(rough, self.roughness.price) - self._level(channel)
        return gain

    def wild_readings(self) -> FloatArray:
        """Return the gain of a reading that has nothing to do with the curve, (c, n) [nats]."""
        stiff = self.roughness.diagonal
        rough = self._rough[:, :, None] - self._pulls**2 / stiff
        found = self._logarithm(rough, self.roughness.price[:, None] + np.log(stiff), self._freedom - 1.0)
        return np.asarray(found - np.log(_WIDEST) - self._level(slice(None), 1))

    @property
    def _freedom(self) -> float:
        return float(self.readings.shape[1] - _ORDER) + self.freedom

    @property
    def _known(self) -> float:
        return self.freedom * self.deviation**2

    def _level(self, channels: Steps | slice, axes: int = 2) -> FloatArray:
        return self.logarithm[channels].reshape((-1,) + (1,) * axes)

    def _gain(self, rough: FloatArray) -> FloatArray:
        return np.asarray(self._logarithm(rough, self.roughness.price) - self._level(slice(None)))

    def _logarithm(self, rough: FloatArray, price: FloatArray, freedom: float | None = None) -> FloatArray:
        """Return the log likelihood at the best softness, the size of the noise integrated out.

        Args:
            rough: the quadratic form, (c, softness, ...) [density squared].
            price: (softness, ...), as many axes as ``rough`` has after its first, or one.
            freedom: degrees of freedom, if not those of the readings.
        """
        free = self._freedom if freedom is None else freedom
        scale = np.exp(price / free).reshape(price.shape + (1,) * (rough.ndim - 1 - price.ndim))
        least = ((rough + self._known) * scale).min(axis=1)
        return np.asarray(gammaln(0.5 * free) - 0.5 * free * np.log(np.pi * least))


def _summed(values: FloatArray, axis: int) -> FloatArray:
    """Return running sums along an axis, with the sum of nothing before them."""
    shape = list(values.shape)
    shape[axis] += 1
    sums = np.zeros(shape)
    np.cumsum(values, axis=axis, out=sums[(slice(None),) * axis + (slice(1, None),)])
    return sums
