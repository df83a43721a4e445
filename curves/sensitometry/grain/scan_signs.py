"""Signs that a scan was sharpened or smoothed, read from the spectrum of an even patch.

The power spectrum of grain is flat at low frequencies and falls slowly; the scanner's optics and pixels can only make
it fall faster. Sharpening lifts the spectrum above its level at low frequencies. Noise reduction cuts it steeply, and
so does a scanner that resolves far less than its pixels; both remove grain. Coarse grain falls as steeply by itself,
but the scanner's noise, which is white, stays: a clear frame shows it alone, and under very coarse grain the corners
of the patch's own spectrum do.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import fft
from scipy.special import stdtrit

from curves.sensitometry.core.units import FloatArray

_BLOCK = 64
"""Side of the blocks whose spectra are averaged: our own choice [pixels]."""

_FEWEST_BLOCKS = 9
"""Blocks below which a mean spectrum tells nothing: our own choice [unitless]."""

_LOW = (0.05, 0.11)
"""Frequencies that the others are compared with [cycles a pixel]."""

_BANDS = ((0.11, 0.18), (0.18, 0.25), (0.25, 0.32), (0.32, 0.39), (0.39, 0.46))
"""Frequencies at which sharpening shows [cycles a pixel]."""

_CHANCE = 0.002
"""Probability, by theory, that a flat spectrum is called sharpened; simulation shows up to 1 in 200 [unitless]."""

_LIFT = 1.1
"""Least lift of power that is called sharpening: our own choice [unitless]."""

_MIDDLE, _HIGH = (0.15, 0.25), (0.36, 0.48)
"""Middle and high frequencies, below the limit of 0.5 that pixels set: our own choice [cycles a pixel]."""

_DIRTY = 3.0
"""A block with this many times the usual power holds dust: our own choice [unitless]."""

_STEEPEST = 20.0
"""Fall of power from middle to high frequencies that is called smoothing: our own choice.

Grain that falls with the third power of frequency, seen by perfect pixels, falls by 15 at most.
"""

_NOISE_FALL = 1.5
"""Fall of the scanner's noise from middle to high frequencies that is called smoothing: our own choice [unitless]."""

_COARSE = 40.0
"""Fall of power from low to middle frequencies that only coarse grain makes: our own choice [unitless]."""

_CORNERS = (0.48, 0.55), (0.60, 0.70)
"""Two rings of frequencies that only the diagonals of a square of pixels have: our own choice [cycles a pixel]."""

_WHITE = 1.3
"""Greatest fall of power between the corners' two rings where white noise is left: our own choice [unitless]."""


def signs_of_processing(transmittance: FloatArray, clear: FloatArray | None = None) -> str | None:
    """Return a sentence if the scan looks sharpened or smoothed, else None.

    Power is averaged over rings of frequency in blocks of 64 by 64 pixels, under a cosine window. Sharpened: in one of
    five rings power is above that of low frequencies, by more than a flat spectrum would show by chance in one patch
    of 200, and by a tenth at least. Smoothed: the scanner's noise in a clear frame falls by a third from the middle
    ring to the high one. Where no clear frame is large enough, power of the patch falls more than 20-fold there, unless
    coarse grain does that over white noise. None means only that there is no sign.

    Args:
        transmittance: (rows, columns) of an even patch [unitless]; below 192 by 192 pixels the result is None.
        clear: (rows, columns) of a frame without film from the same scanner and settings; None if there is none.
    """
    power = _block_power(transmittance)
    if power is None or not power.any():
        return None
    low = _ring(power, _LOW)
    limit = -float(stdtrit(len(power) - 1, _CHANCE / len(_BANDS)))
    for band in _BANDS:
        lift, error = _log_ratio(_ring(power, band), low)
        if lift > math.log(_LIFT) and lift > limit * error:
            return (
                f"it looks sharpened: at {sum(band) / 2.0:.2f} cycles a pixel grain has {math.exp(lift):.1f} times the"
                " power of lower frequencies; scan again with sharpening off"
            )
    noise = None if clear is None else _block_power(clear)
    if noise is not None and noise.any():
        fall, error = _log_ratio(_ring(noise, _MIDDLE), _ring(noise, _HIGH))
        if fall - limit * error <= math.log(_NOISE_FALL):
            return None
        return (
            "it looks smoothed or interpolated: the scanner's noise in the clear frame, white by itself, falls"
            f" {math.exp(fall):.1f}-fold over the upper octave; scan again with noise reduction off, at a resolution"
            " that the scanner has"
        )
    fall, error = _log_ratio(_ring(power, _MIDDLE), _ring(power, _HIGH))
    if fall - limit * error > math.log(_STEEPEST) and not _is_coarse(power, limit):
        return (
            "it looks smoothed, or resolves far less than its pixels: power falls"
            f" {math.exp(fall):.0f}-fold over the upper octave; scan again with noise reduction off, or give a"
            " clear frame, which tells coarse grain from smoothing"
        )
    return None


def _is_coarse(power: FloatArray, limit: float) -> bool:
    """Return True if grain of several pixels makes power fall, and white noise is left under the grain."""
    fall, error = _log_ratio(_ring(power, _LOW), _ring(power, _MIDDLE))
    corner, uncertain = _log_ratio(*(_ring(power, band) for band in _CORNERS))
    return fall - limit * error > math.log(_COARSE) and corner + 2.0 * uncertain < math.log(_WHITE)


def _block_power(transmittance: FloatArray) -> FloatArray | None:
    """Return the power spectrum of each block without specks, (blocks, 64, 64); None if there are too few blocks."""
    rows, columns = (n // _BLOCK for n in transmittance.shape)
    if rows * columns < _FEWEST_BLOCKS:
        return None
    whole = transmittance[: rows * _BLOCK, : columns * _BLOCK]
    blocks = whole.reshape(rows, _BLOCK, columns, _BLOCK).swapaxes(1, 2).reshape(-1, _BLOCK, _BLOCK)
    level = blocks.mean(axis=(1, 2), keepdims=True)
    slope = np.linspace(-1.0, 1.0, _BLOCK)
    flat = blocks - level
    for ramp in (slope[None, :, None], slope[None, None, :]):
        flat = flat - ramp * (flat * ramp).mean(axis=(1, 2), keepdims=True) / (slope**2).mean()
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(_BLOCK) + 0.5) / _BLOCK)
    power = np.abs(fft.fft2(flat * np.outer(window, window))) ** 2
    # Dust makes a block's power stand out at all frequencies.
    total = power.mean(axis=(1, 2))
    return np.asarray(power[total <= _DIRTY * np.median(total)])


def _ring(power: FloatArray, band: tuple[float, float]) -> FloatArray:
    """Return the mean power of each block between two frequencies, (blocks,)."""
    f = fft.fftfreq(_BLOCK)
    radius = np.hypot(f[:, None], f[None, :])
    return np.asarray(power[:, (radius >= band[0]) & (radius < band[1])].mean(axis=1))


def _log_ratio(one: FloatArray, other: FloatArray) -> tuple[float, float]:
    """Return the logarithm of the ratio of two mean powers, and its standard error from block to block."""
    means = float(one.mean()), float(other.mean())
    apart = one / means[0] - other / means[1]
    return math.log(means[0] / means[1]), float(apart.std(ddof=1)) / math.sqrt(len(apart))
