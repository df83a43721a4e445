"""Invented films scanned with a known granularity, as `compare` takes them."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from curves.sensitometry.grain.film_grain import Film
from tests.simulate_grain import grain_field

DENSITIES = (0.3, 0.8, 1.2, 2.0)
_READ, _SHOT = 0.001, 0.004


def film(
    name: str,
    granularity: float,
    *,
    seed: int = 0,
    samples: int = 1,
    side: int = 240,
    densities: tuple[float, ...] = DENSITIES,
    dpi: float = 4800.0,
    frames: bool = True,
    sharpened: float = 0.0,
) -> Film:
    """Return a film whose patches all have one granularity through 48 um, in every layer [1000 x density].

    Args:
        name: of the film.
        granularity: of every patch and layer.
        seed: of its random numbers.
        samples: 1 for a grey scan, 3 for red, green and blue, whose grain is independent.
        side: of each patch [pixels].
        densities: of the patches [density].
        dpi: of the scan.
        frames: True to scan a clear and a dark frame too.
        sharpened: amount of an unsharp mask of one pixel that the scanner puts on; 0 for none.
    """
    rng, pitch = np.random.default_rng((seed, 17)), 25400.0 / dpi

    def scanned(light: np.ndarray) -> np.ndarray:
        seen = light + np.sqrt(_READ**2 + _SHOT**2 * light) * rng.standard_normal(light.shape)
        return np.asarray(seen + sharpened * (seen - gaussian_filter(seen, (1.0, 1.0, 0.0))))

    patches = []
    for density in densities:
        layers = [grain_field(side, side, pitch, granularity, 2.0, rng) for _ in range(samples)]
        patches.append(scanned(10.0 ** -(density + np.stack(layers, axis=-1))))
    shape = (side, side, samples)
    return Film(
        name,
        patches,
        pitch,
        labels=[f"step {n}" for n in range(1, len(densities) + 1)],
        clear=scanned(np.ones(shape)) if frames else None,
        dark=scanned(np.zeros(shape)) if frames else None,
        file_dpi=dpi,
    )
