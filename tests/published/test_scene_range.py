"""Scenes and what the lens leaves of them.

Sources: Jones and Condit, "The brightness scale of exterior scenes": a mean luminance range of 160:1 is 2.204 log or
7.32 stops (read and calculated); a flare factor of 4 leaves 40:1 of it in the camera (from memory). 18 % lies 0.7447
log below 100 % (calculated); that it lies 2 1/2 stops below is from memory of handbooks.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, density
from curves.sensitometry.strip.exposure import Camera
from curves.sensitometry.strip.wedge import Wedge

SCENE = Wedge(density([1.0, 0.18, 1 / 160]), np.full(3, 0.01))
"""Whitest, middle and darkest tone of the mean scene, as steps of a wedge."""


def test_the_mean_scene_spans_2_204_log_or_7_32_stops() -> None:
    assert np.ptp(SCENE.density) == pytest.approx(2.204, abs=5e-4)
    assert np.ptp(SCENE.density) / STOP == pytest.approx(7.32, abs=5e-3)


def test_18_percent_lies_0_7447_log_or_two_and_a_half_stops_below_100_percent() -> None:
    assert float(density(0.18)) == pytest.approx(0.7447, abs=5e-5)
    assert float(density(0.18)) / STOP == pytest.approx(2.5, abs=0.03)


def test_scene_white_of_90_percent_lies_0_70_above_18_percent() -> None:
    assert float(density(0.18) - density(0.90)) == pytest.approx(Choices().white, abs=2e-3)


@pytest.mark.parametrize(("factor", "image"), [(1.0, 160.0), (2.0, 80.0), (4.0, 40.0)])
def test_a_flare_factor_divides_the_range_that_reaches_the_film(factor: float, image: float) -> None:
    # Calculated: (1 + f) / (1 / 160 + f) = 160 / factor for stray light of a fraction f of the whitest tone's.
    flare = (factor - 1.0) / (160.0 - factor)
    log_h = Camera(ei=100.0, metered_step=2, flare=flare).log_h(np.array([1.0, 3.0]), SCENE)
    assert 10.0 ** (log_h[0] - log_h[1]) == pytest.approx(image, rel=1e-9)


def test_flare_compresses_shadows_and_spares_highlights() -> None:
    # Calculated: a flare factor of 4 lifts the darkest tone by two stops and the whitest by 0.03.
    plain, flared = (
        Camera(ei=100.0, metered_step=2, flare=flare).log_h(np.array([1.0, 3.0]), SCENE) for flare in (0.0, 3.0 / 156.0)
    )
    assert (flared - plain) / STOP == pytest.approx([0.027, 2.027], abs=1e-3)
