"""Film grain with a known truth: Gaussian deviations of density whose spectrum and rms granularity are stated.

Grain is drawn with the autocorrelation exp(-r / grain) over a distance r, an invented film's: its Wiener spectrum,
2 pi grain^2 / (1 + (2 pi grain f)^2)^(3/2) times the variance, is flat at low frequencies and falls slowly, as spectra
of grain do. What a circular aperture sees of it follows from theory alone, in two ways that share no code: by distances
between two points of a disc (`variance_through`), and by frequencies (`variance_by_spectrum`).
"""

from __future__ import annotations

import math
from functools import cache, lru_cache

import numpy as np
from scipy import fft
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import j1

from curves.sensitometry.core.units import FloatArray

APERTURE_UM = 48.0
LN10 = math.log(10.0)


def grain_field(
    rows: int, columns: int, pitch_um: float, granularity: float, grain_um: float, rng: np.random.Generator
) -> FloatArray:
    """Return deviations of density from a patch's own, (rows, columns) [density]; each is the mean over its pixel.

    The light that passes, 10^-deviation, has the mean 1: the patch keeps its density as an instrument reads it, and
    an aperture of 48 um that gathers light sees the granularity that is asked for.

    Args:
        rows, columns: of the field; opposite edges join.
        pitch_um: distance between pixels [um].
        granularity: rms granularity through a circular aperture of 48 um [1000 x density].
        grain_um: distance over which the autocorrelation falls to 1/e [um].
        rng: random numbers.
    """
    variance = point_variance(granularity, pitch_um, grain_um)
    power = variance * pixel_spectrum(rows, columns, pitch_um, grain_um)
    white = fft.rfft2(rng.standard_normal((rows, columns)))
    field = fft.irfft2(white * np.sqrt(power[:, : columns // 2 + 1]), s=(rows, columns))
    return np.asarray(field + 0.5 * LN10 * power.mean())


@lru_cache(maxsize=4)
def pixel_spectrum(rows: int, columns: int, pitch_um: float, grain_um: float) -> FloatArray:
    """Return the power of pixel means at the frequencies of a discrete transform, (rows, columns) [variance 1].

    Frequencies beyond the pixels' own reach fold back, as in any picture; those of the next order are counted.
    """
    total = np.zeros((rows, columns))
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            fy, fx = fft.fftfreq(rows)[:, None] + i, fft.fftfreq(columns)[None, :] + j
            total += spectrum(np.hypot(fy, fx) / pitch_um, grain_um) * np.sinc(fy) ** 2 * np.sinc(fx) ** 2
    return total / pitch_um**2


def spectrum(frequency: FloatArray, grain_um: float) -> FloatArray:
    """Return the Wiener spectrum of grain of variance 1 [um2]; frequency [1/um]."""
    return np.asarray(2.0 * math.pi * grain_um**2 / (1.0 + (2.0 * math.pi * grain_um * frequency) ** 2) ** 1.5)


def variance_through(aperture_um: float, grain_um: float) -> float:
    """Return the variance of the mean density in a disc, by the distances between its points [variance 1]."""

    def integrand(r: float) -> float:
        return 2.0 * math.pi * r * float(_both_in_disc(np.array(r), aperture_um)) * math.exp(-r / grain_um)

    return float(quad(integrand, 0.0, aperture_um, points=[min(grain_um, aperture_um / 2)], limit=200)[0])


def variance_by_spectrum(aperture_um: float, grain_um: float) -> float:
    """Return the same by frequencies: the integral of W (2 J1(pi d f) / (pi d f))^2 over the plane [variance 1]."""

    def integrand(f: float) -> float:
        x = math.pi * aperture_um * f
        seen = (2.0 * float(j1(x)) / x) ** 2 if x > 0.0 else 1.0
        return 2.0 * math.pi * f * float(spectrum(np.array(f), grain_um)) * seen

    return sum(quad(integrand, n / aperture_um, (n + 1) / aperture_um)[0] for n in range(400))


def granularity_through(aperture_um: float, granularity: float, grain_um: float) -> float:
    """Return the granularity through another aperture of a film that has ``granularity`` through 48 um.

    Granularities in [1000 x density]. Exact where deviations are small.
    """
    return granularity * math.sqrt(variance_through(aperture_um, grain_um) / variance_through(APERTURE_UM, grain_um))


@cache
def point_variance(granularity: float, pitch_um: float, grain_um: float) -> float:
    """Return the variance of density at a point that shows as ``granularity`` when 48 um of pixels gather light.

    Pixels add light, not density. With Gaussian density of covariance C the light's relative covariance is
    exp(ln(10)^2 C) - 1; weighed by how often two pixels lie in one disc it is the variance that the disc sees.
    """
    reach = math.ceil(APERTURE_UM / pitch_um) + 1
    size = 2 * max(reach, math.ceil(12.0 * grain_um / pitch_um))
    covariance = fft.ifft2(pixel_spectrum(size, size, pitch_um, grain_um)).real
    lag = fft.fftfreq(size, 1.0 / size) * pitch_um
    weight = pitch_um**2 * _both_in_disc(np.hypot(lag[:, None], lag[None, :]), APERTURE_UM)
    wanted = (LN10 * granularity / 1000.0) ** 2

    def missing(variance: float) -> float:
        return float((weight * np.expm1(LN10**2 * variance * covariance)).sum()) - wanted

    small = wanted / (LN10**2 * float((weight * covariance).sum()))
    return float(brentq(missing, 0.0, small)) if wanted > 0.0 else 0.0


def _both_in_disc(r: FloatArray, diameter: float) -> FloatArray:
    """Return how often places ``r`` apart [um] both lie in a disc: its overlap with itself over its area squared."""
    x = np.minimum(r / diameter, 1.0)
    area = math.pi * diameter**2 / 4.0
    return np.asarray((2.0 / math.pi) * (np.arccos(x) - x * np.sqrt(1.0 - x * x)) / area)
