"""Rms granularity: the scatter of density through a round aperture, without the scanner's noise.

Published method: ISO 10505, root mean square granularity: the standard deviation of density through a circular
aperture of 48 um, times 1000, usually stated at a density of 1.0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import gammaincinv

from curves.errors import GrainError
from curves.sensitometry.core.quantity import ENDS, NORMAL, Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.grain.aperture import (
    FEWEST_APERTURES,
    ApertureReadings,
    aperture_area,
    aperture_readings,
    blur_loss,
)

APERTURE = 48.0
"""Diameter of the usual aperture [um]: ISO 10505."""

SCALE = 1000.0
"""Rms granularity is the standard deviation of density times this [unitless]."""

_LN10 = math.log(10.0)

_LOSS_KNOWN_TO = 0.15
"""Error of the correction for blur, 95 %, as a share of white grain's loss: our own choice (`blur_loss`)."""

_STRUCTURE = 0.15
"""Correlation of readings too far apart to share grain, from which a patch is uneven [unitless]: our own choice."""

_MOTTLE = 1.15
"""Selwyn's product at twice the aperture over that at the aperture, from which a patch is uneven [unitless]."""


@dataclass(frozen=True)
class ScannerNoise:
    """The scanner's own noise through one aperture at one pitch.

    Attributes:
        clear: readings of a frame without film, or of clear film, under the light of the scan.
        dark: readings of a frame without light; None if there is no such frame.
    """

    clear: ApertureReadings
    dark: ApertureReadings | None = None


@dataclass(frozen=True)
class Granularity:
    """The granularity of one patch.

    Attributes:
        density: density of the patch [density].
        rms: rms granularity [1000 x density], the scanner's noise subtracted where it is known; or a bound.
        total: rms granularity with the scanner's noise in it [1000 x density].
        noise: the scanner's part of ``total`` [1000 x density]; None if not known.
        apertures: number of independent readings behind the number [unitless].
        set_aside: share of the patch set aside as dust or scratches [unitless].
        uneven: a clause where density scatters over larger distances than grain does; else None.
    """

    density: float
    rms: Quantity
    total: float
    noise: float | None
    apertures: float
    set_aside: float
    uneven: str | None


@dataclass(frozen=True)
class _Part:
    """A variance with its 95 % interval [transmittance^2]."""

    value: float
    low: float
    high: float


def scanner_noise(
    clear: FloatArray, dark: FloatArray | None, pitch: float, aperture: float = APERTURE, *, name: str = ""
) -> ScannerNoise:
    """Return the scanner's noise through an aperture.

    A dark frame without any noise is cut off at black, and is ignored.

    Args:
        clear: (rows, columns), a frame without film, on the scale of the patches' transmittance [unitless].
        dark: (rows, columns), a frame without light, on the same scale; None if there is no such frame.
        pitch, aperture: as for `rms_granularity`.
        name: name of the picture in errors.

    Raises:
        GrainError: a frame is too small, too coarse, too dirty or, the clear one, cut off at white.
    """
    if clear.min() == clear.max():
        raise GrainError(
            "all its pixels are the same: it is cut off at white",
            where=f"{name}, clear frame".lstrip(", "),
            needed="the light of the scan inside the scan's range",
            hint="scan with less exposure, films and clear frame alike",
        )

    def seen(frame: FloatArray, what: str) -> ApertureReadings:
        return aperture_readings(frame, pitch, aperture, as_density=False, name=f"{name}, {what}".lstrip(", "))

    unlit = None if dark is None else seen(dark, "dark frame")
    return ScannerNoise(seen(clear, "clear frame"), unlit if unlit is not None and unlit.variance > 0.0 else None)


def rms_granularity(
    transmittance: FloatArray,
    pitch: float,
    aperture: float = APERTURE,
    *,
    noise: ScannerNoise | None = None,
    name: str = "",
) -> Granularity:
    """Return the rms granularity of an even patch: the standard deviation of density through a circle, times 1000.

    1. Light is averaged over the aperture and turned into density, at places a quarter of a diameter apart.
    2. A trend is removed, dust and scratches are set aside (`aperture.aperture_readings`).
    3. The scanner's variance through the same aperture is subtracted.
    4. The loss by the aperture's square pixels is corrected (`aperture.blur_loss`).

    The 95 % interval combines the scatter of the variance (chi-square with the number of independent readings as its
    degrees of freedom), the scatter of the subtracted noise, and the doubt about how noise depends on light, by the
    method of variance estimates recovery (from memory). Where the noise is more than the grain, there is only a bound.

    Source: ISO 10505 for aperture and scale. Trend, exclusion and corrections are our own choices.

    Args:
        transmittance: (rows, columns), linear, dark subtracted [unitless].
        pitch: distance between pixels [um].
        aperture: diameter of the aperture [um].
        noise: the scanner's noise through the same aperture at the same pitch; None if not known.
        name: name of the patch in errors.

    Raises:
        GrainError: the aperture is too narrow, or the patch too small, too dark or too dirty.
    """
    seen = aperture_readings(transmittance, pitch, aperture, as_density=True, name=name)
    part = None if noise is None else _noise_at(noise, seen.level)
    loss = _loss(seen, noise, pitch, aperture)
    to_density = 1.0 / (_LN10 * seen.level) ** 2
    return Granularity(
        density=-math.log10(seen.level),
        rms=_grain(seen, part, to_density, loss, blur_loss(aperture, pitch)),
        total=SCALE * math.sqrt(seen.variance / (1.0 - loss)),
        noise=None if part is None else SCALE * math.sqrt(part.value * to_density / (1.0 - loss)),
        apertures=seen.freedom,
        set_aside=seen.set_aside,
        uneven=_uneven(transmittance, pitch, aperture, seen, loss),
    )


def _grain(seen: ApertureReadings, noise: _Part | None, to_density: float, loss: float, white: float) -> Quantity:
    """Return granularity from the variances of the patch and of the noise.

    Args:
        seen, noise: the readings of the patch, and the scanner's variance [transmittance^2].
        to_density: factor from a variance of transmittance to one of density.
        loss: share of the variance lost to blur, to be corrected.
        white: the share that white grain loses, to which the error of the correction is proportional.
    """
    total = _chi_square(seen.variance, seen.freedom)
    off = _Part(0.0, 0.0, 0.0) if noise is None else noise
    off = _Part(off.value * to_density, off.low * to_density, off.high * to_density)
    grain = total.value - off.value
    # Each end comes from the same end of the patch's variance and the opposite end of the noise.
    low = grain - math.hypot(total.value - total.low, off.high - off.value)
    high = grain + math.hypot(total.high - total.value, off.value - off.low)
    known = _LOSS_KNOWN_TO * white / (1.0 - loss)
    if off.value > grain:
        most = high if high > 0.0 else total.high
        return Quantity.missing(
            "the scanner's noise is more than the grain; a larger aperture or an average of several scans shows more",
            below=_as_rms(most, loss),
        )
    value, least, most = (_as_rms(v, loss) for v in (grain, low, high))
    least = value - math.hypot(value - least, 0.5 * known * value)
    most = value + math.hypot(most - value, 0.5 * known * value)
    note = None if noise is not None else "the scanner's noise is in it"
    return Quantity(value, max(least, 0.0), most, "measured", note=note, u=(most - least) / 3.92)


def _as_rms(variance: float, loss: float) -> float:
    return SCALE * math.sqrt(max(variance, 0.0) / (1.0 - loss))


def _chi_square(variance: float, freedom: float) -> _Part:
    low, high = (0.5 * variance * freedom / float(gammaincinv(0.5 * freedom, p)) for p in reversed(ENDS))
    return _Part(variance, low, high)


def _noise_at(noise: ScannerNoise, level: float) -> _Part:
    """Return the scanner's variance at a transmittance [transmittance^2].

    With a dark frame the variance is a + b v: noise of reading, and noise of counted light. Without one it is assumed
    to be noise of counted light, in proportion to v; the interval goes from noise in proportion to light (v^2, a
    constant in density) to noise that does not depend on light. Our own choice: at a density of 1 the interval spans a
    factor of 100.
    """
    clear = noise.clear
    if noise.dark is not None:
        share = (level - noise.dark.level) / (clear.level - noise.dark.level)
        share = min(max(share, 0.0), 1.0)
        parts = (1.0 - share) * noise.dark.variance, share * clear.variance
        value = sum(parts)
        if value == 0.0:
            return _Part(0.0, 0.0, 0.0)
        freedom = value**2 / (parts[0] ** 2 / noise.dark.freedom + parts[1] ** 2 / clear.freedom)
        return _chi_square(value, freedom)
    measured = _chi_square(clear.variance, clear.freedom)
    of_light = level / clear.level
    ends = sorted((of_light**2, 1.0))
    return _Part(clear.variance * of_light, measured.low * ends[0], measured.high * ends[1])


def _loss(seen: ApertureReadings, noise: ScannerNoise | None, pitch: float, aperture: float) -> float:
    """Return the share of variance lost to blur, from the correlation of neighbouring pixels without scanner noise."""
    variance, covariance = seen.pixel_variance, seen.neighbour_covariance
    if noise is not None:
        dark = noise.dark
        floor = (0.0, 0.0, 0.0) if dark is None else (dark.level, dark.pixel_variance, dark.neighbour_covariance)
        share = min(max((seen.level - floor[0]) / (noise.clear.level - floor[0]), 0.0), 1.0)
        variance -= (1.0 - share) * floor[1] + share * noise.clear.pixel_variance
        covariance -= (1.0 - share) * floor[2] + share * noise.clear.neighbour_covariance
    neighbour = covariance / variance if variance > 0.0 else 0.0
    return blur_loss(aperture, pitch, neighbour)


def _uneven(
    transmittance: FloatArray, pitch: float, aperture: float, seen: ApertureReadings, loss: float
) -> str | None:
    """Return a clause if readings far apart are correlated, or scatter falls more slowly than by Selwyn's law; or None.

    Selwyn's law (from the literature of granularity): standard deviation times diameter is constant for grain much
    smaller than the aperture. It is tested with an aperture twice as wide, on the same patch.
    """
    if seen.beyond > _STRUCTURE:
        near, far = 1.5 * aperture, 2.5 * aperture
        return (
            f"readings {near:g} to {far:g} um apart are correlated: an edge, a pattern or uneven light is in the number"
        )
    wide = 2.0 * aperture
    if transmittance.size * pitch**2 < 2.0 * FEWEST_APERTURES * aperture_area(wide) or not seen.variance > 0.0:
        return None
    if min(transmittance.shape) < 4.0 * wide / pitch:
        return None
    try:
        double = aperture_readings(transmittance, pitch, wide, as_density=True, name="")
    except GrainError:  # too much of it is near some dust
        return None
    neighbour = seen.neighbour_covariance / seen.pixel_variance
    grown = 4.0 * double.variance / (1.0 - blur_loss(wide, pitch, neighbour)) / (seen.variance / (1.0 - loss))
    least = grown * math.exp(-NORMAL * math.sqrt(2.0 / double.freedom + 2.0 / seen.freedom))
    if math.sqrt(grown) < _MOTTLE or least < 1.0:
        return None
    return (
        f"density scatters {math.sqrt(grown):.2f} times as much through {wide:g} um as grain would by Selwyn's law:"
        " mottle, uneven light or a pattern is in the number"
    )
