"""Scans that nobody made: a strip on a holder, lit unevenly, with dust and scratches, as a scanner would record it.

The physical model, which shares no code with the package. Every pixel looks at a point of the scene: film with the
steps on it, film beside them, the empty gate or the opaque holder. Grain is noise whose Wiener spectrum is Gaussian,
exp(-(2 pi 0.6 f)^2) with f in cycles a pixel, grown with the root of the density above base; grain of a stated
granularity is made by `tests.simulate_grain`. Light passes, is blurred by the lens, falls
off toward the corners; a share of all of it is scattered over the whole picture (flare); the sensor adds shot noise and
read noise; the number is encoded and rounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Array = NDArray[np.float64]
Numbers = NDArray[np.uint16] | NDArray[np.uint8]
OPAQUE = 4.5
"""Density of the holder."""

Around = Literal["film", "gate", "holder"]


@dataclass(frozen=True)
class ScanScene:
    """What lies on the scanner, and how it scans.

    Attributes:
        densities: true density of each step, from step 1, (steps, samples).
        film: density of the film beside the steps, (samples,).
        base: density of the support, (samples,); grain grows with density above it.
        width, height: of the picture [pixels].
        pitch, across: length of a step along the strip, and width of the strip [pixels].
        angle: of the strip's direction to the picture's x axis [degrees].
        turned: quarter turns of the whole picture; 2 reverses the strip.
        before, after: length of film beyond the first and the last step [pixels].
        beside: width of film on either side of the steps [pixels].
        beyond: what lies where there is no film.
        chips: pieces of film that lie beside: left, top, right, bottom [pixels], and their density.
        wedge: densities of a calibration wedge in the same frame, (steps, samples); None without one.
        wedge_pitch, wedge_across: length of its steps, and its width [pixels].
        wedge_aside: its middle, across from the strip's [pixels].
        border: width of the opaque frame at the picture's own edges [pixels].
        fall_off: light lost in the corners [of the light in the middle].
        flare: share of the picture's mean light that is scattered over all of it [unitless].
        grain: standard deviation of density in one pixel, at density 1 above base [density].
        noise: read noise [of full scale]; shot noise is that of `full_well` electrons.
        full_well: electrons at full scale.
        dust: number of specks.
        scratch: True if a scratch runs across.
        blur: standard deviation of the lens's blur [pixels].
        clear: number that the empty gate is recorded as, before flare [of full scale].
        dark: number that no light is recorded as [of full scale].
        encode: turns light into numbers, both of full scale.
        bits: 8 or 16.
    """

    densities: Array
    film: Array
    base: Array
    width: int = 1000
    height: int = 600
    pitch: float = 36.0
    across: float = 110.0
    angle: float = 0.0
    turned: int = 0
    before: float = 60.0
    after: float = 60.0
    beside: float = 40.0
    beyond: Around = "holder"
    chips: tuple[tuple[int, int, int, int, float], ...] = ()
    wedge: Array | None = None
    wedge_pitch: float = 36.0
    wedge_across: float = 80.0
    wedge_aside: float = 200.0
    border: float = 0.0
    fall_off: float = 0.0
    flare: float = 0.0
    grain: float = 0.0
    noise: float = 1e-4
    full_well: float = 2e5
    dust: int = 0
    scratch: bool = False
    blur: float = 0.7
    clear: float = 0.9
    dark: float = 0.002
    encode: Callable[[Array], Array] = np.asarray
    bits: int = 16


@dataclass(frozen=True)
class Made:
    """A scan and its truth.

    Attributes:
        picture: (height, width, samples), 8 or 16 bit.
        empty: the same holder without film, for a flat field.
        corners: x and y of the ladder's corners: both of step 1's outer edge, then both of the last step's, going
            round, (4, 2) [pixels, from the outer corner of the first pixel].
        densities: true density of each step, (steps, samples).
    """

    picture: Numbers
    empty: Numbers
    corners: Array
    densities: Array


def scan(scene: ScanScene, seed: int) -> Made:
    """Return what the scanner makes of a scene."""
    rng = np.random.default_rng((2026, seed))
    steps, samples = scene.densities.shape
    along, aside = _coordinates(scene)
    length = steps * scene.pitch
    number = np.clip(np.floor(along / scene.pitch).astype(int), 0, steps - 1)
    on_step = (along >= 0) & (along < length) & (np.abs(aside) <= scene.across / 2)
    on_film = (
        (along >= -scene.before) & (along < length + scene.after) & (np.abs(aside) <= scene.across / 2 + scene.beside)
    )
    outside = {"film": scene.film, "gate": np.zeros(samples), "holder": np.full(samples, OPAQUE)}[scene.beyond]
    density = np.where(on_film[..., None], scene.film, outside)
    density = np.where(on_step[..., None], scene.densities[number], density)
    if scene.wedge is not None:
        number = np.floor(along / scene.wedge_pitch).astype(int)
        on_wedge = (number >= 0) & (number < len(scene.wedge))
        on_wedge &= np.abs(aside - scene.wedge_aside) <= scene.wedge_across / 2
        density = np.where(on_wedge[..., None], scene.wedge[np.clip(number, 0, len(scene.wedge) - 1)], density)
    for left, top, right, bottom, of_chip in scene.chips:
        density[top:bottom, left:right] = of_chip
    filmed = (on_film | (scene.beyond == "film"))[..., None]
    coarse = ndimage.gaussian_filter(rng.standard_normal((*along.shape, samples)), (0.6, 0.6, 0))
    coarse /= coarse.std()
    grown = scene.grain * np.sqrt(np.maximum(density - scene.base, 0.02))
    # A step's density is that of its mean light, as a densitometer has it; grain must not make it brighter.
    density = density + np.where(filmed, grown * coarse + 0.5 * math.log(10.0) * grown**2, 0.0)
    density = density + _dirt(scene, along.shape, rng)[..., None]
    mask = _border(scene, along.shape)
    light = np.where(mask[..., None], 10.0**-OPAQUE, 10.0**-density)
    empty_density = np.where(mask, OPAQUE, 0.0 if scene.beyond != "holder" else np.where(on_film, 0.0, OPAQUE))
    empty = np.repeat(10.0 ** -empty_density[..., None], samples, axis=2)
    picture, bare = (_recorded(scene, seen, rng) for seen in (light, empty))
    return Made(_turned(picture, scene), _turned(bare, scene), _corners(scene, steps), scene.densities)


def _turned(picture: Numbers, scene: ScanScene) -> Numbers:
    rows_first = np.ascontiguousarray(np.rot90(picture, scene.turned))
    return rows_first.astype(np.uint8) if picture.dtype == np.uint8 else rows_first.astype(np.uint16)


def _coordinates(scene: ScanScene) -> tuple[Array, Array]:
    """Return for each pixel its place along the strip, from the start of step 1, and across it from the middle."""
    y, x = np.mgrid[0 : scene.height, 0 : scene.width] + 0.5
    turn = math.radians(scene.angle)
    dx, dy = x - scene.width / 2, y - scene.height / 2
    steps = scene.densities.shape[0]
    middle = (steps * scene.pitch + scene.after - scene.before) / 2
    along = dx * math.cos(turn) + dy * math.sin(turn) + middle
    return along, -dx * math.sin(turn) + dy * math.cos(turn)


def _corners(scene: ScanScene, steps: int) -> Array:
    """Return the ladder's corners in the picture as it is turned."""
    turn = math.radians(scene.angle)
    middle = (steps * scene.pitch + scene.after - scene.before) / 2
    half = scene.across / 2
    found = []
    for along, aside in ((0.0, -half), (0.0, half), (steps * scene.pitch, half), (steps * scene.pitch, -half)):
        u, v = along - middle, aside
        x = u * math.cos(turn) - v * math.sin(turn) + scene.width / 2
        y = u * math.sin(turn) + v * math.cos(turn) + scene.height / 2
        width, height = scene.width, scene.height
        for _ in range(scene.turned % 4):
            x, y = y, width - x
            width, height = height, width
        found.append((x, y))
    return np.array(found)


def _dirt(scene: ScanScene, shape: tuple[int, ...], rng: np.random.Generator) -> Array:
    """Return the density that dust and a scratch add; a scratch takes some off."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    added = np.zeros(shape)
    for _ in range(scene.dust):
        cx, cy = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        size, long = rng.uniform(0.8, 4.0), rng.uniform(1.0, 4.0)
        turn, dense = rng.uniform(0, math.pi), rng.uniform(0.3, 2.0)
        reach = int(4 * size * long) + 2
        part = np.s_[
            max(int(cy) - reach, 0) : int(cy) + reach + 1,
            max(int(cx) - reach, 0) : int(cx) + reach + 1,
        ]
        u = (x[part] - cx) * math.cos(turn) + (y[part] - cy) * math.sin(turn)
        v = (y[part] - cy) * math.cos(turn) - (x[part] - cx) * math.sin(turn)
        added[part] += np.where((u / (size * long)) ** 2 + (v / size) ** 2 < 1.0, dense, 0.0)
    if scene.scratch:
        turn, place = rng.uniform(0, math.pi), rng.uniform(-0.25, 0.25) * shape[0]
        away = (x - shape[1] / 2) * math.sin(turn) - (y - shape[0] / 2) * math.cos(turn) - place
        added += np.where(np.abs(away) < 1.3, rng.choice([-0.25, 0.6]), 0.0)
    return added


def _border(scene: ScanScene, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    inside = np.minimum(np.minimum(x, shape[1] - 1 - x), np.minimum(y, shape[0] - 1 - y))
    return np.asarray(inside < scene.border)


def _recorded(scene: ScanScene, light: Array, rng: np.random.Generator) -> Numbers:
    """Return the numbers of a picture of so much transmitted light."""
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    away = np.hypot(x / light.shape[1] - 0.5, y / light.shape[0] - 0.5) / math.hypot(0.5, 0.5)
    lit = ndimage.gaussian_filter(light, (scene.blur, scene.blur, 0)) * (1.0 - scene.fall_off * away**2)[..., None]
    lit = lit + scene.flare * lit.mean(axis=(0, 1))
    signal = scene.clear * lit
    shot = np.sqrt(np.maximum(signal, 0.0) / scene.full_well)
    signal = signal + shot * rng.standard_normal(light.shape) + scene.noise * rng.standard_normal(light.shape)
    most = 2**scene.bits - 1
    numbers: Array = np.rint(most * np.clip(scene.encode(np.clip(signal + scene.dark, 0.0, 1.0)), 0.0, 1.0))
    return numbers.astype(np.uint8) if scene.bits == 8 else numbers.astype(np.uint16)
