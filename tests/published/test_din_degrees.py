"""Logarithmic speeds.

Source: the German standard of speed in degrees, DIN 4512, from memory: degrees = 1 + 10 lg S, so three degrees are one
stop, ten a decade, and neighbouring numbers of the series a third of a stop; 18, 21, 24 and 27 degrees are 50, 100, 200
and 400.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import degrees, exact_ei, nominal_speed
from curves.sensitometry.strip.exposure import Frames

SERIES = [6, 8, 10, 12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800]


@pytest.mark.parametrize(("n", "speed"), [(12, 12), (15, 25), (18, 50), (21, 100), (24, 200), (27, 400), (30, 800)])
def test_the_speed_of_n_degrees(n: int, speed: float) -> None:
    exact = 10.0 ** ((n - 1) / 10.0)
    assert float(exact_ei(speed)) == pytest.approx(exact)
    assert (nominal_speed(exact), degrees(exact)) == (speed, n)


@pytest.mark.parametrize("speed", [float(s) for s in SERIES])
def test_three_degrees_are_one_stop_and_ten_are_a_decade(speed: float) -> None:
    exact = float(exact_ei(speed))
    assert degrees(2.0 * exact) == degrees(exact) + 3
    assert degrees(0.5 * exact) == degrees(exact) - 3
    assert degrees(10.0 * exact) == degrees(exact) + 10


def test_a_bracket_along_the_series_goes_by_thirds_of_a_stop() -> None:
    frames = Frames(ei=100.0)
    log_h = frames.log_h(frames.stops_of_ei(np.array(SERIES, dtype=np.float64)))
    assert np.diff(log_h) == pytest.approx(np.full(len(SERIES) - 1, -0.1))
    assert log_h[SERIES.index(100)] == 0.0
    # Calculated: three steps of 0.1 log H fall 0.003 stop short of a whole one, 0.30103.
    assert frames.stops_of_ei(np.array([50.0]))[0] == pytest.approx(0.9966, abs=1e-4)
