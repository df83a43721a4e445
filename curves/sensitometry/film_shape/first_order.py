"""Misreadings of a table: what undoing each gains, to first order about the films' curves fitted to the table.

Exchanged readings change two of them; rows counted wrongly read what their own curve has a step further on, or back.
How much likelier the readings become if that is undone is found for all rows at once: from one fit of the readings as
they stand, with what films depart by, scatter, and the errors of exposure that all channels of a step share. What is
wrong spoils that fit, and so does not show whole: how much of it shows is left open.

Every gain here is the natural logarithm of how many times more likely the readings become [nats].
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.film_curve import DEPARTURES, SPREAD, USUAL, FilmCurves, fitted, likeness

_STEPS = 4
"""Steps to the likeliest curves: the order of the readings is judged roughly here."""

_DEPARTURE = max(DEPARTURES)
"""Size of departures from the fitted curves, which misreadings spoil [log10 H]."""

_DISPLACED, _EXCHANGED = 0.25, 0.6
"""Least share of rows counted wrongly, and of readings exchanged, that shows: two readings of one density look half
exchanged whatever they are. Own choice [unitless]."""

_TURNED = (0.3, 0.5, 0.75)
"""Lengths of an end that may turn back: own choice [log10 H]."""

_MOST = 1.5
"""Greatest share that is believed: own choice [unitless]."""


@dataclass(frozen=True, eq=False)
class FirstOrder:
    """The curves fitted to a table as it stands, and the errors of its readings about them.

    Attributes:
        readings: rising with log H, (c, n) [density].
        curves: fitted to them, c of them.
        density: of these curves, (c, n) [density].
        off: readings less what is expected of films, (c, n) [density].
        inverse: of each channel's covariance, without errors of exposure, (c, n, n) [1 / density squared].
        moved: how far one standard deviation of the error of exposure moves each reading, (c, n) [density].
    """

    readings: FloatArray
    curves: FilmCurves
    density: FloatArray
    off: FloatArray
    inverse: FloatArray
    moved: FloatArray

    @classmethod
    def of(cls, log_h: FloatArray, readings: FloatArray, scatter: float, exposure: float) -> FirstOrder:
        """Fit curves to a table as it stands.

        Args:
            log_h: of the rows, ascending, from the middle of the strip, (n,) [log10].
            readings: rising with log H, the least about 0.3, (c, n) [density].
            scatter: of a reading [density].
            exposure: standard uncertainty of the log H of a step, which all channels share [log10].
        """
        log_h = np.tile(log_h, (len(readings), 1))
        like = np.repeat(likeness(log_h[:1]), len(readings), axis=0)
        variance = np.full(log_h.shape, scatter**2)
        curves = fitted(log_h, readings, variance, exposure, _DEPARTURE, like, 1, _STEPS)
        density, slope, derivatives = curves.linear()
        off = readings - density + (derivatives @ (curves.parameters - USUAL)[:, :, None])[:, :, 0]
        covariance = (derivatives * SPREAD**2) @ np.swapaxes(derivatives, 1, 2)
        covariance += curves.departures(slope, _DEPARTURE, like)
        row = np.arange(log_h.shape[1])
        covariance[:, row, row] += variance
        inverse: FloatArray = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        return cls(readings, curves, density, np.asarray(off), inverse, exposure * slope)

    @cached_property
    def _seen(self) -> FloatArray:
        """The weight of each reading in the error of exposure of each step, (c, n, n) [1 / density]."""
        return np.asarray(self.moved[:, :, None] * self.inverse)

    @cached_property
    def _shared(self) -> FloatArray:
        """Covariance of the errors of exposure, seen through all channels, (n, n) [variances]."""
        seen = (self._seen * self.moved[:, None, :]).sum(axis=0)
        return np.asarray(np.linalg.inv(seen + np.eye(len(seen))), dtype=np.float64)

    @cached_property
    def _pull(self) -> FloatArray:
        """The readings' errors, weighed with the covariance of all, (c, n) [1 / density]."""
        common = self._shared @ (self._seen @ self.off[:, :, None]).sum(axis=0)
        alone = self.inverse @ self.off[:, :, None] - np.swapaxes(self._seen, 1, 2) @ common
        return np.asarray(alone[:, :, 0])

    def displaced(self, by: float) -> FloatArray:
        """Return the gain of the rows from i up to, not including, row j reading what lies ``by`` further on in log H,
        (n + 1, n + 1) [nats]. The array means nothing where i >= j."""
        change = FilmCurves(self.curves.log_h + by, self.curves.parameters).linear()[0] - self.density
        along = np.append(0.0, np.cumsum((change * self._pull).sum(axis=0)))
        seen = (self._seen * change[:, None, :]).sum(axis=0)
        square = (change[:, :, None] * self.inverse * change[:, None, :]).sum(axis=0) - seen.T @ self._shared @ seen
        sums = np.zeros((along.size, along.size))
        sums[1:, 1:] = square.cumsum(axis=0).cumsum(axis=1)
        own = np.diagonal(sums)
        return _gain(along[None, :] - along[:, None], own[None, :] + own[:, None] - sums - sums.T, _DISPLACED)

    def neighbours_exchanged(self) -> tuple[FloatArray, FloatArray]:
        """Return the gain of exchanging each row with the next, in all channels, (n - 1,), and in each alone,
        (c, n - 1) [nats]."""
        apart, row = np.diff(self.readings, axis=1), np.arange(self.readings.shape[1] - 1)
        along = apart * np.diff(self._pull, axis=1)
        own = self.inverse[:, row, row] + self.inverse[:, row + 1, row + 1] - 2.0 * self.inverse[:, row, row + 1]
        own *= apart**2
        seen = np.diff(self._seen, axis=2) * apart[:, None, :]
        alone = own - (seen * (self._shared @ seen)).sum(axis=1)
        seen = seen.sum(axis=0)
        together = own.sum(axis=0) - (seen * (self._shared @ seen)).sum(axis=0)
        return _gain(along.sum(axis=0), together, _EXCHANGED), _gain(along, alone, _EXCHANGED)

    def turned_back(self) -> float:
        """Return the standard deviations by which the most exposed end lies below films' curves, in all channels, as a
        line would that bends down there, at the length where they are most [standard deviations]."""
        log_h = self.curves.log_h[0]
        lengths = np.array(_TURNED)[:, None]
        down = np.minimum((log_h[-1] - lengths - log_h) / lengths, 0.0)
        seen = self._seen.sum(axis=0) @ down.T
        size = ((down @ self.inverse.sum(axis=0)) * down).sum(axis=1) - (seen * (self._shared @ seen)).sum(axis=0)
        return float((down @ self._pull.sum(axis=0) / np.sqrt(size)).max())


def _gain(along: FloatArray, size: FloatArray, least: float) -> FloatArray:
    """Return the gain of taking off what readings have of a change, if they have enough of it [nats]."""
    share = np.minimum(along / np.maximum(size, 1e-9), _MOST)
    return np.asarray(np.where(share > least, share * (along - 0.5 * share * size), 0.0))
