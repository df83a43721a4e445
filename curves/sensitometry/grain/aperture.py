"""A round aperture that moves over square pixels: the share of each pixel inside it, and its readings of a patch."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import fft
from scipy.ndimage import distance_transform_edt
from scipy.signal import oaconvolve
from scipy.special import ndtri

from curves.errors import GrainError
from curves.sensitometry.core.units import BY_MEDIAN, BoolArray, FloatArray

UM_PER_INCH = 25400.0
"""Micrometres in an inch: dots per inch times pitch [um]."""

FEWEST_PIXELS = 3.0
"""Narrowest aperture [pixels]: our own choice; most of a narrower aperture is rim."""

FEWEST_APERTURES = 100.0
"""Smallest patch [aperture areas]: our own choice; the interval is then some 15 % of the value to either side."""

_PER_DIAMETER = 4
"""Places of the aperture along its diameter: our own choice; more places would add no information [unitless]."""

_SPECK = 8.0
"""Distance from which a pixel is dust or a scratch, not grain [robust standard deviations]: our own choice."""

_SURE = 5.0
"""The same distance in light, where the pixel must stand out in density as well: our own choice."""

_FLOOR = 30.0
"""Ratio of the mean light to the least light that counts in a search for specks, since noise may have no logarithm."""

_CHANCE = 0.05
"""Probability that grain alone sets a place of a clean patch aside: our own choice [unitless]."""

_MOST_SET_ASIDE = 0.3
"""Greatest share of a patch that may be dust [unitless]: our own choice."""

_REACH = 1.5
"""Distance up to which places are assumed to share grain [diameters]: our own choice."""

_SURFACE = ((0, 0), (0, 1), (1, 0), (0, 2), (1, 1), (2, 0))
"""Powers of the terms of the trend: our own choice."""

_ROUNDS = 5
"""Times that places are set aside and the trend is fitted anew; fewer are enough to settle [unitless]."""

_BLOCK = 32
"""Side of the blocks from whose means pixels are counted, so that no trend is left: our own choice [pixels]."""

_BEYOND = 2.5
"""Distance up to which `ApertureReadings.beyond` looks [diameters]: our own choice."""


def aperture_area(diameter: float) -> float:
    """Return the area of a circle; diameter [um], area [um2]."""
    return math.pi * diameter**2 / 4.0


def aperture_weights(diameter: float, pitch: float) -> FloatArray:
    """Return the share of each pixel in a circle centred on the middle pixel, (k, k), k odd; the shares add up to 1.

    Each share is the exact area of the pixel inside the circle, over the circle's area.

    Args:
        diameter: diameter of the circle [um].
        pitch: distance between pixels [um].
    """
    radius = diameter / 2.0
    reach = max(0, math.ceil(radius / pitch - 0.5))
    edges = np.asarray((np.arange(-reach, reach + 2) - 0.5) * pitch, dtype=np.float64)
    corner = _quadrant(edges[:, None], edges[None, :], radius)
    inside = np.diff(np.diff(corner, axis=0), axis=1)
    return np.asarray(np.maximum(inside, 0.0) / aperture_area(diameter))


def _quadrant(x: FloatArray, y: FloatArray, radius: float) -> FloatArray:
    """Return the area of the circle between the axes and (x, y), negative where x and y differ in sign."""
    sign = np.sign(x) * np.sign(y)
    u, v = np.minimum(np.abs(x), radius), np.minimum(np.abs(y), radius)
    # From 0 to ``flat`` the rectangle is as high as v, from there on the circle is lower.
    flat = np.minimum(u, np.sqrt(np.maximum(radius**2 - v**2, 0.0)))
    return np.asarray(sign * (flat * v + _under_circle(u, radius) - _under_circle(flat, radius)))


def _under_circle(u: FloatArray, radius: float) -> FloatArray:
    """Return the area under the quarter circle from 0 to u."""
    height = np.sqrt(np.maximum(radius**2 - u**2, 0.0))
    return np.asarray(0.5 * (u * height + radius**2 * np.arcsin(np.clip(u / radius, -1.0, 1.0))))


def blur_loss(diameter: float, pitch: float, neighbour: float = 0.0) -> float:
    """Return the share of grain's variance that is lost because the aperture is made of pixels [unitless].

    For grain without correlation between pixels (white) the variance through the weights w is S sum(w^2) / pitch^2,
    and through a sharp circle S / area; the ratio follows from the weights alone. Grain whose neighbouring pixels are
    correlated loses less, nearly in proportion to one less their correlation: within 0.034 for grain of an exponential
    or a Gaussian autocorrelation of any length, by numerical integration. The correction by this loss is our own
    choice: without it a film would have less granularity the coarser it is scanned.

    Args:
        diameter: diameter of the aperture [um].
        pitch: distance between pixels [um].
        neighbour: correlation of grain between neighbouring pixels, limited to 0 to 1 [unitless].
    """
    white = 1.0 - float((aperture_weights(diameter, pitch) ** 2).sum()) * aperture_area(diameter) / pitch**2
    return white * (1.0 - min(max(neighbour, 0.0), 1.0))


@dataclass(frozen=True)
class ApertureReadings:
    """The readings of an aperture over a patch, summed up.

    Attributes:
        level: mean transmittance of the places kept [unitless].
        variance: variance of the readings about the trend: density^2 for a patch, transmittance^2 for a noise frame.
        freedom: number of independent readings behind the variance [unitless].
        beyond: mean correlation of readings too far apart to share grain [unitless]: about 0 where there is only grain.
        pixel_variance: variance of single pixels [transmittance^2].
        neighbour_covariance: covariance of neighbouring pixels [transmittance^2].
        set_aside: share of the places set aside as dust or scratches [unitless].
    """

    level: float
    variance: float
    freedom: float
    beyond: float
    pixel_variance: float
    neighbour_covariance: float
    set_aside: float


def aperture_readings(
    transmittance: FloatArray, pitch: float, diameter: float, *, as_density: bool, name: str
) -> ApertureReadings:
    """Return the readings of an aperture that moves over a patch, summed up.

    As in a microdensitometer, transmittance is averaged over the aperture first and then turned into density. A
    second-order surface is removed from the readings, and the variance is raised by the grain that the surface removes.
    Places that hold a speck, or that grain alone would show in fewer than one patch in twenty, are set aside with all
    places that share pixels with them; grain is so rarely among them that the variance needs no correction.

    Args:
        transmittance: (rows, columns), linear, dark subtracted [unitless].
        pitch: distance between pixels [um].
        diameter: diameter of the aperture [um].
        as_density: True for readings of density, of a patch of film; False for transmittance, of a noise frame.
        name: name of the patch in errors.

    Raises:
        GrainError: the aperture is too narrow, or the patch too small, too dark or too dirty.
    """
    check_scale(transmittance.shape, pitch, diameter, name)
    if not np.isfinite(transmittance).all():
        raise GrainError(
            "some of its pixels have no value",
            where=name,
            needed="a patch wholly inside the picture, and inside what the calibration covers",
        )
    if as_density and transmittance.min() == transmittance.max():
        raise GrainError(
            "all its pixels are the same: it is clipped, or not a scan of film",
            where=name,
            needed="an even patch of film inside the scan's range",
            hint="scan again with less or more exposure, or take another patch",
        )
    weights = aperture_weights(diameter, pitch)
    step = max(1, int(diameter / pitch / _PER_DIAMETER))
    across = diameter / pitch / step
    light = _moved(transmittance, weights)[::step, ::step]
    if as_density and not light.min() > 0.0:
        raise GrainError(
            "a part of it is as dark as the dark frame, so its density is not known",
            where=name,
            needed="transmittances above 0 everywhere",
            hint="leave this patch out, or scan with more light",
        )
    readings = -np.log10(light) if as_density else light
    specks = _off(transmittance) > (_SURE if as_density else _SPECK)
    if as_density:
        # Grain has even tails in density, noise in light: a speck stands out in both.
        specks &= _off(np.log10(np.maximum(transmittance, light.mean() / _FLOOR))) > _SPECK
    touched = np.zeros(readings.shape, dtype=np.bool_)
    if specks.any():
        touched |= _moved(specks.astype(np.float64), (weights > 0.0).astype(np.float64))[::step, ::step] > 0.5
    apart, kept = _about_trend(readings, touched, across, name)
    variance, freedom, beyond = _scatter(apart, kept, across, 1.0 / float((weights**2).sum()) / step**2)
    pixel, neighbour = _pixels(transmittance, specks)
    return ApertureReadings(
        float(light[kept].mean()), variance, freedom, beyond, pixel, neighbour, 1.0 - float(kept.mean())
    )


def check_scale(shape: tuple[int, ...], pitch: float, diameter: float, name: str) -> None:
    """Refuse a scan too coarse for an aperture, and a patch too small for the aperture.

    Args:
        shape: rows and columns of the patch.
        pitch: distance between pixels [um].
        diameter: diameter of the aperture [um].
        name: name of the patch.

    Raises:
        GrainError: names the resolution, aperture or size that is needed.
    """
    pixels = diameter / pitch
    if pixels < FEWEST_PIXELS:
        raise GrainError(
            f"an aperture of {diameter:g} um is only {pixels:.1f} pixels wide at {UM_PER_INCH / pitch:.0f} dpi",
            where=name,
            needed=f"{FEWEST_PIXELS:g} pixels or more",
            hint=f"scan at {math.ceil(FEWEST_PIXELS * UM_PER_INCH / diameter)} dpi or more, or ask for an aperture of"
            f" {math.ceil(FEWEST_PIXELS * pitch)} um",
        )
    apertures = shape[0] * shape[1] * pitch**2 / aperture_area(diameter)
    if apertures < FEWEST_APERTURES or min(shape[:2]) < 2.0 * pixels:
        side = math.sqrt(FEWEST_APERTURES * aperture_area(diameter)) / 1000.0
        raise GrainError(
            f"{shape[1] * pitch / 1000.0:.2f} x {shape[0] * pitch / 1000.0:.2f} mm is too small for an aperture of"
            f" {diameter:g} um",
            where=name,
            needed=f"the area of {FEWEST_APERTURES:g} apertures, such as {math.ceil(100 * side) / 100:.2f} mm square",
            hint="take a larger patch, or a smaller aperture",
        )


def _moved(picture: FloatArray, weights: FloatArray) -> FloatArray:
    """Return weighted sums at every place where the weights lie wholly inside."""
    return np.asarray(oaconvolve(picture, weights, mode="valid"))


def _off(values: FloatArray) -> FloatArray:
    """Return the distance of each pixel from the median, in robust standard deviations [unitless]."""
    away = np.abs(values - np.median(values))
    usual = BY_MEDIAN * float(np.median(away)) or float(values.std()) or 1.0
    return np.asarray(away / usual)


def _about_trend(readings: FloatArray, touched: BoolArray, across: float, name: str) -> tuple[FloatArray, BoolArray]:
    """Return readings less a second-order surface, and which of them are kept.

    Args:
        readings: readings of the aperture at each place.
        touched: places that hold a speck.
        across: diameter of the aperture [places].
        name: name of the patch in errors.
    """
    y, x = (np.linspace(-1.0, 1.0, n) for n in readings.shape)
    terms = np.stack([np.outer(y**i, x**j) for i, j in _SURFACE], axis=-1)
    limit = -float(ndtri(_CHANCE / 2.0 / readings.size))
    # The first round counts from the median reading, which structure moves less than it would move a surface.
    kept = ~(touched | (_off(readings) > limit))
    for _ in range(_ROUNDS):
        if kept.mean() < 1.0 - _MOST_SET_ASIDE:
            raise GrainError(
                f"{100.0 * (1.0 - kept.mean()):.0f} % of it is dust, scratches or structure",
                where=name,
                needed="an even patch, all but clean",
                hint="clean the film, or take another part of the patch",
            )
        # The terms are few and of like size, so the normal equations are safe, and quick.
        known = terms[kept]
        surface = np.linalg.solve(known.T @ known, known.T @ readings[kept])
        apart = readings - terms @ surface
        usual = BY_MEDIAN * float(np.median(np.abs(apart[kept])))
        far = np.abs(apart) > limit * usual if usual > 0.0 else np.zeros_like(kept)
        now = ~(touched | _widened(far, across))
        if (now == kept).all():
            break
        kept = now
    return apart, kept


def _widened(far: BoolArray, across: float) -> BoolArray:
    """Return the places whose aperture shares pixels with the aperture at a far place."""
    if not far.any():
        return far
    return np.asarray(distance_transform_edt(~far) < across)


def _scatter(apart: FloatArray, kept: BoolArray, across: float, worth: float) -> tuple[float, float, float]:
    """Return the variance of readings about their trend, the number of independent readings, and their `beyond`.

    The surface removes from the grain, for each of its terms, the variance of a reading times the number of places over
    which readings are correlated. Overlapping readings are correlated: n readings count as n over the sum of their
    squared correlations, estimated up to one and a half diameters.

    Args:
        apart: readings less the surface.
        kept: True where a reading counts.
        across: diameter of the aperture [places].
        worth: places over which the readings of white grain are correlated, the sum of their correlations.
    """
    count = int(kept.sum())
    lost = min(len(_SURFACE) * worth / count, 0.5)
    values = np.where(kept, apart, 0.0)
    raw = float((values**2).sum()) / count
    if raw == 0.0:
        return 0.0, float(count), 0.0
    shape = tuple(fft.next_fast_len(n + math.ceil(_BEYOND * across), real=True) for n in apart.shape)
    products, pairs = (_correlated(a, shape) for a in (values, kept.astype(np.float64)))
    lags = np.hypot(*np.meshgrid(*(fft.fftfreq(n, 1.0 / n) for n in shape), indexing="ij"))
    known = pairs > 0.5
    near, far = known & (lags <= _REACH * across), known & (lags > _REACH * across) & (lags <= _BEYOND * across)
    near_correlation = products[near] / pairs[near] / raw
    beyond = float(products[far].sum() / max(float(pairs[far].sum()), 1.0)) / raw
    return raw / (1.0 - lost), (1.0 - lost) * count / max(1.0, float((near_correlation**2).sum())), beyond


def _correlated(values: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Return the sum of products of values at each distance in places, for every lag of ``shape``."""
    return np.asarray(fft.irfft2(np.abs(fft.rfft2(values, shape)) ** 2, shape))


def _pixels(transmittance: FloatArray, specks: BoolArray) -> tuple[float, float]:
    """Return the variance of pixels and the covariance of neighbours, without specks [transmittance^2].

    Pixels are counted from the mean of their block of 32 by 32, which removes any trend.
    """
    across = [min(_BLOCK, n) for n in transmittance.shape]
    rows, columns = (n // a for n, a in zip(transmittance.shape, across, strict=True))
    inside = np.s_[: rows * across[0], : columns * across[1]]
    blocks = np.where(specks, 0.0, transmittance)[inside].reshape(rows, across[0], columns, across[1])
    clean = ~specks[inside].reshape(blocks.shape)
    means = blocks.sum(axis=(1, 3), keepdims=True) / np.maximum(clean.sum(axis=(1, 3), keepdims=True), 1)
    apart = np.where(clean, blocks - means, 0.0)
    down = (apart[:, 1:] * apart[:, :-1]).sum(), (clean[:, 1:] & clean[:, :-1]).sum()
    along = (apart[..., 1:] * apart[..., :-1]).sum(), (clean[..., 1:] & clean[..., :-1]).sum()
    neighbours = (down[0] + along[0]) / max(down[1] + along[1], 1)
    return float((apart**2).sum() / max(clean.sum(), 1)), float(neighbours)
