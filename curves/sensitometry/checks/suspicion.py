"""Suspicions about a strip that is valid but looks like a slip of the hand, found before any curve is fitted."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curves.sensitometry.checks.disorder import DEAD, out_of_order
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Notice

_HIGHEST_USUAL = 6.0
"""Greatest density that instruments usually read: common practice [density]."""


def suspicions(strip: Strip) -> tuple[Notice, ...]:
    """Return the suspicions about a strip.

    They are: a wedge that runs backwards, a column that does not change, densities too high for an instrument, and
    readings in the wrong place.
    """
    return (
        *_backward_wedge(strip),
        *_constant(strip),
        *_too_dense(strip),
        *(() if _runs_backwards(strip) else out_of_order(strip)),
    )


def _runs_backwards(strip: Strip) -> bool:
    return strip.wedge is not None and strip.wedge.runs_backwards


def _backward_wedge(strip: Strip) -> Iterator[Notice]:
    if _runs_backwards(strip):
        yield Notice(
            "wedge-backwards",
            "The wedge runs backwards: step 1 is its dense end. Steps are numbered from the clear end; check that the"
            " readings follow the wedge's table.",
        )


def _constant(strip: Strip) -> Iterator[Notice]:
    for channel in strip.channels:
        values = strip.readings[channel]
        if np.isfinite(values).sum() > 1 and np.nanmax(values) - np.nanmin(values) < DEAD:
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
