"""Points and exposures of reversal film, read off curves that are known exactly.

Source: ISO 2240, rule from memory, corroborated; the logistic case is calculated from it. From memory: speed 10 / Hm,
so the exposures of the usual speeds.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.measures.points import dmin
from curves.sensitometry.measures.reversal_points import reversal_points
from curves.sensitometry.measures.speeds import LogHOrigin, iso_2240
from tests.sensitometry.shapes import exact

GRID = np.linspace(-4.2, 1.8, 12_001)
LOGISTIC = exact(GRID, 0.15 + 3.15 / (1.0 + np.exp(2.6 * (GRID + 1.2))), fully_exposed=0.15, unexposed=3.30)


def test_the_points_of_the_logistic_case() -> None:
    found = reversal_points(LOGISTIC, dmin(LOGISTIC))
    assert found.t.quantity.value == pytest.approx(-0.1649, abs=1e-4)
    assert found.s.quantity.value == pytest.approx(-1.4128, abs=1e-4)
    assert not found.by_tangent
    speed = iso_2240(LOGISTIC, dmin(LOGISTIC), "visual", LogHOrigin(seconds=0.02))
    assert speed.value.value == pytest.approx(61.50, abs=0.01)


def test_without_the_limit_of_2_00_the_tangent_of_the_logistic_would_give_80_61(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # It touches at log H -1.648, Dmin + 2.40; the other branch is taken because it has the lower density.
    monkeypatch.setattr("curves.sensitometry.measures.reversal_points.S_NET", 3.00)
    found = reversal_points(LOGISTIC, dmin(LOGISTIC))
    assert found.by_tangent
    assert found.s.quantity.value == pytest.approx(-1.648, abs=1e-3)
    assert found.s_density[0] - 0.15 == pytest.approx(2.40, abs=5e-3)
    speed = iso_2240(LOGISTIC, dmin(LOGISTIC), "visual", LogHOrigin(seconds=0.02))
    assert speed.value.value == pytest.approx(80.61, abs=0.05)


# From memory: exposures of the usual speeds, midway between T and S.
@pytest.mark.parametrize(
    ("hm", "nominal", "degrees"),
    [(0.4, 25, 15), (0.2, 50, 18), (0.158, 64, 19), (0.1, 100, 21), (0.05, 200, 24), (0.025, 400, 27)],
)
def test_exposures_of_the_usual_speeds(hm: float, nominal: float, degrees: int) -> None:
    # Calculated: on a straight line of slope -1.8 the middle is at Dmin + 1.10.
    net = np.clip(1.10 - 1.8 * (GRID - np.log10(hm)), 0.0, 2.60)
    film = exact(GRID, 0.15 + net, fully_exposed=0.15)
    speed = iso_2240(film, dmin(film), "visual", LogHOrigin(seconds=0.02))
    assert speed.value.value == pytest.approx(10.0 / hm, rel=2e-3)
    assert (speed.nominal, speed.degrees) == (nominal, degrees)
