"""Strips of invented films, analysed, for tests of what a person sees."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from tests.sensitometry.shapes import slide

WEDGE = Wedge.nominal(21, 0.15)
_LIGHT = Contact(lux=25.0, seconds=0.8)
_DRAWS = Choices(draws=200)


def _noisy(density: FloatArray, seed: int) -> FloatArray:
    return np.asarray(np.round(density + 0.01 * np.random.default_rng(seed).standard_normal(density.shape), 2))


def _layers(log_h: FloatArray) -> dict[Channel, FloatArray]:
    red = _noisy(slide(log_h, dmin=0.31, height=2.4, centre=0.00), 1)
    green = _noisy(slide(log_h, dmin=0.40, height=2.5, centre=0.10), 2)
    blue = _noisy(slide(log_h, dmin=0.46, height=2.5, centre=0.20), 3)
    return {"red": red, "green": green, "blue": blue}


@lru_cache
def colour_reversal(title: str = "Heron 80, reversal, first developer 7:00") -> Analysis:
    """Return a colour strip that does not clear, exposed by contact, with one misread step in green."""
    position = np.arange(1.0, 22.0)
    readings = _layers(_LIGHT.log_h(position, WEDGE))
    readings["green"][9] += 0.4
    patches = Patches(
        base={"red": 0.16, "green": 0.18, "blue": 0.21},
        unexposed={"red": 2.70, "green": 2.90, "blue": 2.95},
        fully_exposed={"red": 0.31, "green": 0.40, "blue": 0.46},
    )
    return analyse(
        Strip(
            title, "reversal", "status A", _LIGHT, position, readings, WEDGE, patches=patches,
            repeatability=0.01, film="Heron 80", process="colour reversal, first developer 7 min at 38 C",
        ),
        _DRAWS,
    )  # fmt: skip


@lru_cache
def relative_reversal() -> Analysis:
    """Return a black-and-white strip that clears, photographed at EI 25."""
    position = np.arange(1.0, 22.0)
    exposure = Camera(ei=25.0, metered_step=10)
    density = _noisy(slide(0.6 * exposure.log_h(position, WEDGE), dmin=0.12, height=2.6, centre=-0.05), 4)
    patches = Patches(base={"visual": 0.06}, unexposed={"visual": 2.75}, fully_exposed={"visual": 0.12})
    return analyse(
        Strip("Wren 25, reversal", "reversal", "visual", exposure, position, {"visual": density}, WEDGE,
              patches=patches, repeatability=0.01, film="Wren 25"),
        _DRAWS,
    )  # fmt: skip


@lru_cache
def too_short() -> Analysis:
    """Return a colour strip that ends before any layer clears, with no patches: most numbers are bounds."""
    position = np.arange(9.0, 22.0)
    return analyse(
        Strip("Heron 80, too little exposure", "reversal", "status A", _LIGHT, position,
              _layers(_LIGHT.log_h(position, WEDGE)), WEDGE, film="Heron 80"),
        _DRAWS,
    )  # fmt: skip


@lru_cache
def negative() -> Analysis:
    """Return a black-and-white negative strip."""
    position = np.arange(1.0, 22.0)
    log_h = _LIGHT.log_h(position, WEDGE)
    density = _noisy(slide(-log_h, dmin=0.25, height=1.9, centre=-0.2), 5)
    return analyse(
        Strip("Wren 25, negative", "negative", "visual", _LIGHT, position, {"visual": density}, WEDGE,
              patches=Patches(base={"visual": 0.06}, unexposed={"visual": 0.25}), repeatability=0.01),
        _DRAWS,
    )  # fmt: skip
