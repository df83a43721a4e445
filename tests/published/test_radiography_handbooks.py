"""Average gradients as radiography quotes them.

Sources: radiography handbooks (read): an average gradient over a density that the curve never reaches has no value.
From memory: ISO 5799, average gradient between net densities 0.25 and 2.00; ISO 7004, between 1.50 and 3.50; and that
film exposed directly to X-rays gains density in proportion to exposure, so its gradient is 2.3 times its net density.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.curve.fit import fit_curve
from curves.sensitometry.measures import contrast
from curves.sensitometry.measures.points import dmin
from tests.sensitometry.shapes import exact

X = np.linspace(-2.5, 0.7, 6401)
DIRECT = exact(X, 0.20 + 10.0**X, "negative", unexposed=0.20)


# Calculated from the proportion: (3.50 - 1.50) / lg(3.50 / 1.50) and (2.00 - 0.25) / lg(2.00 / 0.25).
@pytest.mark.parametrize(("net", "gradient"), [((1.50, 3.50), 5.435), ((0.25, 2.00), 1.938)])
def test_average_gradients_of_a_direct_exposure(net: tuple[float, float], gradient: float) -> None:
    found = contrast.average_gradient(DIRECT, dmin(DIRECT), net=net)
    assert found.value == pytest.approx(gradient, abs=2e-3)


@pytest.mark.parametrize("net", [1.0, 2.0, 3.0])
def test_the_gradient_of_a_direct_exposure_is_2_3_times_its_net_density(net: float) -> None:
    steps = np.arange(-1.95, 0.76, 0.15)
    curve = fit_curve(steps, 0.20 + 10.0**steps, kind="negative", repeatability=0.003, draws=0)
    found = np.interp(math.log10(net), curve.grid, curve.grid_gradient)
    assert found == pytest.approx(2.303 * net, rel=0.01)


# Calculated: 1.75 density over the log exposures that a table of readings would give.
@pytest.mark.parametrize(("first", "second", "gradient"), [(0.60, 1.30, 2.50), (0.55, 1.05, 3.50)])
def test_the_average_gradient_is_1_75_over_the_difference_of_log_exposure(
    first: float, second: float, gradient: float
) -> None:
    log_h = [first - 0.5, first, second, second + 0.2]
    x = np.linspace(log_h[0], log_h[-1], 5001)
    film = exact(x, 0.18 + np.interp(x, log_h, [0.0, 0.25, 2.00, 2.20]), "negative", unexposed=0.18)
    assert contrast.average_gradient(film, dmin(film), net=(0.25, 2.00)).value == pytest.approx(gradient, rel=1e-3)


@pytest.mark.parametrize("net", [(0.25, 2.00), (1.50, 3.50)])
def test_an_average_gradient_over_a_density_never_reached_has_no_value(net: tuple[float, float]) -> None:
    reached = math.log10(1.45)
    short = np.linspace(-2.5, reached, 4001)
    film = exact(short, 0.20 + 10.0**short, "negative", unexposed=0.20)
    found = contrast.average_gradient(film, dmin(film), net=net)
    assert found.value is None
    assert (found.low, found.high) == (None, None)
    assert found.why == "a point that the measure needs lies off the strip"
