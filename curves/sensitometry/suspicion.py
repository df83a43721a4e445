"""What is legal in a strip but looks like a slip of the hand, found before anything is fitted."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from curves.sensitometry.findings import Notice
from curves.sensitometry.strip import Strip
from curves.sensitometry.units import FloatArray

_HIGHEST_USUAL = 6.0
"""Densities above this are beyond what instruments read: common practice [density]."""

_CONSTANT = 0.02
_SWAP_GAIN = 0.20
"""How much smoother two channels must become by swapping a part, in summed second differences [density]."""


def suspicions(strip: Strip) -> tuple[Notice, ...]:
    """Return what looks like a slip: rows out of order, swapped channels, a dead column, impossible densities, a wedge
    that runs backwards."""
    return (
        *_backward_wedge(strip),
        *_row_order(strip),
        *_constant(strip),
        *_too_dense(strip),
        *_swapped(strip),
    )


def _backward_wedge(strip: Strip) -> Iterator[Notice]:
    if strip.wedge is not None and strip.wedge.runs_backwards:
        yield Notice(
            "wedge-backwards",
            "The wedge runs the other way: step 1 is its dense end. Steps are numbered from the clear end; check that"
            " the readings follow the wedge's table.",
        )


def _row_order(strip: Strip) -> Iterator[Notice]:
    """Report rows that break the run of positions; going back to the start for repeats is no break."""
    moves = np.diff(strip.position)
    if not moves.any():
        return
    way = np.sign(np.median(moves[moves != 0]))
    small = np.abs(moves) < 0.5 * np.ptp(strip.position)
    for row in np.flatnonzero((np.sign(moves) == -way) & small):
        yield Notice(
            "row-order",
            f"{strip.labels[row + 1]} comes after {strip.labels[row]}: out of order. The rows count as they are"
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


def _swapped(strip: Strip) -> Iterator[Notice]:
    """Report two channels that would both run smoother with a part of one in the other's place."""
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
                f"{one} and {other} look swapped from {first} to {last}: both curves run smoothly if they change"
                " places there.",
                one,
            )


def _best_swap(a: FloatArray, b: FloatArray) -> tuple[int, int] | None:
    """Return the part [start, end) whose swap makes two sequences much smoother, or None.

    The shorter of a part and its complement is named; swapping either gives the same smoothness.
    """
    count = a.size
    before = _roughness(a) + _roughness(b)
    best, gain = None, _SWAP_GAIN
    for start, end in itertools.combinations(range(count + 1), 2):
        if end - start > count // 2:
            continue
        part = slice(start, end)
        c, d = a.copy(), b.copy()
        c[part], d[part] = b[part], a[part]
        after = _roughness(c) + _roughness(d)
        if before - after > gain and after < 0.6 * before:
            best, gain = (start, end), before - after
    return best


def _roughness(values: FloatArray) -> float:
    return float(np.abs(np.diff(values, 2)).sum())
