"""Suspicions about a strip that is valid but looks like a slip of the hand, found before any curve is fitted."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from curves.sensitometry.core.units import PATCH_NAMES
from curves.sensitometry.order.disorder import DEAD, out_of_order
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Notice

_HIGHEST_USUAL = 5.0
"""Greatest density that films reach and instruments usually read: common practice [density]."""

_USUAL_INCREMENTS = (0.04, 0.40)
"""Between these lie the increments of wedges that are sold and made, 0.05 to 0.30: common practice [density]."""


def suspicions(strip: Strip) -> tuple[Notice, ...]:
    """Return the suspicions about a strip.

    They are: a wedge that runs backwards or has unusual steps, a column that does not change, densities too high for an
    instrument, and readings in the wrong place.
    """
    return (
        *_backward_wedge(strip),
        *(() if strip.wedge is None else unusual_wedge(strip.wedge)),
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


def unusual_wedge(wedge: Wedge) -> Iterator[Notice]:
    """Report a wedge whose steps are further apart, or closer, than those of any usual wedge."""
    increment = float(np.median(np.abs(np.diff(wedge.density))))
    least, most = _USUAL_INCREMENTS
    if not least <= increment <= most:
        yield Notice(
            "wedge-increment",
            f"The wedge's steps are {increment:.3g} apart in density. Wedges usually have 0.05 to 0.30 (0.15 is half a"
            " stop): check the increment.",
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
    for name in PATCH_NAMES:
        for channel, density in getattr(strip.patches, name).items():
            if density > _HIGHEST_USUAL:
                yield Notice("too-dense", _beyond(f"{channel}, {name.replace('_', ' ')} patch", density), channel)
    for channel in strip.channels:
        over = np.flatnonzero(strip.readings[channel] > _HIGHEST_USUAL)
        if over.size:
            yield Notice(
                "too-dense",
                _beyond(f"{channel}, {strip.labels[over[0]]}", float(strip.readings[channel][over[0]])),
                channel,
                int(strip.step_of_row[over[0]]),
            )


def _beyond(where: str, density: float) -> str:
    return (
        f"{where}: density {density:.2f} is beyond what densitometers read (above {_HIGHEST_USUAL:g}): a slipped digit?"
    )
