"""Tone maps: from the density that a scan has to the density that a neutral picture should have, channel by channel.

A grey of the scene that gave the film log H x has in each channel the density D(x) of the channel's own curve. The
inverse of the curve finds x again, and the target, one for all channels, gives the density that the grey should have:

    balanced = target(x),  x = the log H at which the channel's curve has the scanned density

The target is the curve of the channel nearest to the eye, its contrast multiplied where a gamma is asked for; for a
negative it runs the other way, from the densest known grey down, so that a positive results. Beyond the densities that
the strip shows, a map goes on straight, by the slope that it has at its end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, eye_channel
from curves.sensitometry.core.values import Bounds, number
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

MOST_GAIN = 8.0
"""Greatest slope of a map: where a toe asks for more, noise would be all there is to see: our own choice [unitless]."""

GAMMA = Bounds(least=0.1, most=5.0)
"""A gamma that may be asked for: our own choice [unitless]."""

_PLACES = 513
"""Places in log H at which a map is known [unitless]."""

_END = 0.30
"""Length at the end of a curve over which the slope beyond it is taken: a stop, our own choice [log10]."""

_STILL = 1e-9
"""Movement that is none: rounding [log10]."""


@dataclass(frozen=True, eq=False)
class Target:
    """The scale of greys that all channels are brought to.

    Attributes:
        channel: the channel whose curve it is.
        kind: "negative" or "reversal", of the film: a negative's target is a positive.
        log_h: where it is known, ascending, (n,) [log10].
        density: the density that a grey should have, falling as log H rises, (n,) [density].
        contrast: its contrast over that of the channel's own curve [unitless].
        gamma: gamma that was asked for [density per log10 H]; None for the contrast of the film itself.
    """

    channel: Channel
    kind: str
    log_h: FloatArray
    density: FloatArray
    contrast: float
    gamma: float | None


@dataclass(frozen=True, eq=False)
class ToneMap:
    """The map of one channel from scanned density to balanced density.

    Attributes:
        scanned: densities on which the map is known, rising, (n,) [density].
        balanced: what they become, (n,) [density].
        before, after: slope below the thinnest and above the densest of them [unitless].
    """

    scanned: FloatArray
    balanced: FloatArray
    before: float
    after: float

    @property
    def known(self) -> tuple[float, float]:
        """The thinnest and the densest density that the strip shows [density]."""
        return float(self.scanned[0]), float(self.scanned[-1])

    def at(self, scanned: ArrayLike) -> FloatArray:
        """Return balanced densities, any shape [density]; straight beyond the ends of what is known."""
        d = np.asarray(scanned, dtype=np.float64)
        thin, dense = self.known
        inside = np.interp(d, self.scanned, self.balanced)
        beyond = self.before * np.minimum(d - thin, 0.0) + self.after * np.maximum(d - dense, 0.0)
        return np.asarray(inside + beyond)

    def gain(self, scanned: ArrayLike) -> FloatArray:
        """Return the factor by which the map multiplies noise at densities, any shape [unitless]."""
        d = np.asarray(scanned, dtype=np.float64)
        thin, dense = self.known
        slope = np.gradient(self.balanced, self.scanned)
        found = np.where(d < thin, self.before, np.where(d > dense, self.after, np.interp(d, self.scanned, slope)))
        return np.abs(found)


def channels_to_balance(strip: Strip) -> tuple[Channel, ...]:
    """Return the channels of a strip that a scan of it has: the three layers, or the only channel that was read.

    Raises:
        StripError: the strip has neither three layers nor one channel.
    """
    read = tuple(c for c in strip.channels if np.isfinite(strip.readings[c]).any())
    layers = tuple(c for c in LAYERS if c in read)
    if layers == LAYERS:
        return layers
    if len(read) == 1 and not layers:
        return read
    raise StripError(
        f"the strip has densities in {' and '.join(read)} alone",
        where=strip.title,
        needed="red, green and blue, which are brought together; or visual alone, of a black-and-white film",
    )


def target_of(analysis: Analysis, gamma: float | None = None) -> Target:
    """Return the scale of greys that a strip's channels are brought to.

    Args:
        analysis: the strip, analysed.
        gamma: contrast that greys should have [density per log10 H]; None for that of the film itself.

    Raises:
        StripError: the strip has no gamma to compare with, or nothing would change.
    """
    channels = channels_to_balance(analysis.strip)
    channel = eye_channel(channels)
    if gamma is not None:
        number(gamma, "gamma", GAMMA)
    kind = analysis.strip.kind
    if gamma is None and len(channels) == 1 and kind == "reversal":
        raise StripError(
            "a black-and-white slide has one channel, which is neutral already",
            where=analysis.strip.title,
            needed="a contrast to bring it to",
            settings=("gamma=1.0",),
        )
    contrast = _contrast(analysis, channel, gamma)
    log_h = _known_log_h(analysis, channels)
    curve = analysis.channels[channel].curve
    own = np.interp(log_h, curve.grid, curve.grid_density)
    density = own[-1] + contrast * (own - own[-1]) if kind == "reversal" else contrast * (own[-1] - own)
    return Target(channel, kind, log_h, density, contrast, gamma)


def _contrast(analysis: Analysis, channel: Channel, gamma: float | None) -> float:
    """Return the contrast of the target over that of the channel's own curve."""
    if gamma is None:
        return 1.0
    own = analysis.channels[channel].measures["gamma"]
    if own.value is None or own.value <= 0.0:
        raise StripError(
            f"the gamma of {channel} is not known: {own.why}",
            where=analysis.strip.title,
            needed="a strip with a gamma, if a gamma is asked for",
        )
    return gamma / own.value


def _known_log_h(analysis: Analysis, channels: tuple[Channel, ...]) -> FloatArray:
    """Return places over the log H that all channels know, (n,) [log10]."""
    grids = [analysis.channels[c].curve.grid for c in channels]
    low, high = max(float(g[0]) for g in grids), min(float(g[-1]) for g in grids)
    if not low < high:
        raise StripError("the channels have no exposure in common", where=analysis.strip.title)
    return np.linspace(low, high, _PLACES)


def tone_maps(analysis: Analysis, target: Target) -> dict[Channel, ToneMap]:
    """Return the map of each channel."""
    found = {}
    for channel in channels_to_balance(analysis.strip):
        curve = analysis.channels[channel].curve
        found[channel] = map_of(np.interp(target.log_h, curve.grid, curve.grid_density), target)
    return found


def map_of(density: FloatArray, target: Target) -> ToneMap:
    """Return the map of a channel whose greys have these densities.

    Args:
        density: along the target's log H, monotone, (n,) [density].
        target: what they are to become.
    """
    order = slice(None, None, -1) if density[0] > density[-1] else slice(None)
    scanned, wanted = density[order], target.density[order]
    sign = 1.0 if wanted[-1] >= wanted[0] else -1.0
    balanced = sign * _limited(scanned, sign * wanted)
    near = max(2, int(np.searchsorted(target.log_h - target.log_h[0], _END)))
    ends = (slice(None, near), slice(-near, None))
    before, after = (sign * _slope(scanned[end], balanced[end]) for end in ends)
    places, first = np.unique(scanned, return_index=True)
    return ToneMap(places, balanced[first], before, after)


def _limited(scanned: FloatArray, wanted: FloatArray) -> FloatArray:
    """Return rising values that rise nowhere faster than `MOST_GAIN`; others stay as they are.

    Where values rise too fast, each becomes the middle between the highest curve below them and the lowest above them
    that keep to the limit, so that what is lost is lost evenly on both sides.
    """
    apart = MOST_GAIN * np.abs(scanned[:, None] - scanned[None, :])
    return np.asarray(0.5 * ((wanted - apart).max(axis=1) + (wanted + apart).min(axis=1)))


def _slope(scanned: FloatArray, balanced: FloatArray) -> float:
    """Return the slope over one end of a map, not negative; 1 where neither density moves [unitless]."""
    moved, run = abs(float(balanced[-1] - balanced[0])), float(scanned[-1] - scanned[0])
    if max(moved, run) < _STILL:
        return 1.0
    return moved / max(run, moved / MOST_GAIN, _STILL)
