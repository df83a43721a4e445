"""Speed of colour negative film.

Source: ISO 5800, from memory: points 0.15 above Dmin in each layer, Hm the geometric mean of green and the slowest
layer, S = sqrt 2 / Hm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import LAYERS, FloatArray
from curves.sensitometry.measures.points import dmin
from curves.sensitometry.measures.speeds import LogHOrigin, iso_5800
from curves.sensitometry.uncertainty.results import Speed
from tests.sensitometry.shapes import exact

GRID = np.linspace(-5.0, 1.0, 24_001)


def speed_of(red: float, green: float, blue: float, grid: FloatArray = GRID) -> Speed:
    """Return the speed of straight layers that lie 0.15 above their own Dmin at these exposures [lux-seconds]."""
    layers = {}
    for channel, hm, fog in zip(LAYERS, (red, green, blue), (0.25, 0.60, 0.85), strict=True):
        start = math.log10(hm) - 0.15 / 0.65
        film = exact(grid, fog + 0.65 * np.clip(grid - start, 0.0, None), "negative", unexposed=fog)
        layers[channel] = film, dmin(film)
    return iso_5800(layers, "status M", LogHOrigin(seconds=0.02))


# From memory: exposures of the usual speeds, sqrt 2 / S.
@pytest.mark.parametrize(("hm", "nominal"), [(0.0566, 25), (0.00707, 200), (0.00354, 400), (0.00177, 800)])
def test_exposures_of_the_usual_speeds(hm: float, nominal: float) -> None:
    found = speed_of(hm, hm, hm)
    assert found.nominal == nominal
    assert found.value.value == pytest.approx(nominal, rel=5e-3)
    assert found.conforms


def test_only_green_and_the_slowest_layer_count() -> None:
    # Calculated from the rule: green at 0.01 and the slowest at 0.02 make Hm = sqrt 0.0002.
    for red, blue in ((0.02, 0.005), (0.02, 0.0125), (0.0125, 0.02)):
        assert speed_of(red, 0.01, blue).value.value == pytest.approx(math.sqrt(2.0 / 0.0002), rel=2e-3)


def test_a_green_layer_that_is_the_slowest_counts_alone() -> None:
    assert speed_of(0.005, 0.014142, 0.005).value.value == pytest.approx(100.0, rel=2e-3)


def bound_of(speed: Speed, side: str) -> float:
    """Return the bound of a speed that lies on one side of it."""
    assert speed.value.value is None
    assert speed.value.bound is not None
    assert speed.value.bound[0] == side
    return speed.value.bound[1]


def test_a_layer_that_starts_beyond_the_strip_makes_the_speed_a_bound() -> None:
    # Calculated from the rule: the strip ends at 0.02, blue starts later, so that Hm is over sqrt(0.01 * 0.02).
    speed = speed_of(0.01, 0.01, 0.04, np.linspace(-5.0, math.log10(0.02), 20_001))
    assert bound_of(speed, "<") == pytest.approx(math.sqrt(2.0 / 0.0002), rel=2e-3)
    assert "the point of blue lies off the strip" in speed.why_not
    assert "blue point" in str(speed.value.why)
    both = speed_of(0.01, 0.04, 0.04, np.linspace(-5.0, math.log10(0.02), 20_001))
    assert bound_of(both, "<") == pytest.approx(math.sqrt(2.0) / 0.02, rel=2e-3)


def test_a_strip_that_begins_too_late_bounds_the_speed_from_below() -> None:
    # Calculated from the rule: every layer has passed its point where the strip begins, at 0.02.
    speed = speed_of(0.01, 0.01, 0.01, np.linspace(math.log10(0.02), 1.0, 20_001))
    assert bound_of(speed, ">") == pytest.approx(math.sqrt(2.0) / 0.02, rel=2e-3)


def test_a_fast_layer_whose_point_lies_before_the_strip_changes_nothing() -> None:
    # Calculated from the rule: green and red at 0.04; blue passed its point before the strip begins, at 0.02.
    speed = speed_of(0.04, 0.04, 0.01, np.linspace(math.log10(0.02), 1.0, 20_001))
    assert speed.value.value == pytest.approx(math.sqrt(2.0) / 0.04, rel=2e-3)
    assert speed.nominal == 32
