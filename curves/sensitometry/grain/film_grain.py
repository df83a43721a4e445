"""Granularity against density: the patches of a film, channel by channel, and interpolation between patches."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from curves.errors import GrainError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, VISUAL_WEIGHTS, Channel, FloatArray
from curves.sensitometry.grain.aperture import UM_PER_INCH
from curves.sensitometry.grain.granularity import APERTURE, Granularity, ScannerNoise, rms_granularity, scanner_noise
from curves.sensitometry.grain.scan_signs import signs_of_processing
from curves.sensitometry.uncertainty.results import Notice

NoiseKnown = Literal["clear and dark", "clear", "nothing"]

DENSITY = 1.0
"""Visual density at which granularity is usually stated [density]: ISO 10505."""

SAME_DENSITY = 0.05
"""Distance from the density asked for within which a patch's granularity stands [density]: our own choice."""

_NEAR = 0.15
"""Distance from the density asked for to which a patch's granularity is carried [density]: our own choice."""

_GROWTH = 0.0, 0.5, 1.0
"""Power of density with which granularity grows, least, usual and most [unitless]: 0.5 for grains that lie at random,
from the literature of granularity; the others are our own choice."""

_WIDEST_GAP = 1.0
"""Greatest distance of two patches for an interpolation between them [density]: our own choice."""

_MUCH_SET_ASIDE = 0.05
"""Share of a patch set aside as dust from which there is a notice [unitless]: our own choice."""

_DPI_APART = 0.01
"""Share by which a stated resolution may differ from the file's own [unitless]: our own choice."""


@dataclass(frozen=True, eq=False)
class Film:
    """The scan of one film: patches of even density, and frames for the scanner's noise.

    Attributes:
        name: name of the film.
        patches: each (rows, columns, samples) with 1 sample (grey) or 3 (red, green, blue): transmittance, linear, dark
            subtracted, flare subtracted where it is known [unitless].
        pitch: distance between pixels [um].
        labels: names of the patches in messages; "patch 1" and so on if empty.
        clear, dark: frames without film and without light on the same scale, (rows, columns, samples); None if not
            given.
        file_dpi: resolution that the file states [dots per inch]; None if it states none.
        doubt: why the transmittances are doubtful, a sentence; "" if they are not.
    """

    name: str
    patches: Sequence[FloatArray]
    pitch: float
    labels: Sequence[str] = ()
    clear: FloatArray | None = None
    dark: FloatArray | None = None
    file_dpi: float | None = None
    doubt: str = ""

    @property
    def dpi(self) -> float:
        """Resolution that the pitch stands for [dots per inch]."""
        return UM_PER_INCH / self.pitch

    def label(self, number: int) -> str:
        """Return the name of patch ``number``, counted from 0."""
        return self.labels[number] if number < len(self.labels) else f"patch {number + 1}"


@dataclass(frozen=True)
class GrainPoint:
    """The granularity of one patch in one channel.

    Attributes:
        label: name of the patch.
        patch: number of the patch among the film's, from 0.
        found: granularity of the patch.
    """

    label: str
    patch: int
    found: Granularity


@dataclass(frozen=True)
class ChannelGrain:
    """Granularity against density in one channel.

    Attributes:
        channel: red, green, blue or visual.
        points: granularity of each patch, by rising density.
        at: granularity at the density asked for [1000 x density], or the reason why it is missing; its note names the
            patches that it comes from.
    """

    channel: Channel
    points: tuple[GrainPoint, ...]
    at: Quantity


@dataclass(frozen=True)
class FilmGrain:
    """The grain of one film.

    Attributes:
        name: name of the film.
        dpi: resolution of the scan [dots per inch].
        channels: grain by channel; visual is always among them.
        estimated: True if visual transmittance was mixed from red, green and blue.
        noise_known: "clear and dark", "clear" or "nothing": the frames that the scanner's noise was found from.
        refused: patches on which grain could not be measured, each with the reason, a sentence.
        signs: signs of sharpening or smoothing, a sentence; None if there are none.
        warnings: notices about the film.
    """

    name: str
    dpi: float
    channels: Mapping[Channel, ChannelGrain]
    estimated: bool
    noise_known: NoiseKnown
    refused: tuple[str, ...] = ()
    signs: str | None = None
    warnings: tuple[Notice, ...] = field(default=())


def measure_film(film: Film, aperture: float = APERTURE, density: float = DENSITY) -> FilmGrain:
    """Return the granularity of a film in every channel and in visual density, against density and at one density.

    Args:
        film: the scan of the film.
        aperture: diameter of the aperture [um].
        density: density at which to state granularity, the same in every channel [density].

    Raises:
        GrainError: grain cannot be measured on any of the patches; gives the reason for the first patch.
    """
    seen = [channel_transmittances(patch) for patch in film.patches]
    if not seen:
        raise GrainError("it has no patches", where=film.name, needed="one even patch at least")
    noises = _noises(film, aperture)
    points: dict[Channel, list[GrainPoint]] = {channel: [] for channel in seen[0]}
    refused: list[GrainError] = []
    for number, channels in enumerate(seen):
        try:
            found = {
                channel: rms_granularity(
                    transmittance,
                    film.pitch,
                    aperture,
                    noise=noises.get(channel),
                    name=f"{film.name}, {film.label(number)}, {channel}",
                )
                for channel, transmittance in channels.items()
            }
        except GrainError as error:
            refused.append(error)
            continue
        for channel, one in found.items():
            points[channel].append(GrainPoint(film.label(number), number, one))
    if not points["visual"]:
        raise refused[0]
    grains = {channel: _channel(channel, measured, density) for channel, measured in points.items()}
    nearest = min(points["visual"], key=lambda p: abs(p.found.density - density))
    unfilmed = None if film.clear is None else channel_transmittances(film.clear)["visual"]
    signs = signs_of_processing(seen[nearest.patch]["visual"], unfilmed)
    noise = noises.get("visual")
    known: NoiseKnown = "nothing" if noise is None else "clear" if noise.dark is None else "clear and dark"
    return FilmGrain(
        name=film.name,
        dpi=film.dpi,
        channels=grains,
        estimated=len(grains) > 1,
        noise_known=known,
        refused=tuple(f"{error.where}: {error.what}; needed: {error.needed}" for error in refused),
        signs=signs,
        warnings=tuple(_warnings(film, points["visual"], known, signs)),
    )


def channel_transmittances(picture: FloatArray) -> dict[Channel, FloatArray]:
    """Return the transmittance of each channel and the visual one, each (rows, columns) [unitless].

    Visual transmittance of red, green and blue is their mixture by `units.VISUAL_WEIGHTS`, pixel by pixel: an estimate.

    Args:
        picture: (rows, columns, samples) with 1 or 3 samples [unitless].
    """
    if picture.shape[2] == 1:
        return {"visual": np.ascontiguousarray(picture[..., 0])}
    layers: dict[Channel, FloatArray] = {c: np.ascontiguousarray(picture[..., i]) for i, c in enumerate(LAYERS)}
    return {**layers, "visual": np.asarray(sum(VISUAL_WEIGHTS[c] * layers[c] for c in LAYERS))}


def at_density(points: Sequence[GrainPoint], density: float) -> Quantity:
    """Return the granularity at a density: of a patch within 0.05 of the density, or between its two neighbours.

    The logarithm of granularity is interpolated linearly between neighbours, and so are the ends of its interval, as if
    the two patches had the same errors: rather too wide than too narrow. Both are our own choice. Where all patches lie
    on one side and the nearest within 0.15, its granularity is taken to grow with the root of density, and the interval
    holds no growth and growth in proportion. Nothing is carried further.

    Args:
        points: granularity of each patch, by rising density.
        density: the density asked for [density].
    """
    nearest = min(points, key=lambda p: abs(p.found.density - density))
    if abs(nearest.found.density - density) <= SAME_DENSITY + 1e-9:
        return _noted(nearest.found.rms, f"{nearest.label}, at {nearest.found.density:.2f}")
    below = [p for p in points if p.found.density < density]
    above = [p for p in points if p.found.density > density]
    if (not below or not above) and abs(nearest.found.density - density) <= _NEAR:
        return _carried(nearest, density)
    if not below or not above:
        there = (
            f"the patch's density is {points[0].found.density:.2f}"
            if len(points) == 1
            else f"the patches' densities are {points[0].found.density:.2f} to {points[-1].found.density:.2f}"
        )
        return Quantity.missing(
            f"{there}, and {density:g} lies {'below' if not below else 'above'};"
            f" measure a patch nearer to {density:g}, or ask for a density between those of the patches"
        )
    first, last = below[-1], above[0]
    span = last.found.density - first.found.density
    if span > _WIDEST_GAP:
        return Quantity.missing(
            f"the neighbouring patches, at {first.found.density:.2f} and {last.found.density:.2f}, are too far apart;"
            " measure a patch between them"
        )
    one, other = first.found.rms, last.found.rms
    share = (density - first.found.density) / span
    why = one.why or other.why
    if why is not None:
        bounds = [q.bound[1] if q.bound else q.high for q in (one, other)]
        known = [b for b in bounds if b is not None]
        return Quantity.missing(why, below=max(known) if len(known) == 2 else None)
    value, low, high = (
        _between(a, b, share) for a, b in ((one.value, other.value), (one.low, other.low), (one.high, other.high))
    )
    note = f"between {first.label} at {first.found.density:.2f} and {last.label} at {last.found.density:.2f}"
    between = Quantity(value, low, high, "estimated", note=one.note, u=(high - low) / 3.92)
    return _noted(between, note)


def _carried(point: GrainPoint, density: float) -> Quantity:
    """Return a patch's granularity as it would be at a density nearby."""
    rms, there = point.found.rms, max(point.found.density, 0.1)
    if rms.value is None or rms.low is None or rms.high is None:
        return _noted(rms, f"{point.label}, at {point.found.density:.2f}")
    least, usual, most = sorted((max(density, 0.1) / there) ** power for power in _GROWTH)
    low, high = rms.low * least, rms.high * most
    carried = Quantity(rms.value * usual, low, high, "estimated", note=rms.note, u=(high - low) / 3.92)
    return _noted(carried, f"carried from {point.label} at {point.found.density:.2f}")


def _between(one: float | None, other: float | None, share: float) -> float:
    """Return a number between two others by linear interpolation of logarithms; 0 if either is 0 or missing."""
    if not one or not other:
        return 0.0
    return math.exp((1.0 - share) * math.log(one) + share * math.log(other))


def _noted(q: Quantity, note: str) -> Quantity:
    joined = f"{note}; {q.note}" if q.note else note
    return Quantity(q.value, q.low, q.high, q.how, q.bound, q.why, joined, q.u)


def _channel(channel: Channel, points: Sequence[GrainPoint], density: float) -> ChannelGrain:
    rising = tuple(sorted(points, key=lambda p: p.found.density))
    return ChannelGrain(channel, rising, at_density(rising, density))


def _noises(film: Film, aperture: float) -> dict[Channel, ScannerNoise]:
    if film.clear is None:
        return {}
    clear = channel_transmittances(film.clear)
    dark: Mapping[Channel, FloatArray] = {} if film.dark is None else channel_transmittances(film.dark)
    return {
        channel: scanner_noise(frame, dark.get(channel), film.pitch, aperture, name=film.name)
        for channel, frame in clear.items()
    }


def _warnings(film: Film, points: Sequence[GrainPoint], known: NoiseKnown, signs: str | None) -> list[Notice]:
    """Return the notices about one film, each a sentence without its full stop."""
    found = [Notice("scan-doubt", f"{film.name}: {film.doubt.rstrip('.')}")] if film.doubt else []
    if film.file_dpi is not None and abs(film.file_dpi / film.dpi - 1.0) > _DPI_APART:
        found.append(
            Notice(
                "scale",
                f"{film.name}: the scan is taken as {film.dpi:.0f} dpi, but the file states {film.file_dpi:.0f} dpi;"
                " if the scale is wrong, so is the aperture, and granularity in inverse proportion",
            )
        )
    if signs is not None:
        found.append(Notice("processing", f"{film.name}: {signs}"))
    if known == "nothing":
        found.append(
            Notice("noise", f"{film.name}: the scanner's noise is not known and counts as grain; give a clear frame")
        )
    elif known == "clear":
        found.append(
            Notice(
                "noise",
                f"{film.name}: noise in the dark is not known, which makes the intervals wider; give a dark frame",
            )
        )
    found += [
        Notice("dust", f"{film.name}, {p.label}: {100.0 * p.found.set_aside:.0f} % set aside as dust or scratches")
        for p in points
        if p.found.set_aside > _MUCH_SET_ASIDE
    ]
    found += [
        Notice("uneven", f"{film.name}, {p.label}: {p.found.uneven}") for p in points if p.found.uneven is not None
    ]
    return found
