from dataclasses import replace

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


def test_a_negatives_index_has_the_densities_that_the_scene_gets() -> None:
    ei = judged({"visual": negative(STEPS)})
    assert ei.nominal is not None
    # k = 8.62 between the meters that are built; white, grey and shadow at +0.70, 0 and -0.90 (common practice).
    for name, tone in (("white", 0.70), ("grey", 0.0), ("shadow", -0.90)):
        at = np.array([np.log10(8.62 / ei.nominal) + tone])
        placed = ei.placements[name].density.value
        if at[0] < STEPS.max():
            assert placed == pytest.approx(float(negative(at)[0]), abs=0.05)
    # At the speed of the film the shadow, three stops below grey, lies above the speed point, 3.4 stops below it.
    assert ei.placements["shadow"].state == "holds"


def test_a_negative_rated_too_high_loses_the_texture_of_its_shadow() -> None:
    readings: dict[Channel, FloatArray] = {"visual": negative(STEPS)}
    strip = Strip("invented", "negative", "status M", GivenExposure("lux-seconds"), STEPS, readings)
    right = analyse(strip, FEW_DRAWS).working_ei.recommended.value
    assert right is not None
    high, low = (analyse(strip, replace(FEW_DRAWS, at=right * n)).working_ei.trial for n in (4.0, 0.25))
    assert high is not None
    assert low is not None
    assert high.placements["shadow"].state == "no texture"
    assert low.placements["shadow"].state == "holds"
    # Its limit lies 0.4 stops above the index to set, so that two stops above it are 1.6 stops too many.
    assert high.lost["shadow"].value == pytest.approx(1.6, abs=0.1)
    assert low.lost["shadow"].value == pytest.approx(-2.4, abs=0.1)


def test_a_tone_beyond_a_negatives_strip_is_bounded_from_below_at_its_dense_end() -> None:
    inside = STEPS < -1.0
    ei = judged({"visual": negative(STEPS)[inside]}, STEPS[inside])
    white = ei.placements["white"]
    assert white.density.bound is not None
    assert white.density.bound[0] == ">"


def test_the_range_of_a_negative_is_not_doubted_to_be_one() -> None:
    # No end of a negative's range comes from a scene that is longer than the film.
    assert not judged({"visual": negative(STEPS)}).hardly_a_range
