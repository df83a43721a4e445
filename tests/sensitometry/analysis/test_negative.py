import numpy as np
import pytest

from curves import analyse
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import WorkingEI
from tests.draws import FEW_DRAWS
from tests.sensitometry.shapes import STEPS, slide


def judged(readings: dict[Channel, FloatArray], log_h: FloatArray = STEPS) -> WorkingEI:
    return analyse(
        Strip("invented", "negative", "status M", GivenExposure("lux-seconds"), log_h, readings), FEW_DRAWS
    ).working_ei


def negative(log_h: FloatArray, **shape: float) -> FloatArray:
    return 3.3 - slide(log_h, **shape)


def test_the_speed_point_puts_the_index_where_iso_6_would() -> None:
    ei = judged({"visual": negative(STEPS)})
    grid = np.linspace(-3.0, 0.0, 30001)
    density = negative(grid)
    speed_point = float(np.interp(density[0] + 0.10, density, grid))
    # ISO 6: S = 0.8 / Hm.
    assert ei.recommended.value == pytest.approx(0.8 / 10.0**speed_point, rel=0.06)
    assert ei.basis == "speed point"


def test_the_layer_that_starts_last_decides() -> None:
    ei = judged({"red": negative(STEPS), "green": negative(STEPS, centre=-1.2), "blue": negative(STEPS)})
    assert ei.channel == "green"
    assert "the green layer, which starts last" in ei.reason


def test_a_strip_that_never_shows_its_fog_gives_a_bound() -> None:
    inside = STEPS > -1.7
    ei = judged({"visual": negative(STEPS)[inside]}, STEPS[inside])
    assert ei.recommended.value is None
    assert ei.recommended.bound is not None
    assert ei.recommended.bound[0] == ">"
    assert "still falling" in (ei.recommended.why or "") or "least exposed step" in (ei.recommended.why or "")
