"""Intervals from draws.

Sources: JCGM 101, 9.2: a sum of four standard normals has standard uncertainty 2.0 and a 95 % interval of ±3.92, of
four rectangular variables of standard deviation 1 one of ±3.88 (read). The 95 % half-widths of the distributions of
its table 1, in their own half-width: rectangular 0.95, triangular 1 - sqrt 0.05, arcsine sin(0.475 pi) (calculated).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import Location
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.uncertainty.intervals import summarise
from tests.sensitometry.shapes import straight

DRAWS = 200_000
PROBABILITY = (np.arange(DRAWS) + 0.5) / DRAWS
"""Evenly spread, so that quantiles are exact."""


def interval(draws: FloatArray, value: float = 0.0) -> tuple[float, float]:
    """Return the interval that draws about an estimate give."""
    found = summarise(np.concatenate([[value], draws]))
    assert found.value == value
    assert found.low is not None
    assert found.high is not None
    return found.low, found.high


def test_a_sum_of_four_normals() -> None:
    draws = np.random.default_rng(1).standard_normal((4, DRAWS)).sum(axis=0)
    assert draws.std() == pytest.approx(2.0, abs=0.01)
    assert interval(draws) == pytest.approx((-3.92, 3.92), abs=0.04)


def test_a_sum_of_four_rectangular_variables_has_a_narrower_interval() -> None:
    draws = math.sqrt(12.0) * (np.random.default_rng(2).random((4, DRAWS)) - 0.5).sum(axis=0)
    assert draws.std() == pytest.approx(2.0, abs=0.01)
    assert interval(draws) == pytest.approx((-3.88, 3.88), abs=0.03)


def triangular(p: FloatArray) -> FloatArray:
    """Return the quantiles of a triangle of half-width 1."""
    return np.asarray(np.where(p < 0.5, np.sqrt(2.0 * p) - 1.0, 1.0 - np.sqrt(2.0 * (1.0 - p))))


@pytest.mark.parametrize(
    ("draws", "half"),
    [
        (2.0 * PROBABILITY - 1.0, 0.95),
        (triangular(PROBABILITY), 0.7764),
        (np.sin(np.pi * (PROBABILITY - 0.5)), 0.9969),
        (ndtri(PROBABILITY), 1.9600),
    ],
    ids=["rectangular", "triangular", "arcsine", "normal"],
)
def test_the_interval_of_each_distribution(draws: FloatArray, half: float) -> None:
    assert interval(draws) == pytest.approx((-half, half), abs=2e-4)


def test_an_interval_goes_through_a_logarithm_end_by_end() -> None:
    # Calculated for the case of NPL DEM-ES-011, 9.2 (read): y = ln x, x rectangular on [0.1, 1.1], so the interval that
    # leaves 2.5 % on either side is ln 0.125 to ln 1.075.
    draws = np.log(0.1 + PROBABILITY)
    assert draws.mean() == pytest.approx(-0.66490, abs=1e-4)
    assert interval(draws, float(draws.mean())) == pytest.approx((math.log(0.125), math.log(1.075)), abs=1e-4)


def test_an_index_has_the_interval_of_its_log_turned_round() -> None:
    # Calculated: log H -1.0 ± 0.0588 (1.96 times a tenth of 0.30) is 10 / H = 100, from 87.3 to 114.5.
    rows = np.concatenate([[-1.0], -1.0 + 0.03 * ndtri(PROBABILITY)])
    none = np.zeros(rows.size)
    flat = replace(straight(1.0), log_h_error=none, meter_error=none)
    index: Quantity = scaled_power(Location(rows, summarise(rows)), flat, 10.0, error=none)
    assert index.value == pytest.approx(100.0)
    assert (index.low, index.high) == pytest.approx((87.33, 114.50), abs=0.02)
