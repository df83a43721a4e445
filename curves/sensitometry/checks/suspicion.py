"""Suspicions about a strip that is valid but looks like a slip of the hand, found before any curve is fitted."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.fit import ASSUMED_REPEATABILITY
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Notice

_HIGHEST_USUAL = 6.0
"""Greatest density that instruments usually read: common practice [density]."""

_CONSTANT = 0.02
_SWAP_GAIN = 0.20
"""Least gain in smoothness, in summed second differences, by which two channels count as swapped [density]."""

_ALIKE, _STEEP = 0.02, 0.12
"""Greatest difference of two equal readings, and least difference that is expected from their neighbours: our own
choice [density]."""


def suspicions(strip: Strip) -> tuple[Notice, ...]:
    """Return the suspicions about a strip.

    They are: a wedge that runs backwards, rows out of order, a column that does not change, densities too high for an
    instrument, one patch read for two steps, and swapped channels.
    """
    return (
        *_backward_wedge(strip),
        *_row_order(strip),
        *_constant(strip),
        *_too_dense(strip),
        *_read_twice(strip),
        *_swapped(strip),
    )


def _backward_wedge(strip: Strip) -> Iterator[Notice]:
    if strip.wedge is not None and strip.wedge.runs_backwards:
        yield Notice(
            "wedge-backwards",
            "The wedge runs backwards: step 1 is its dense end. Steps are numbered from the clear end; check that the"
            " readings follow the wedge's table.",
        )


def _row_order(strip: Strip) -> Iterator[Notice]:
    """Report rows that break the run of positions; going back for a repeat does not break it."""
    moves = np.diff(strip.position)
    if not moves.any():
        return
    way = np.sign(np.median(moves[moves != 0]))
    small = np.abs(moves) < 0.5 * np.ptp(strip.position)
    for row in np.flatnonzero((np.sign(moves) == -way) & small):
        if strip.position[row + 1] in strip.position[: row + 1]:
            continue
        yield Notice(
            "row-order",
            f"{strip.labels[row + 1]} comes after {strip.labels[row]}, which is out of order. Each row counts as it is"
            " labelled; check that the readings were not shifted.",
            step=int(strip.step_of_row[row + 1]),
        )


def _constant(strip: Strip) -> Iterator[Notice]:
    for channel in strip.channels:
        values = strip.readings[channel]
        if np.isfinite(values).sum() > 1 and np.nanmax(values) - np.nanmin(values) < _CONSTANT:
            yield Notice(
                "constant",
                f"{channel} hardly changes along the strip: a dead channel, or one number copied down.",
                channel,
            )


def _too_dense(strip: Strip) -> Iterator[Notice]:
    for channel in strip.channels:
        over = np.flatnonzero(strip.readings[channel] > _HIGHEST_USUAL)
        if over.size:
            yield Notice(
                "too-dense",
                f"{channel}, {strip.labels[over[0]]}: density {strip.readings[channel][over[0]]:.2f} is beyond what"
                f" densitometers read (above {_HIGHEST_USUAL:g}): a slipped digit?",
                channel,
                int(strip.step_of_row[over[0]]),
            )


def _read_twice(strip: Strip) -> Iterator[Notice]:
    """Report neighbours that read alike in every channel although the strip is steep on both sides of them.

    A patch read twice shifts all later readings by one step, and no single step looks wrong.
    """
    log_h, row = np.unique(strip.log_h, return_index=True)
    means = {c: _means(strip.log_h, strip.readings[c]) for c in strip.channels}
    least = {c: max(_STEEP, 7.0 * _scatter(strip, means[c])) for c in strip.channels}
    for i in range(1, log_h.size - 2):
        gap = np.diff(log_h[i - 1 : i + 3])
        moves = {c: np.diff(means[c][i - 1 : i + 3]) for c in strip.channels}
        moves = {c: m for c, m in moves.items() if np.isfinite(m).all()}
        alike = all(abs(m[1]) <= _ALIKE for m in moves.values())
        steep = any(
            m[0] * m[2] > 0 and min(abs(m[0]) / gap[0], abs(m[2]) / gap[2]) * gap[1] > least[c]
            for c, m in moves.items()
        )
        if alike and steep:
            # log H rises here; the file as a rule lists the most exposed step first.
            first, second = sorted((row[i], row[i + 1]))
            yield Notice(
                "read-twice",
                f"{strip.labels[first]} and {strip.labels[second]} read alike, where the strip is steep on both sides:"
                " one patch read twice? If so every later reading belongs one step further on; read the strip again.",
                step=int(strip.step_of_row[second]),
            )


def _scatter(strip: Strip, means: FloatArray) -> float:
    """Return the scatter of one reading: the given or assumed one, or that of the second differences if it is more.

    Second differences have sqrt(6) times the standard deviation of a reading; the median size of a normal deviate is
    0.6745 standard deviations.
    """
    given = ASSUMED_REPEATABILITY if strip.repeatability is None else strip.repeatability
    bends = np.diff(means, 2)
    bends = np.abs(bends[np.isfinite(bends)])
    return max(given, float(np.median(bends)) / (0.6745 * math.sqrt(6.0))) if bends.size else given


def _means(log_h: FloatArray, density: FloatArray) -> FloatArray:
    """Return the mean reading at each log H, ascending; NaN where there is no reading."""
    _, at = np.unique(log_h, return_inverse=True)
    read = np.isfinite(density)
    size = int(at.max()) + 1
    count = np.bincount(at[read], minlength=size)
    total = np.bincount(at[read], weights=density[read], minlength=size)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _swapped(strip: Strip) -> Iterator[Notice]:
    """Report two channels that would both run more smoothly if a part of each stood in the other's place."""
    order = np.argsort(strip.log_h, kind="stable")
    labels = [strip.labels[row] for row in order]
    for one, other in itertools.combinations(strip.channels, 2):
        a, b = strip.readings[one][order], strip.readings[other][order]
        read = np.isfinite(a) & np.isfinite(b)
        if read.sum() < 6:
            continue
        part = _best_swap(a[read], b[read])
        if part is not None:
            names = [label for label, kept in zip(labels, read, strict=True) if kept]
            first, last = names[part[1] - 1], names[part[0]]
            yield Notice(
                "channels-swapped",
                f"{one} and {other} look swapped from {first} to {last}: with the two exchanged there, both curves run"
                " smoothly.",
                one,
            )


def _best_swap(a: FloatArray, b: FloatArray) -> tuple[int, int] | None:
    """Return the part [start, end) whose swap makes two sequences much smoother, or None.

    Of a part and its complement the shorter is returned, because swapping either gives the same smoothness. Inside and
    outside a part second differences only change places, so all that a swap gains, it gains at the part's two ends.
    """
    count = a.size
    before = _roughness(a) + _roughness(b)
    at_end = np.array([before - _swapped_roughness(a, b, slice(k, None)) for k in range(count + 1)])
    saved = at_end[:, None] + at_end[None, :]
    for k in range(count):
        # The two ends of a single step share second differences.
        saved[k, k + 1] = before - _swapped_roughness(a, b, slice(k, k + 1))
    start, end = np.indices(saved.shape)
    allowed = (start < end) & (end - start <= count // 2) & (saved > max(_SWAP_GAIN, 0.4 * before))
    if not allowed.any():
        return None
    best = np.argmax(np.where(allowed, saved, -np.inf))
    return int(best // (count + 1)), int(best % (count + 1))


def _swapped_roughness(a: FloatArray, b: FloatArray, part: slice) -> float:
    c, d = a.copy(), b.copy()
    c[part], d[part] = b[part], a[part]
    return _roughness(c) + _roughness(d)


def _roughness(values: FloatArray) -> float:
    return float(np.abs(np.diff(values, 2)).sum())
