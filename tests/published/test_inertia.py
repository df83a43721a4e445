"""The inertia of a plate and the speed that it was once sold by.

Source: Martin 1919 (read): produced downwards, the straight-line part meets the line of no density at the inertia i;
the speed is 34 / i, so i = 0.2 is speed 170. That i does not move as development goes on, because the straight lines
meet there, is from memory of the same papers of 1890.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.curve.fit import fit_curve
from curves.sensitometry.measures.contrast import averaged_gradient
from tests.sensitometry.shapes import fitted

FOG = 0.12
STEPS = np.arange(-2.1, 2.71, 0.15)


def plate(inertia: float, gamma: float, length: float = 2.0) -> FloatArray:
    """Return density at `STEPS`: a straight line from the inertia, with a toe and a shoulder ``length`` log H away."""
    start = math.log10(inertia)
    toe, shoulder = (0.08 * np.logaddexp(0.0, (STEPS - at) / 0.08) for at in (start, start + length))
    return np.asarray(FOG + gamma * (toe - shoulder))


def inertia_of(density: FloatArray) -> float:
    """Return where the straight-line part of the fitted curve meets the fog line [lux-seconds]."""
    curve = fit_curve(STEPS, density, kind="negative", repeatability=0.003, draws=0)
    film = fitted(curve, unexposed=FOG)
    middles, slopes = averaged_gradient(film)
    at = int(slopes[0].argmax())
    return float(10.0 ** (middles[at] - (np.interp(middles[at], film.grid, film.density[0]) - FOG) / slopes[0, at]))


def test_an_inertia_of_0_2_is_a_speed_of_170() -> None:
    assert 34.0 / inertia_of(plate(0.2, 1.0)) == pytest.approx(170.0, rel=0.02)


# Calculated from the rule.
@pytest.mark.parametrize(("inertia", "speed"), [(0.34, 100.0), (0.17, 200.0), (0.085, 400.0)])
def test_the_speed_is_34_over_the_inertia(inertia: float, speed: float) -> None:
    assert 34.0 / inertia_of(plate(inertia, 1.2)) == pytest.approx(speed, rel=0.02)


def test_development_raises_gamma_and_leaves_the_inertia_where_it_is() -> None:
    found = [inertia_of(plate(0.2, gamma)) for gamma in (0.6, 0.9, 1.3, 1.8)]
    assert found == pytest.approx([0.2] * 4, rel=0.02)
