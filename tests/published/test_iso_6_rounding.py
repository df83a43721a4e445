"""Rounding of speeds to the usual series, and their degrees.

Source: ISO 6, table of speeds against the exposure at the speed point (read: 125 <-> 0.0064 lux-seconds,
0.008 lux-seconds <-> 21 degrees; the edges of the 100/21 band follow from these). The series is from memory.
"""

from __future__ import annotations

import math

import pytest

from curves.sensitometry.core.units import degrees, nominal_speed

# From memory: the usual series, speed/degrees.
SERIES = """
3/6 4/7 5/8 6/9 8/10 10/11 12/12 16/13 20/14 25/15 32/16 40/17 50/18 64/19 80/20 100/21 125/22 160/23 200/24
250/25 320/26 400/27 500/28 640/29 800/30 1000/31 1250/32 1600/33 2000/34 2500/35 3200/36
"""
PAIRS = [tuple(map(int, pair.split("/"))) for pair in SERIES.split()]


@pytest.mark.parametrize(("speed", "n"), PAIRS)
def test_every_number_of_the_series_keeps_its_degrees(speed: int, n: int) -> None:
    assert degrees(speed) == n
    assert nominal_speed(speed) == speed


@pytest.mark.parametrize(("speed", "n"), PAIRS)
def test_a_band_holds_its_lower_edge_and_not_its_upper_one(speed: int, n: int) -> None:
    lower, upper = 10 ** ((n - 1.5) / 10), 10 ** ((n - 0.5) / 10)
    assert nominal_speed(lower) == nominal_speed(upper * (1 - 1e-6)) == speed
    assert degrees(lower) == degrees(upper * (1 - 1e-6)) == n
    assert degrees(upper) == n + 1
    assert degrees(lower * (1 - 1e-6)) == n - 1


@pytest.mark.parametrize(("exposure", "speed"), [(0.0064, 125), (0.008, 100)])
def test_the_exposures_of_the_table_have_its_speeds(exposure: float, speed: int) -> None:
    # ISO 6: S = 0.8 / Hm.
    assert nominal_speed(0.8 / exposure) == speed


def test_the_band_of_100_is_89_13_to_112_20() -> None:
    assert [nominal_speed(s) for s in (89.12, 89.13, 112.19, 112.21)] == [80, 100, 100, 125]


def test_the_band_of_100_is_log_exposure_minus_2_147_to_minus_2_047() -> None:
    edges = [math.log10(0.8 / 10 ** ((21 - half) / 10)) for half in (0.5, 1.5)]
    assert edges == pytest.approx([-2.147, -2.047], abs=5e-4)
    assert [nominal_speed(0.8 / 10**log_h) for log_h in (-2.1475, -2.1465, -2.0475, -2.0465)] == [
        125,
        100,
        100,
        80,
    ]


def test_rounding_is_in_the_log_and_not_to_the_nearest_number() -> None:
    # 112.3 is nearer to 100 than to 125, but lies in the band of 125.
    assert nominal_speed(112.3) == 125
