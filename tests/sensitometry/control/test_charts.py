"""The individuals chart: limits of published examples, and the signals of each rule."""

import numpy as np
import pytest
from scipy.stats import norm

from curves.errors import StripError
from curves.sensitometry.control.charts import CHANCE, D2, IndividualsChart, points_to_a_chance_signal

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches: from memory, reproduced.
BATCHES = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
# Montgomery, Introduction to Statistical Quality Control, viscosity of fifteen batches: from memory, reproduced.
VISCOSITY = np.array(
    [33.75, 33.05, 34.00, 33.81, 33.46, 34.02, 33.68, 33.27, 33.49, 33.20, 33.62, 33.00, 33.54, 33.12, 33.84]
)


def test_limits_of_published_examples() -> None:
    chart = IndividualsChart.of(BATCHES, np.arange(10) < 10)
    assert chart.centre == pytest.approx(50.81)
    assert chart.moving_range == pytest.approx(1.8778, abs=5e-5)
    np.testing.assert_allclose(chart.limits, [45.8159, 55.8041], atol=2e-4)
    assert chart.signals() == ()
    chart = IndividualsChart.of(VISCOSITY, np.arange(15) < 15)
    assert round(chart.centre, 2) == 33.52
    assert (round(chart.limits[0], 2), round(chart.limits[1], 2)) == (32.24, 34.80)
    assert chart.range_limit == pytest.approx(3.267 * chart.moving_range)


def series(*after: float) -> IndividualsChart:
    """Return a chart whose reference alternates by 0.2 about 1.00, and whose limits therefore lie at 1 -+ 0.53."""
    return IndividualsChart.of(np.array([0.9, 1.1] * 5 + list(after)), np.arange(10 + len(after)) < 10)


def test_a_point_beyond_a_limit_is_a_signal_and_one_on_it_is_not() -> None:
    reach = 3.0 * 0.2 / D2
    assert series(1.0 + reach - 1e-9).signals() == ()
    (signal,) = series(1.0 + reach + 1e-9).signals()
    assert (signal.index, signal.rule, signal.above) == (10, "beyond a limit", True)
    (signal,) = series(1.0 - reach - 1e-9).signals()
    assert not signal.above


def test_eight_in_a_row_on_one_side_are_a_signal_and_seven_are_not() -> None:
    # The last reference value lies above the centre: seven more make eight.
    assert series(*[1.05] * 6).signals() == ()
    signals = series(*[1.05] * 8).signals()
    assert [s.index for s in signals] == [16, 17]
    assert {s.rule for s in signals} == {"a run on one side"}


def test_a_jump_within_the_limits_is_a_signal_and_the_way_back_from_beyond_them_is_not() -> None:
    # 3.267 x 0.2 = 0.653 between neighbours, 0.6 and 1.4 both within the limits.
    (signal,) = series(1.0, 0.6, 1.4).signals()
    assert (signal.index, signal.rule, signal.above) == (12, "a jump", True)
    (signal,) = series(1.0, 2.0, 1.0).signals()
    assert (signal.index, signal.rule) == (11, "beyond a limit")


def test_missing_values_are_passed_over() -> None:
    chart = series(np.nan, 1.1, np.nan)
    assert chart.signals() == ()
    assert chart.ranges[11] == pytest.approx(0.0)
    assert np.isnan(chart.ranges[12])


def test_too_few_reference_values_give_no_limits() -> None:
    with pytest.raises(StripError, match="3 reference values are known; needed: at least 4"):
        IndividualsChart.of(np.array([1.0, 1.1, np.nan, 0.9, 1.0]), np.arange(5) < 4)


@pytest.mark.parametrize("reference", CHANCE)
def test_chance_signals_of_a_steady_process_come_as_often_as_told(reference: int) -> None:
    """Draws of a normal process, and its exact chance beyond the limits that each reference set gave."""
    draws = np.random.default_rng(20).normal(size=(3000, reference))
    limits = np.array([IndividualsChart.of(values, np.ones(reference, dtype=bool)).limits for values in draws])
    chance = (norm.cdf(limits[:, 0]) + norm.sf(limits[:, 1])).mean()
    assert 1.0 / chance == pytest.approx(points_to_a_chance_signal(reference), rel=0.12)


def test_between_simulated_numbers_the_smaller_speaks() -> None:
    assert [points_to_a_chance_signal(n) for n in (4, 9, 10, 1000)] == [13, 32, 42, 255]
