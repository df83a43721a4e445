"""Neutral filters and screens.

Source: the table of neutral density filters that handbooks of filters carry, from memory: density, transmittance to a
whole per cent, factor, stops in thirds. That densities of filters in a stack add is read.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from curves.sensitometry.core.units import STOP, density, transmittance
from curves.sensitometry.strip.wedge import Wedge

# Density, per cent, filter factor, stops.
TABLE = [
    (0.1, 80.0, 1.25, 1 / 3),
    (0.2, 63.0, 1.5, 2 / 3),
    (0.3, 50.0, 2.0, 1),
    (0.4, 40.0, 2.5, 4 / 3),
    (0.5, 32.0, 3.0, 5 / 3),
    (0.6, 25.0, 4.0, 2),
    (0.7, 20.0, 5.0, 7 / 3),
    (0.8, 16.0, 6.0, 8 / 3),
    (0.9, 13.0, 8.0, 3),
    (1.0, 10.0, 10.0, 10 / 3),
    (2.0, 1.0, 100.0, 20 / 3),
    (3.0, 0.1, 1000.0, 10),
    (4.0, 0.01, 10000.0, 40 / 3),
]


@pytest.mark.parametrize(("d", "percent", "factor", "stops"), TABLE)
def test_the_table_of_neutral_densities(d: float, percent: float, factor: float, stops: float) -> None:
    assert 100.0 * float(transmittance(d)) == pytest.approx(percent, rel=0.035)
    # The table rounds factors down to handy numbers.
    assert 1.0 / float(transmittance(d)) == pytest.approx(factor, rel=0.06)
    assert d / STOP == pytest.approx(stops, abs=0.05)


@pytest.mark.parametrize("screens", list(itertools.combinations([0.10, 0.15, 0.30, 0.60, 0.90], 3)))
def test_densities_of_screens_in_a_stack_add(screens: tuple[float, ...]) -> None:
    through = np.prod(transmittance(np.array(screens)))
    assert float(density(through)) == pytest.approx(sum(screens))


def test_thirds_of_a_stop_are_tenths_of_density() -> None:
    # From memory of the same table, which is why filters come in tenths: exact to the second decimal up to 1.00.
    assert [round(n / 3 * STOP, 2) for n in range(1, 11)] == [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]


# From memory: the usual step tablets. 21 steps of half a stop, 31 of a third, 11 of a stop, all from 0.05 to 3.05.
@pytest.mark.parametrize(("steps", "increment", "neighbours"), [(21, 0.15, 0.5), (31, 0.10, 1 / 3), (11, 0.30, 1.0)])
def test_the_usual_tablets_end_at_3_05_and_pass_1000_to_1(steps: int, increment: float, neighbours: float) -> None:
    wedge = Wedge.nominal(steps, increment)
    assert (wedge.density[0], wedge.density[-1]) == pytest.approx((0.05, 3.05))
    assert np.diff(wedge.density) / STOP == pytest.approx(np.full(steps - 1, neighbours), abs=4e-3)
    light = transmittance(wedge.density)
    assert light[0] / light[-1] == pytest.approx(1000.0)
