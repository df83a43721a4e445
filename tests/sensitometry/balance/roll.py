"""A roll of grey and coloured patches on an invented film, and a strip of the film, both seen by one scanner."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Strip
from tests import spectral
from tests.simulate import HERON_AS_SLIDE, HERON_NEGATIVE, Array, Film, Layer, emulsions

LOG_H: Array = np.arange(-1.5, 1.6, 0.15)
"""Log H of the strip's steps [log10 lux-seconds]."""

CROSSED = Film(
    "reversal",
    {
        "red": Layer(0.06, 0.05, 2.6, emulsions(-0.25, 0.5, 0.40)),
        "green": Layer(0.10, 0.12, 3.1, emulsions(-0.05, 0.8, 0.55)),
        "blue": Layer(0.16, 0.10, 3.4, emulsions(0.20, 1.0, 0.65)),
    },
)
"""Three layers unlike in place, contrast, Dmin and Dmax, so that greys turn from one colour to another."""

FILMS = {"slide": HERON_AS_SLIDE, "crossed": CROSSED, "negative": HERON_NEGATIVE}


def strip_of(film: Film, rng: np.random.Generator, noise: float) -> Strip:
    """Return the strip of a film as a scan gives it: greys, read with some scatter [density]."""
    read = spectral.scanned(film, dict.fromkeys(spectral.LAYERS, LOG_H))
    return Strip(
        title="simulated",
        kind="negative" if film.kind == "negative" else "reversal",
        density="scan",
        exposure=GivenExposure("lux-seconds", uncertainty_stops=0.0, meter_uncertainty_stops=0.0),
        position=LOG_H,
        readings={
            "red": read["red"] + noise * rng.standard_normal(LOG_H.size),
            "green": read["green"] + noise * rng.standard_normal(LOG_H.size),
            "blue": read["blue"] + noise * rng.standard_normal(LOG_H.size),
        },
        repeatability=noise,
        reader_zero=0.0,
    )


def greys(film: Film, rng: np.random.Generator, count: int = 60) -> tuple[Array, dict[str, Array]]:
    """Return greys of a roll along the strip's range: log H of each, and its densities by channel."""
    log_h = np.sort(rng.uniform(LOG_H[0], LOG_H[-1], count))
    return log_h, spectral.scanned(film, dict.fromkeys(spectral.LAYERS, log_h))


def colours(film: Film, rng: np.random.Generator, count: int = 200) -> tuple[dict[str, Array], dict[str, Array]]:
    """Return colours of a roll: the log H of each layer, up to a stop from the mean, and densities by channel."""
    middle = rng.uniform(-0.7, 0.7, count)
    log_h = {c: middle + rng.uniform(-0.30, 0.30, count) for c in spectral.LAYERS}
    return log_h, spectral.scanned(film, log_h)
