"""Handbook tables of density, filter factors and stops.

Source: the tables of transmittance against density, and of filter factor against stops, that photographic
handbooks carry; read there to the digits given here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import STOP, density, transmittance

# Table of densities.
TRANSMITTANCE = [1.0, 0.5, 0.25, 0.1, 0.01, 0.001]
DENSITY = [0.0, 0.30, 0.60, 1.0, 2.0, 3.0]

# Table of filter factors: factor, stops in thirds.
FACTORS = [(1.25, 1 / 3), (1.5, 2 / 3), (2, 1), (4, 2), (8, 3), (10, 3 + 1 / 3), (100, 6 + 2 / 3)]


def test_the_table_of_densities_is_reproduced_to_its_two_decimals() -> None:
    assert np.round(density(TRANSMITTANCE), 2).tolist() == DENSITY


def test_a_filter_of_density_0_30_has_factor_1_995_and_costs_0_997_stop() -> None:
    assert 1.0 / float(transmittance(0.30)) == pytest.approx(1.995, abs=5e-4)
    stops = 0.30 / STOP
    assert stops == pytest.approx(0.997, abs=5e-4)


@pytest.mark.parametrize(("factor", "stops"), FACTORS)
def test_filter_factors_are_stops_to_the_nearest_third(factor: float, stops: float) -> None:
    # The tables round to thirds of a stop, so half a third is the most they can be off.
    assert float(density(1.0 / factor)) / STOP == pytest.approx(stops, abs=1 / 6)
    assert round(3 * math.log10(factor) / STOP) == round(3 * stops)
