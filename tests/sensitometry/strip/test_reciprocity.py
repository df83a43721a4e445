import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.strip.reciprocity import Schwarzschild, TableOfTimes, daylight_seconds, scene_time

LAW = Schwarzschild(0.85)
TESTED = TableOfTimes(((1.0, 1.2), (10.0, 20.0), (60.0, 200.0)))


def test_sixty_seconds_at_exponent_0_85_are_125() -> None:
    # Schwarzschild's effect I t^p by the modified law: (60 + 1)^(1/0.85) - 1 = 125.0 s (calculated).
    assert LAW.corrected(60.0) == pytest.approx(125.0, abs=0.1)
    assert scene_time(LAW, 60.0, tested=0.02).value == pytest.approx(125.0, abs=0.1)


def test_an_exponent_of_one_corrects_nothing() -> None:
    np.testing.assert_allclose(Schwarzschild(1.0).corrected([0.01, 1.0, 300.0]), [0.01, 1.0, 300.0])


@pytest.mark.parametrize("law", [LAW, TESTED])
def test_metered_is_the_inverse_of_corrected(law: Schwarzschild | TableOfTimes) -> None:
    times = np.array([1.0, 2.5, 10.0, 44.0])
    np.testing.assert_allclose(law.metered(law.corrected(times)), times)


@pytest.mark.parametrize("tested", [1.0, 8.0, 45.0])
def test_a_scene_metered_at_the_strips_own_time_needs_no_correction(tested: float) -> None:
    # The index was found with that loss in it.
    assert scene_time(LAW, tested, tested).value == pytest.approx(tested)


def test_a_strip_exposed_for_long_adds_only_the_loss_beyond_its_own() -> None:
    short, long = scene_time(LAW, 60.0, 0.02).value, scene_time(LAW, 60.0, 8.0).value
    assert short is not None
    assert long is not None
    assert 60.0 < long < short


def test_below_a_second_there_is_no_correction() -> None:
    found = scene_time(LAW, 0.25, 0.02)
    assert found.value == 0.25
    assert "no correction below 1 s" in (found.note or "")


def test_between_tested_times_lines_are_straight_in_the_log_and_beyond_there_is_nothing() -> None:
    assert TESTED.corrected(np.sqrt(10.0)) == pytest.approx(np.sqrt(1.2 * 20.0))
    beyond = scene_time(TESTED, 90.0, 0.02)
    assert beyond.value is None
    assert beyond.why == "90 s lies outside the table of tested times, 1 to 60 s metered: test there"


@pytest.mark.parametrize(
    ("pairs", "what"),
    [
        (((1.0, 2.0),), "does not rise"),
        (((1.0, 2.0), (1.0, 3.0)), "does not rise"),
        (((1.0, 2.0), (5.0, 4.0)), "shorter than the metered"),
    ],
)
def test_a_table_that_cannot_be_is_refused(pairs: tuple[tuple[float, float], ...], what: str) -> None:
    with pytest.raises(StripError, match=what):
        TableOfTimes(pairs)


def test_the_sun_at_f_8_asks_an_index_of_100_for_a_five_hundredth() -> None:
    # Common practice: in the sun at f/16 the time is one over the index; at f/8 a quarter of that, 1/400.
    assert daylight_seconds(100.0) == pytest.approx(1 / 400, rel=0.25)
