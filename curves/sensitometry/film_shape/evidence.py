"""The evidence for tables of readings: how likely films' curves, scatter and errors of exposure make each of them.

The curve of a channel is integrated out about the likeliest one (Laplace), the errors of exposure, which all channels
of a step share, exactly, and the scatter, one for all channels, over a few values about what is expected of it. How
far films depart from a curve of few parameters is left open among three sizes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.spline import NoisePrior
from curves.sensitometry.film_shape.film_curve import DEPARTURES, SPREAD, USUAL, fitted, likeness

IntArray = NDArray[np.intp]

_ROUNDS = 3
"""How often the weights of a fit are renewed."""

_SCATTERS = np.array([0.5, 0.9, 1.6, 2.8])
"""Scatters tried, as multiples of the expected one: the greatest for strips of few steps, whose curve may follow their
scatter, which then looks small [unitless]."""

_WILD = 1.0
"""Standard deviation of a reading that has nothing to do with the curve: own choice [density]."""


@dataclass(frozen=True, eq=False)
class Tables:
    """Tables of readings of one strip, each in an order of its own.

    Attributes:
        log_h: from the middle of the strip, (t, n) [log10].
        readings: rising with log H, the least about 0.3, (t, c, n) [density].
        wild: which of them have nothing to do with the curve, (t, c, n).
        patch: number of the patch that each row of the table was read of: rows of one patch share its exposure, (t, n).
        exposure: standard uncertainty of the log H of a step, which all channels share [log10].
        noise: what is known of the scatter of a reading.
        expected: the scatter of a reading that is expected [density].
    """

    log_h: FloatArray
    readings: FloatArray
    wild: NDArray[np.bool_]
    patch: IntArray
    exposure: float
    noise: NoisePrior
    expected: float

    def evidence(self, steps: int) -> FloatArray:
        """Return the log of the likelihood of each table, up to a constant, (t,) [nats].

        Args:
            steps: how many are taken to the likeliest curves at most, each time their weights are renewed.
        """
        log_h, readings, apart, channels = self._rows()
        like = likeness(log_h)
        variance = apart + self.expected**2
        curves = fitted(log_h, readings, variance, self.exposure, DEPARTURES[1], like, _ROUNDS, steps)
        density, slope, derivatives = curves.linear()
        # On the tangent, a reading is the curve at the usual parameters and all that departs from it.
        off = readings - density + (derivatives @ (curves.parameters - USUAL)[:, :, None])[:, :, 0]
        films = (derivatives * SPREAD**2) @ np.swapaxes(derivatives, 1, 2)
        films = np.stack([films + curves.departures(slope, size, like) for size in DEPARTURES])
        scatters = self.expected * _SCATTERS
        row = np.arange(log_h.shape[1])
        covariance = np.repeat(films[None], scatters.size, axis=0)
        covariance[..., row, row] += apart + (scatters**2)[:, None, None, None]
        logarithm = shared_likelihood(covariance, self.exposure * slope, off, channels, self.patch)
        logarithm += self._chance(scatters)[:, None, None]
        return np.asarray(np.logaddexp.reduce(logarithm.reshape(-1, len(channels)), axis=0))

    def _rows(self) -> tuple[FloatArray, FloatArray, FloatArray, IntArray]:
        """Return the log H, the readings and the wild ones' variance of each row of the tables that differs from the
        others, (r, n) each, and which of them the channels of each table are, (t, c)."""
        tables, channels, count = self.readings.shape
        log_h = np.repeat(self.log_h[:, None], channels, axis=1)
        every = np.concatenate([log_h, self.readings, np.where(self.wild, _WILD**2, 0.0)], axis=2)
        every = every.reshape(-1, 3 * count)
        number: dict[bytes, int] = {}
        at = np.array([number.setdefault(row.tobytes(), len(number)) for row in every])
        rows = every[np.unique(at, return_index=True)[1]]
        return rows[:, :count], rows[:, count : 2 * count], rows[:, 2 * count :], at.reshape(tables, channels)

    def _chance(self, scatters: FloatArray) -> FloatArray:
        """Return the log of the chance of scatters before anything is read, (s,) [nats]."""
        share = self.noise.freedom * (self.noise.deviation / scatters) ** 2
        return np.asarray(0.5 * (self.noise.freedom * np.log(share) - share))


def shared_likelihood(
    covariance: FloatArray, moved: FloatArray, off: FloatArray, channels: IntArray, patch: IntArray
) -> FloatArray:
    """Return the log likelihood of tables whose channels share one error at each patch, (..., t) [nats].

    Args:
        covariance: of the readings of each row, without that error, (..., r, n, n) [density squared].
        moved: how far one standard deviation of the error moves each reading, (r, n) [density].
        off: readings less what is expected of them, (r, n) [density].
        channels: the rows that each table has, (t, c).
        patch: number of the patch of each reading, (t, n).
    """
    # 1. Each row alone.
    inverse = np.linalg.inv(covariance)
    pull = (inverse @ off[..., None])[..., 0]
    alone = (pull * off).sum(axis=-1) + np.linalg.slogdet(covariance)[1]
    # 2. The errors of n patches, seen through all channels of a table.
    row = np.arange(off.shape[-1])
    of_patch = (patch[:, None, :] == row[:, None]).astype(np.float64)
    seen = (inverse * (moved[:, :, None] * moved[:, None, :]))[..., channels, :, :].sum(axis=-3)
    seen = of_patch @ seen @ np.swapaxes(of_patch, 1, 2)
    seen[..., row, row] += 1.0
    common = (of_patch @ (pull * moved)[..., channels, :].sum(axis=-2)[..., None])[..., 0]
    shared = (np.linalg.solve(seen, common[..., None])[..., 0] * common).sum(axis=-1) - np.linalg.slogdet(seen)[1]
    return np.asarray(0.5 * (shared - alone[..., channels].sum(axis=-1)))
