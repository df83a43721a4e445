"""Worked cases of uncertainty, run through the engine that carries every interval: its draws, its rows, its summary.

Sources: JCGM 101:2008, 9.2; NPL report DEM-ES-011, 9.2; NIST Technical Note 1900, example 11; JCGM 100:2008 (GUM), H.3;
NBS Handbook 91, 5-4.1 (numbers read in each).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.uncertainty.intervals import summarise

COUNT = 100_000


def drawn(*belongs_to: str) -> np.random.Generator:
    return streams.stream(0, *belongs_to)


def summary(draws: FloatArray, estimate: float) -> Quantity:
    return summarise(np.r_[estimate, draws])


def ends(found: Quantity) -> tuple[float, float]:
    assert found.low is not None
    assert found.high is not None
    return found.low, found.high


def test_a_sum_of_four_normal_quantities() -> None:
    # JCGM 101, 9.2.2: u 2.0, 95 % interval +-3.92.
    found = summary(streams.normal(drawn("normal"), COUNT, 4).sum(axis=1), 0.0)
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert ends(found) == pytest.approx((-3.92, 3.92), abs=0.03)


def test_a_sum_of_four_rectangular_quantities() -> None:
    # JCGM 101, 9.2.3: each of standard deviation 1; 95 % interval +-3.88.
    found = summary(
        np.sum([streams.rectangular(drawn("rectangular", str(i)), COUNT, 1)[:, 0] for i in range(4)], axis=0), 0.0
    )
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert ends(found) == pytest.approx((-3.88, 3.88), abs=0.03)


def test_a_logarithm_of_a_rectangular_quantity() -> None:
    # DEM-ES-011, 9.2: y = ln x, x rectangular on [0.1, 1.1]: mean -0.665, u 0.606.
    x = 0.6 + streams.rectangular(drawn("logarithm"), COUNT, 1)[:, 0] / np.sqrt(12.0)
    found = summary(np.log(x), float(np.log(0.6)))
    assert np.log(x).mean() == pytest.approx(-0.66490, abs=1e-3)
    assert found.u == pytest.approx(0.606, abs=1e-3)
    # Calculated: the interval that leaves 2.5 % on either side.
    assert ends(found) == pytest.approx((np.log(0.125), np.log(1.075)), abs=5e-3)


def test_a_step_attenuator() -> None:
    # TN 1900, E11: mean 30.043 dB, u 0.0224, 95 % [30.006, 30.081]; 10 dB are density 1.0. The arcsine quantities are
    # taken by their half-widths and Student's t by its standard deviation: other readings miss the published u by far.
    p = streams.uniform(drawn("attenuator"), COUNT, 9)
    arcsine = stats.arcsine(loc=-1.0, scale=2.0)
    terms = [
        30.0402 + 0.0091 * stats.t(3).ppf(p[:, 0]) / np.sqrt(3.0),
        0.003 + 0.00433 * np.sqrt(12.0) * (p[:, 1] - 0.5),
        -0.0005196 * np.sqrt(12.0) * (p[:, 2] - 0.5),
        0.0005196 * np.sqrt(12.0) * (p[:, 3] - 0.5),
        0.00198 * arcsine.ppf(p[:, 4]),
        0.02828 * arcsine.ppf(p[:, 5]),
        0.0029698 * arcsine.ppf(p[:, 6]),
        -0.002 * stats.norm.ppf(p[:, 7]),
        0.002 * stats.norm.ppf(p[:, 8]),
    ]
    total = np.sum(terms, axis=0)
    found = summary(total, float(total.mean()))
    assert found.value == pytest.approx(30.043, abs=5e-4)
    assert found.u == pytest.approx(0.0224, abs=5e-4)
    assert ends(found) == pytest.approx((30.006, 30.081), abs=1.5e-3)


GUM_T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
GUM_B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
NBS_X = [30.0, *np.arange(100.0, 1501.0, 100.0)]
NBS_Y = [
    4642.0, 4612.0, 4565.0, 4513.0, 4476.0, 4433.0, 4389.0, 4347.0, 4303.0, 4251.0, 4201.0, 4140.0, 4100.0, 4073.0,
    4024.0, 3999.0,
]  # fmt: skip


def slope(x: list[float], y: list[float], s: float) -> Quantity:
    """Return the slope of the straight line through points that scatter by ``s``, by drawing the points."""
    grid, level = np.array(x), np.array(y)
    scatter = s * streams.normal(drawn("line", str(len(x))), 20_000, grid.size)
    return summarise(np.polyfit(grid, np.vstack([level, level + scatter]).T, 1)[0])


def test_a_calibration_line_of_a_thermometer() -> None:
    # GUM, H.3: slope 0.00218 with standard uncertainty 0.00067; scatter 0.0035.
    found = slope(GUM_T, GUM_B, 0.0035)
    assert found.value == pytest.approx(0.00218, abs=5e-6)
    assert found.u == pytest.approx(0.00067, abs=1e-5)


def test_a_line_through_measurements_of_young_s_modulus() -> None:
    # Handbook 91, 5-4.1: slope -0.44985482, variance of the slope 2.5649045e-5, scatter 9.277617.
    found = slope(NBS_X, NBS_Y, 9.277617)
    assert found.value == pytest.approx(-0.44985482, abs=1e-7)
    assert found.u == pytest.approx(2.5649045e-5**0.5, rel=0.02)
