"""Curves of films, of few parameters, fitted to many rows of readings at once.

Two rounded corners join a straight line to two level ends:

    D = base + gradient * (a ln(1 + exp((x - toe) / a)) - b ln(1 + exp((x - shoulder) / b)))

with x the log H and a, b the softness of the corners. Real films depart from that smoothly, more where they are steep:
a Gaussian process stands for the departures. A curve of few parameters leaves far more of the readings to judge their
order by than a curve that may bend anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from curves.sensitometry.core.units import FloatArray

DEPARTURES = (0.006, 0.02, 0.05)
"""Sizes of the departures of films from a curve of few parameters: own choice, by the families of `tests.bench.shapes`
[log10 H]."""

USUAL = np.array([0.3, np.log(1.5), -0.6, 0.6, np.log(0.13), np.log(0.13), np.log(0.08)])
SPREAD = np.array([0.6, 0.7, 1.2, 1.2, 0.8, 0.8, 1.5])
"""Mean and standard deviation of the parameters before anything is read: base above the least reading, log of the
gradient, log H of toe and shoulder from the middle of the strip, logs of their softness, log of the gradient that
outlasts them. Own choice, wide enough for pictorial films [density], [log density per log10 H], [log10 H]."""

_FURTHER, _TAIL = 0.5, 0.3
"""How far beyond the corners a curve still rises by a part of its gradient, and the softness of its end there: own
choice, for films that flatten slowly [log10 H]."""

_ALIKE = 0.40
"""Distance along which a departure keeps its sign: own choice [log10 H]."""

_LEVEL = 0.25
"""Size of departures where the film is level, as a share of that on its straight line: own choice [unitless]."""

_FURTHEST = 0.5
"""Most that a parameter moves in one step."""

_SETTLED = 0.02
"""Change of -2 log of the likelihood by a step, below which a curve is not moved further: own choice [nats]."""


@dataclass(frozen=True, eq=False)
class FilmCurves:
    """Curves of films, each at log exposures of its own.

    Attributes:
        log_h: from the middle of the strip, (b, n) [log10].
        parameters: as in `USUAL`, (b, 7).
    """

    log_h: FloatArray
    parameters: FloatArray

    @classmethod
    def roughly(cls, log_h: FloatArray, readings: FloatArray) -> FilmCurves:
        """Return curves with the ends and the middle of the readings, (b, n), whatever their order."""
        ordered = np.sort(readings, axis=1)
        base = ordered[:, :2].mean(axis=1)
        height = np.maximum(ordered[:, -2:].mean(axis=1) - base, 0.05)
        quarter, most = (_crossing(log_h, ordered, base + share * height) for share in (0.25, 0.75))
        length = 2.0 * np.maximum(most - quarter, 0.1)
        middle = 0.5 * (quarter + most)
        rest = np.broadcast_to(USUAL[4:], (len(readings), 3))
        found = np.column_stack([base, np.log(height / length), middle - 0.5 * length, middle + 0.5 * length, rest])
        return cls(log_h, found)

    def _corners(self) -> list[tuple[FloatArray, FloatArray | float]]:
        """Return the distance of each log H from toe, shoulder, and the two ends of the tail, in times the softness of
        each, and that softness [log10 H]."""
        toe, shoulder, a, b = self.parameters[:, 2:6].T[:, :, None]
        corners = (toe, np.exp(a)), (shoulder, np.exp(b)), (toe - _FURTHER, _TAIL), (shoulder + _FURTHER, _TAIL)
        return [((self.log_h - corner) / softness, softness) for corner, softness in corners]

    def linear(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the curves, their slopes, and their derivatives by each parameter, (b, n), (b, n), (b, n, 7)."""
        base, gradient, tail = self.parameters[:, 0, None], *np.exp(self.parameters[:, (1, 6)].T)[:, :, None]
        ends = [
            (along, softness * np.logaddexp(0.0, along), softness, expit(along)) for along, softness in self._corners()
        ]
        (toe, soft, a, left), (shoulder, hard, b, right), (_, softer, _, lefter), (_, harder, _, righter) = ends
        straight, slow = gradient * (soft - hard), tail * (softer - harder)
        derivatives = [
            np.ones_like(self.log_h), straight, -gradient * left - tail * lefter, gradient * right + tail * righter,
            gradient * (soft - a * toe * left), -gradient * (hard - b * shoulder * right), slow,
        ]  # fmt: skip
        slope = gradient * (left - right) + tail * (lefter - righter)
        return base + straight + slow, slope, np.stack(derivatives, axis=2)

    def departures(self, slope: FloatArray, size: float, like: FloatArray) -> FloatArray:
        """Return the covariance of what films depart by, (b, n, n) [density squared].

        Args:
            slope: of the curves, (b, n) [density per log10 H].
            size: of a departure on the straight line [log10 H].
            like: correlation of departures at each two log exposures, (b, n, n) [unitless].
        """
        steepest = np.exp(self.parameters[:, 1:2])
        each = size * (_LEVEL * steepest + (1.0 - _LEVEL) * slope)
        return np.asarray(each[:, :, None] * like * each[:, None, :])


def likeness(log_h: FloatArray) -> FloatArray:
    """Return the correlation of departures at each two log exposures of a row, (b, n, n) [unitless]."""
    return np.asarray(np.exp(-0.5 * ((log_h[:, :, None] - log_h[:, None, :]) / _ALIKE) ** 2))


def fitted(
    log_h: FloatArray,
    readings: FloatArray,
    variance: FloatArray,
    exposure: float,
    size: float,
    like: FloatArray,
    rounds: int,
    steps: int,
) -> FilmCurves:
    """Return the likeliest curves of rows of readings, by damped Gauss-Newton steps.

    Args:
        log_h: of the readings, from the middle of the strip, (b, n) [log10].
        readings: rising along the strip, (b, n) [density].
        variance: of a reading, (b, n) [density squared].
        exposure: standard uncertainty of a log H [log10].
        size: of a film's departures [log10 H].
        like: their correlation, (b, n, n) [unitless].
        rounds, steps: how often the weights are renewed, and how many steps at most are taken with each.
    """
    curves = FilmCurves.roughly(log_h, readings)
    density, slope, derivatives = curves.linear()
    known = SPREAD**-2.0
    row, parameter = np.arange(log_h.shape[1]), np.arange(known.size)
    damping = np.full((len(log_h), 1), 1e-2)
    for _ in range(rounds):
        covariance = curves.departures(slope, size, like)
        covariance[:, row, row] += variance + (exposure * slope) ** 2
        weight: FloatArray = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
        cost = _cost(curves.parameters, readings - density, weight)
        for _ in range(steps):
            weighted = weight @ derivatives
            normal = np.swapaxes(derivatives, 1, 2) @ weighted
            pull = ((readings - density)[:, None, :] @ weighted)[:, 0] - (curves.parameters - USUAL) * known
            stiff = normal[:, parameter, parameter] + known
            normal[:, parameter, parameter] += known + damping * stiff
            step = np.linalg.solve(normal, pull[:, :, None])[:, :, 0]
            tried = FilmCurves(log_h, curves.parameters + np.clip(step, -_FURTHEST, _FURTHEST))
            tangent = tried.linear()
            found = _cost(tried.parameters, readings - tangent[0], weight)
            better = (found < cost)[:, None]
            curves = FilmCurves(log_h, np.where(better, tried.parameters, curves.parameters))
            density, slope = np.where(better, tangent[0], density), np.where(better, tangent[1], slope)
            derivatives = np.where(better[:, None], tangent[2], derivatives)
            settled = better[:, 0] & (cost - found < _SETTLED)
            cost = np.where(better[:, 0], found, cost)
            damping = damping * np.where(better, 0.2, 10.0)
            if settled.all():
                break
    return curves


def _cost(parameters: FloatArray, off: FloatArray, weight: FloatArray) -> FloatArray:
    """Return -2 log of the likelihood of parameters that readings are off from, (b,) [nats]."""
    prior = (((parameters - USUAL) / SPREAD) ** 2).sum(axis=1)
    return np.asarray(((weight @ off[:, :, None])[:, :, 0] * off).sum(axis=1) + prior)


def _crossing(log_h: FloatArray, rising: FloatArray, density: FloatArray) -> FloatArray:
    """Return the log H at which rising rows, (b, n), pass a density each, (b,) [log10]."""
    row = np.arange(len(rising))
    after = np.clip((rising < density[:, None]).sum(axis=1), 1, rising.shape[1] - 1)
    low, high = rising[row, after - 1], rising[row, after]
    share = np.clip((density - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    return np.asarray(log_h[row, after - 1] * (1.0 - share) + log_h[row, after] * share)
