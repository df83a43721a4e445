"""Steps skipped and patches read twice: all rows beyond stand a step too early, or too late.

The readings' own curve of few parameters, a step further on or back beyond each row, says what the rows beyond would
read if the count had gone wrong there. How much likelier that makes the readings is found to first order, for all rows
at once: from one fit of the readings as they stand, with what films depart by, scatter, and the errors of exposure that
all channels of a step share. A step left out spoils that fit, and is then too steep to be found whole: how much of it
shows is left open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.film_curve import DEPARTURES, SPREAD, USUAL, FilmCurves, fitted, likeness

_STEPS = 4
"""Steps to the likeliest curves: the order of the readings is judged roughly here."""

_DEPARTURE = max(DEPARTURES)
"""Size of departures from the fitted curve, which a miscount spoils [log10 H]."""

_SHOWN = (0.25, 3.0)
"""Least and greatest share of a step that a miscount may seem to be: own choice [steps]."""


@dataclass(frozen=True, eq=False)
class Miscounts:
    """Gains in log likelihood, to first order, of a count that went wrong behind each row but the last.

    Attributes:
        skipped: of a step left out there, (n - 1,) [nats].
        twice: of the row behind being of the same patch, (n - 1,) [nats].
    """

    skipped: FloatArray
    twice: FloatArray

    @classmethod
    def of(
        cls, log_h: FloatArray, readings: FloatArray, scatter: float, exposure: float, increment: float
    ) -> Miscounts:
        """Fit readings as they stand and displace the rows beyond each.

        Args:
            log_h: of the rows, ascending, from the middle of the strip, (n,) [log10].
            readings: rising with log H, the least about 0.3, (c, n) [density].
            scatter: of a reading [density].
            exposure: standard uncertainty of the log H of a step, which all channels share [log10].
            increment: log H of a step [log10].
        """
        channels, count = readings.shape
        log_h = np.tile(log_h, (channels, 1))
        like = np.repeat(likeness(log_h[:1]), channels, axis=0)
        # 1. The readings' own curves, and what all errors but those of exposure make of them.
        variance = np.full(log_h.shape, scatter**2)
        curves = fitted(log_h, readings, variance, exposure, _DEPARTURE, like, 1, _STEPS)
        density, slope, derivatives = curves.linear()
        off = readings - density + (derivatives @ (curves.parameters - USUAL)[:, :, None])[:, :, 0]
        covariance = (derivatives * SPREAD**2) @ np.swapaxes(derivatives, 1, 2)
        covariance += curves.departures(slope, _DEPARTURE, like)
        row = np.arange(count)
        covariance[:, row, row] += scatter**2
        # 2. The errors of exposure, which all channels share.
        inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        pull, moved = (inverse @ off[:, :, None])[:, :, 0], exposure * slope
        shared = (inverse * (moved[:, :, None] * moved[:, None, :])).sum(axis=0) + np.eye(count)
        free = np.asarray(np.linalg.inv(shared), dtype=np.float64)
        common = free @ (pull * moved).sum(axis=0)
        # 3. What the rows beyond would read, and how well that is what they are off by.
        beyond = row[None, :] > row[:-1, None]
        gains = []
        for by in (increment, -increment):
            change = FilmCurves(log_h + by, curves.parameters).linear()[0] - density
            displaced = np.where(beyond, change[:, None, :], 0.0)
            weighted = displaced @ inverse
            seen = (weighted * moved[:, None, :]).sum(axis=0)
            along = (displaced * pull[:, None, :]).sum(axis=(0, 2)) - seen @ common
            size = (weighted * displaced).sum(axis=(0, 2)) - ((seen @ free) * seen).sum(axis=1)
            share = np.minimum(along / np.maximum(size, 1e-9), _SHOWN[1])
            gains.append(np.where(share > _SHOWN[0], share * (along - 0.5 * share * size), 0.0))
        return cls(*gains)
