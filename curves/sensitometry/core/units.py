"""Densities, stops, and the rounding of exposure indexes to their usual series."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IndexArray = NDArray[np.intp]
Channel = Literal["red", "green", "blue", "visual"]
Kind = Literal["negative", "reversal"]
DensityKind = Literal["status A", "status M", "visual", "scan"]
PatchName = Literal["base", "unexposed", "fully_exposed"]
"""A single piece of film that is read beside the wedge."""


CHANNELS: tuple[Channel, ...] = get_args(Channel)
LAYERS: tuple[Channel, ...] = ("red", "green", "blue")
KINDS: tuple[Kind, ...] = get_args(Kind)
DENSITY_KINDS: tuple[DensityKind, ...] = get_args(DensityKind)
PATCH_NAMES: tuple[PatchName, ...] = get_args(PatchName)

STOP = math.log10(2.0)
"""One stop [log10 exposure]."""

BY_MEDIAN = 1.4826
"""Standard deviation of a normal distribution, in its median absolute deviation [unitless]."""

FEWEST_STEPS = 4
"""Steps below which no curve is drawn [unitless]."""

MOST_STEPS = 1000
"""Steps that no wedge has more of: our own choice [unitless]."""

LEAST_READING, MOST_READING = -0.05, 15.0
"""The lowest and the highest density that an instrument shows: common practice of the instruments [density]."""

# The usual numbers by their degrees, ten to a decade. From memory; the edges between them are computed in the
# log (see `degrees`).
_SERIES = {
    -1: 0.6, 0: 0.8, 1: 1, 2: 1.2, 3: 1.5,
    4: 2, 5: 2.5, 6: 3, 7: 4, 8: 5, 9: 6, 10: 8, 11: 10, 12: 12, 13: 16, 14: 20, 15: 25, 16: 32, 17: 40, 18: 50,
    19: 64, 20: 80, 21: 100, 22: 125, 23: 160, 24: 200, 25: 250, 26: 320, 27: 400, 28: 500, 29: 640, 30: 800,
    31: 1000, 32: 1250, 33: 1600, 34: 2000, 35: 2500, 36: 3200, 37: 4000, 38: 5000, 39: 6400, 40: 8000,
}  # fmt: skip

# Visual density as seen through three layer densities, from 288 dye patches of each of five transparency films
# (open target data): rms error 0.04 density.
VISUAL_WEIGHTS: dict[Channel, float] = {"red": 0.33, "green": 0.655, "blue": 0.015}
GREY_MODEL_RMS = 0.02
VISUAL_MODEL_RMS = 0.04
"""Standard uncertainty of `visual_density` [density]."""


def sign_of(kind: Kind) -> float:
    """Return +1 where density rises with exposure (negative), -1 where it falls (reversal)."""
    return 1.0 if kind == "negative" else -1.0


def density(transmittance: ArrayLike) -> FloatArray:
    """Return density = -log10(transmittance); transmittance [unitless, 0 < t], density [density].

    A transmittance of zero or below has no density and gives NaN.
    """
    t = np.asarray(transmittance, dtype=np.float64)
    return np.asarray(0.0 - np.log10(np.where(t > 0, t, np.nan)))


def transmittance(density: ArrayLike) -> FloatArray:
    """Return transmittance = 10**-density; density [density], result [unitless]."""
    return np.asarray(10.0 ** -np.asarray(density, dtype=np.float64))


def visual_density(red: ArrayLike, green: ArrayLike, blue: ArrayLike) -> FloatArray:
    """Estimate visual density from the three layer densities, all [density], any one shape.

    The eye's response is approximated as a fixed mixture of the three transmittances, 0.33 red, 0.655 green and
    0.015 blue: rms error 0.04 density on 288 dye patches of each of five transparency films (open target data).
    An estimate: it is marked as such wherever it is shown.
    """
    return density(
        VISUAL_WEIGHTS["red"] * transmittance(red)
        + VISUAL_WEIGHTS["green"] * transmittance(green)
        + VISUAL_WEIGHTS["blue"] * transmittance(blue)
    )


def degrees(speed: float) -> int:
    """Return the logarithmic speed n whose band holds ``speed``: 10**((n-1.5)/10) <= S < 10**((n-0.5)/10).

    Args:
        speed: arithmetic speed or exposure index, > 0 [unitless].
    """
    # The nudge keeps an edge that was itself computed with a power of ten inside the band it opens.
    return math.floor(10.0 * math.log10(speed) + 1.5 + 1e-9)


def nominal_speed(speed: float) -> float:
    """Return the usual number (... 50 64 80 100 125 ...) whose logarithmic band holds ``speed``.

    Rounding is in the log, not to the nearest number: 112.3 is 125. Outside the tabulated series the band's own
    centre is rounded to two digits.

    Args:
        speed: arithmetic speed or exposure index, > 0 [unitless].
    """
    n = degrees(speed)
    if n in _SERIES:
        return float(_SERIES[n])
    centre = 10 ** ((n - 1) / 10)
    return float(f"{centre:.2g}")


def dial_step(ei: float, low: float | None = None, high: float | None = None) -> tuple[float, bool]:
    """Return the usual number nearest to an index that lies within a range, and whether there is one.

    Numbers count as the exact index of their degrees (see `exact_ei`). Where none lies within, the nearest of all.

    Args:
        ei: exposure index, > 0 [unitless].
        low, high: ends of the range [unitless]; None where it is open.
    """
    least = -math.inf if low is None else 10.0 * math.log10(low) + 1.0 - 1e-9
    most = math.inf if high is None else 10.0 * math.log10(high) + 1.0 + 1e-9
    nearest = degrees(ei)
    n = nearest if low is None else max(nearest, math.ceil(least))
    n = n if high is None else min(n, math.floor(most))
    inside = least <= n <= most
    return nominal_speed(10.0 ** (((n if inside else nearest) - 1) / 10.0)), inside


def two_digits(x: float) -> str:
    """Return a number in two significant digits: "9.8", "12", "120"."""
    return f"{float(f'{x:.2g}'):g}"


def exact_ei(ei: ArrayLike) -> FloatArray:
    """Return the exact index that a dial's number stands for: 10**((n - 1) / 10) for the usual number of n degrees.

    Numbers outside the usual series stand for themselves.

    Args:
        ei: exposure indexes, any shape [unitless].
    """
    exact = {number: 10.0 ** ((n - 1) / 10.0) for n, number in _SERIES.items()}
    values = np.asarray(ei, dtype=np.float64)
    return np.array([exact.get(float(v), float(v)) for v in values.ravel()]).reshape(values.shape)


def eye_channel(channels: Collection[Channel]) -> Channel:
    """Return the channel nearest to what the eye sees: visual, else green, else red, else blue.

    Args:
        channels: at least one of the four.
    """
    order: tuple[Channel, ...] = ("visual", "green", "red", "blue")
    return next(c for c in order if c in channels)
