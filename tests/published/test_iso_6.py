"""Speed and contrast of black-and-white negatives.

Sources: ISO 6: S = 0.8 / Hm, contrast 0.80 over 1.30 log H (read), which is an average gradient of 0.615 (calculated);
its tolerance of 0.05 and the exposures of its table, 0.0064 lux-seconds apart from those in the rounding checks, from
memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.measures import contrast
from curves.sensitometry.measures.points import dmin
from curves.sensitometry.measures.speeds import LogHOrigin, iso_6
from curves.sensitometry.uncertainty.ensemble import Ensemble
from tests.sensitometry.shapes import exact

GRID = np.linspace(-5.0, 1.0, 24_001)


def line(gain: float, hm: float = 0.008) -> Ensemble:
    """Return a straight line that reaches 0.10 above fog at ``hm`` lux-seconds and gains ``gain`` over 1.30."""
    slope = gain / 1.30
    start = math.log10(hm) - 0.10 / slope
    return exact(GRID, 0.12 + slope * np.clip(GRID - start, 0.0, None), "negative", unexposed=0.12)


def test_iso_contrast_is_an_average_gradient_of_0_615() -> None:
    film = line(0.80)
    assert contrast.average_gradient(film, dmin(film), interval=1.30).value == pytest.approx(0.615, abs=5e-4)
    assert contrast.straight_line(film).gamma[0] == pytest.approx(0.615, abs=5e-4)
    assert iso_6(film, dmin(film), "visual", LogHOrigin(seconds=0.02)).conforms


@pytest.mark.parametrize("slope", [0.45, 0.615, 0.80, 1.2])
@pytest.mark.parametrize("interval", [1.30, 1.50])
def test_over_either_interval_the_average_gradient_of_a_straight_line_is_its_slope(
    slope: float, interval: float
) -> None:
    film = line(1.30 * slope)
    assert contrast.average_gradient(film, dmin(film), interval=interval).value == pytest.approx(slope, rel=1e-3)


# Tolerance from memory.
@pytest.mark.parametrize(
    ("gain", "conforms"), [(0.745, False), (0.755, True), (0.80, True), (0.845, True), (0.855, False)]
)
def test_the_name_of_the_standard_ends_0_05_from_its_contrast(gain: float, conforms: bool) -> None:
    film = line(gain)
    found = iso_6(film, dmin(film), "visual", LogHOrigin(seconds=0.02))
    assert found.conforms is conforms
    # The speed itself does not depend on contrast, only its name does.
    assert (found.nominal, found.degrees) == (100.0, 21)


# From memory: exposures of the standard's table, each the middle of its band.
@pytest.mark.parametrize(
    ("hm", "nominal", "degrees"),
    [
        (0.064, 12, 12),
        (0.032, 25, 15),
        (0.016, 50, 18),
        (0.0125, 64, 19),
        (0.004, 200, 24),
        (0.002, 400, 27),
        (0.001, 800, 30),
        (0.0005, 1600, 33),
        (0.00025, 3200, 36),
    ],
)
def test_speeds_of_the_table(hm: float, nominal: float, degrees: int) -> None:
    film = line(0.80, hm)
    found = iso_6(film, dmin(film), "visual", LogHOrigin(seconds=0.02))
    assert found.value.value == pytest.approx(0.8 / hm, rel=2e-3)
    assert (found.nominal, found.degrees) == (nominal, degrees)


def test_a_metered_exposure_of_10_over_the_index_stands_for_the_same_speed() -> None:
    # ISO 12232 reference exposure (read): a speed point 1.097 log H below mid-grey at EI 100 is speed 100.
    film = line(0.80, 0.08)
    found = iso_6(film, dmin(film), "visual", LogHOrigin(zero=0.1, relative=True, seconds=0.02))
    assert found.value.value == pytest.approx(100.0, rel=2e-3)
    assert not found.conforms
