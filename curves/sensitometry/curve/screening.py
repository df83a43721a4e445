"""Steps that do not belong: found, named and set aside, so that one misreading does not bend the curve."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.core.units import BY_MEDIAN, FloatArray
from curves.sensitometry.curve.spline import NoisePrior, Smoother, basis

_FALSE_ALARM = 1e-3
"""Chance that a strip without any misreading has a step set aside [unitless]."""

_SUSPICION = 3.0
"""Distance from the neighbours' cubic, in robust standard deviations, from which a step is looked at closely."""

_END_MOVES = 0.03
"""How much a curve may still move beyond its own end slope from one step to the next, at an end [density]."""


@dataclass(frozen=True)
class Misfit:
    """A step set aside: its index, its distance above the curve of all others [density], the same in scatters."""

    index: int
    distance: float
    scatters: float


def find_misfits(
    u: FloatArray,
    rising: FloatArray,
    weight: FloatArray,
    segments: int,
    prior: NoisePrior,
    exposed: FloatArray,
) -> tuple[Misfit, ...]:
    """Return the steps that the curve of all the others does not explain, worst first.

    A step is looked at if it stands off the cubic through its neighbours; it is set aside if its distance from the
    curve fitted *without* it is one that chance gives to a whole strip once in a thousand. At most one step in five
    is set aside.

    Args:
        u: normalised log exposure, ascending in [0, 1], (n,).
        rising: densities, centred and signed to rise, (n,) [density].
        weight: weights, mean 1, (n,).
        segments: intervals of the spline.
        prior: what is known of the noise.
        exposed: standard deviation of what errors of exposure do to each step, (n,) [density]; not held against it.
    """
    found: list[Misfit] = []
    kept = np.ones(u.size, dtype=bool)
    while len(found) < u.size // 5 and kept.sum() > 6:
        suspects = _suspects(u[kept], rising[kept], prior)
        judged = [
            _judge(int(i), u, rising, weight, kept, segments, prior, exposed) for i in np.flatnonzero(kept)[suspects]
        ]
        misfits = [m for m in judged if abs(m.scatters) > _threshold(int(kept.sum()), prior)]
        if not misfits:
            break
        worst = max(misfits, key=lambda m: abs(m.scatters))
        found.append(worst)
        kept[worst.index] = False
    return tuple(found)


def flags(count: int, misfits: tuple[Misfit, ...], sign: float) -> tuple[str | None, ...]:
    """Return for each of ``count`` steps why it was set aside, or None."""
    found: list[str | None] = [None] * count
    for misfit in misfits:
        side = "above" if sign * misfit.distance > 0 else "below"
        found[misfit.index] = (
            f"{abs(misfit.distance):.2f} {side} the curve of the other steps,"
            f" {abs(misfit.scatters):.0f} times their scatter: set aside"
        )
    return tuple(found)


def _threshold(count: int, prior: NoisePrior) -> float:
    """Return the deleted residual, in scatters, that one step in a clean strip of ``count`` exceeds by chance."""
    freedom = max(0.6 * count - 1.0, 1.0) + prior.freedom
    return float(stdtrit(freedom, 1.0 - _FALSE_ALARM / (2.0 * count)))


def _suspects(u: FloatArray, rising: FloatArray, prior: NoisePrior) -> FloatArray:
    """Return indices of up to three steps that stand off the cubic through their four nearest neighbours."""
    off = _off_cubic(u.tobytes()) @ rising
    ordered = np.sort(np.abs(off))
    median = 0.5 * float(ordered[(off.size - 1) // 2] + ordered[off.size // 2])
    typical = max(median * BY_MEDIAN, 0.5 * prior.deviation)
    # At an end the cubic tells little: the line through the next two steps tells more.
    for end, near, far in ((0, 1, 2), (-1, -2, -3)):
        reach = (u[end] - u[near]) / (u[near] - u[far])
        line = rising[near] + reach * (rising[near] - rising[far])
        off[end] = (rising[end] - line) / np.sqrt(1.0 + (1.0 + reach) ** 2 + reach**2)
    suspicion = np.abs(off) / typical
    order = np.argsort(-suspicion, kind="stable")[:3]
    return np.asarray(order[suspicion[order] > _SUSPICION])


@lru_cache(maxsize=64)
def _off_cubic(u_bytes: bytes) -> FloatArray:
    """Return the matrix, (n, n), that turns densities into distances from the cubic through four neighbours.

    The distances are in their own standard deviations, where that of each density is 1. The channels of a strip share
    the matrix, and so do the strips of one wedge.
    """
    u = np.frombuffer(u_bytes)
    step = np.arange(u.size)
    window = np.clip(step - 2, 0, u.size - 5)[:, None] + np.arange(5)
    around = window[window != step[:, None]].reshape(u.size, 4)
    x = u[around]
    gap = u[:, None] - x
    apart = x[:, :, None] - x[:, None, :] + np.eye(4)
    # Lagrange's weights of the four neighbours at the step itself.
    share = gap.prod(axis=1)[:, None] / gap / apart.prod(axis=2)
    found = np.eye(u.size)
    np.put_along_axis(found, around, -share, axis=1)
    return np.asarray(found / np.sqrt(1.0 + (share**2).sum(axis=1))[:, None])


def _judge(
    index: int,
    u: FloatArray,
    rising: FloatArray,
    weight: FloatArray,
    kept: np.ndarray[tuple[int], np.dtype[np.bool_]],
    segments: int,
    prior: NoisePrior,
    exposed: FloatArray,
) -> Misfit:
    """Return the distance of step ``index`` from the curve fitted to the other kept steps."""
    others = kept.copy()
    others[index] = False
    # 1. Against the curve of the others, whose own uncertainty there counts too.
    smoother = Smoother.build(u[others], weight[others] / weight[others].mean(), segments)
    y = np.sqrt(weight[others] / weight[others].mean()) * rising[others]
    squares = smoother.penalised_residuals(y)
    best = int(smoother.log_likelihood(squares, prior).argmax())
    row = basis(u[[index]], segments)[0]
    coefficients = smoother.monotone(y, best)
    predicted = float(row @ coefficients)
    total = squares[best] + prior.freedom * prior.deviation**2
    sigma = float(np.sqrt(total / (max(y.size - 3, 1) + prior.freedom)))
    spread = float(((row @ smoother.to_coefficients) ** 2 * smoother.shrinkage[best]).sum())
    distance = float(rising[index]) - predicted
    within = Misfit(index, distance, distance / np.hypot(sigma * np.sqrt(1.0 / weight[index] + spread), exposed[index]))
    if others[:index].any() and others[index:].any():
        return within
    # 2. At an end there are no neighbours on the far side, but a curve that has flattened does not start again.
    nearest = u[others][0 if not others[:index].any() else -1]
    row, slope = (basis(np.array([nearest]), segments, derivative=k)[0] for k in (0, 1))
    movement = float(slope @ coefficients) * (u[index] - nearest)
    beyond = float(rising[index]) - float(row @ coefficients) - movement
    deviation = np.sqrt(sigma**2 * (1.0 / weight[index] + 1.0) + movement**2 + _END_MOVES**2 + exposed[index] ** 2)
    return max(within, Misfit(index, beyond, beyond / deviation), key=lambda m: abs(m.scatters))
