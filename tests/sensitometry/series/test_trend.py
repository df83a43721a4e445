"""A trend on rows made here: what it follows, what it is held to, and how often its band holds the truth."""

import math

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.series.trend import Repeatability, StripNumbers, Trend, fit_trend

FIVE = np.array([0.0, 0.25, 0.5, 0.75, 1.0])


def numbers(
    values: FloatArray, place: FloatArray = FIVE, shared: float = 0.0, own: float = 0.02, seed: int = 0
) -> StripNumbers:
    """Return numbers on strips with errors of their own and one that they share."""
    rng = np.random.default_rng(seed)
    errors = own * rng.standard_normal((401, place.size)) + shared * rng.standard_normal((401, 1))
    errors[0] = 0.0
    return StripNumbers(place, values + errors, np.zeros(place.size), reflected=False)


def fitted(on: StripNumbers, way: int = 1, stated: float | None = 0.02, matters: float = 0.33, seed: int = 0) -> Trend:
    return fit_trend(on, "stops", matters, stated, way, seed, "made here")


def at(trend: Trend, line: FloatArray, place: float) -> float:
    return float(np.interp(place, trend.place, line))


def test_a_straight_line_stays_straight_and_its_band_holds_it() -> None:
    trend = fitted(numbers(1.0 + 2.0 * FIVE))
    for place in (0.0, 0.1, 0.5, 0.9, 1.0):
        assert at(trend, trend.estimate, place) == pytest.approx(1.0 + 2.0 * place, abs=0.03)
        assert at(trend, trend.low, place) < 1.0 + 2.0 * place < at(trend, trend.high, place)
    assert trend.change.value == pytest.approx(2.0, abs=0.03)
    assert trend.drawn


def test_a_reflected_band_is_as_wide_on_either_side_of_the_estimate() -> None:
    plain = numbers(2.0 * FIVE)
    # Rows that gain over the estimate, as a greatest gradient does.
    rows = plain.rows + np.where(np.arange(len(plain.rows)) > 0, 0.1, 0.0)[:, None]
    one_sided = fitted(StripNumbers(plain.place, rows, plain.own, reflected=False), way=0)
    both = fitted(StripNumbers(plain.place, rows, plain.own, reflected=True), way=0)
    assert (both.high - both.estimate).tolist() == pytest.approx((both.estimate - both.low).tolist())
    assert both.low[20] < one_sided.low[20] - 0.05
    assert both.high[20] == pytest.approx(one_sided.high[20])


def test_a_bend_is_followed() -> None:
    trend = fitted(numbers(2.0 * np.sqrt(FIVE + 0.05)))
    assert at(trend, trend.estimate, 0.5) == pytest.approx(2.0 * math.sqrt(0.55), abs=0.06)


def test_an_error_that_all_strips_share_widens_the_band_and_not_the_change() -> None:
    apart, together = fitted(numbers(2.0 * FIVE)), fitted(numbers(2.0 * FIVE, shared=0.3))
    widths = [float((t.high - t.low)[20]) for t in (apart, together)]
    # Two standard uncertainties of the shared error either way: 4 x 0.3 = 1.2, less the scatter of 400 draws.
    assert widths[1] == pytest.approx(1.2, rel=0.15)
    assert widths[0] < 0.15
    assert together.change.u == pytest.approx(apart.change.u, rel=0.2)


def test_an_error_that_strips_do_not_share_narrows_with_their_number() -> None:
    many = np.linspace(0.0, 1.0, 15)
    widths = [
        fitted(numbers(2.0 * p, p, own=0.1)).high - fitted(numbers(2.0 * p, p, own=0.1)).low for p in (FIVE, many)
    ]
    assert float(np.median(widths[1])) < 0.8 * float(np.median(widths[0]))


def test_a_trend_is_held_to_its_usual_direction_within_the_errors() -> None:
    up_and_back = np.array([0.0, 0.5, 0.48, 0.9, 1.0])
    held, free = fitted(numbers(up_and_back)), fitted(numbers(up_and_back), way=0)
    assert (np.diff(held.estimate) >= 0.0).all()
    assert (np.diff(held.rows, axis=1) >= -1e-12).all()
    assert (np.diff(free.rows, axis=1) < 0.0).any()
    assert held.against < 2.0
    assert free.against == 0.0


def test_strips_that_contradict_the_usual_direction_are_believed_and_it_is_told_by_how_much() -> None:
    trend = fitted(numbers(1.0 - FIVE))
    assert trend.against > 10.0
    assert trend.estimate[-1] - trend.estimate[0] == pytest.approx(-1.0, abs=0.05)


def test_a_contradiction_frees_the_trend_by_degrees() -> None:
    falls = np.linspace(0.0, 0.16, 9)
    ends = [fitted(numbers(-fall * FIVE), matters=0.05) for fall in falls]
    changes = [float(t.estimate[-1] - t.estimate[0]) for t in ends]
    # Below two standard uncertainties all trends are held, from three on none; between, no step jumps the whole way.
    assert ends[0].against < 2.0
    assert ends[-1].against > 3.0
    assert changes[0] == pytest.approx(0.0, abs=0.01)
    assert changes[-1] == pytest.approx(-0.16, abs=0.02)
    assert max(-np.diff(changes)) < 0.09


@pytest.mark.parametrize("way", [1, 0])
def test_bands_hold_the_truth_as_often_as_they_say(way: int) -> None:
    held = of = 0
    for seed in range(60):
        rng = np.random.default_rng((seed, 99))
        size, bend = rng.uniform(0.02, 0.12), rng.uniform(-0.3, 0.3)

        def truth(x: FloatArray, bend: float = bend) -> FloatArray:
            return np.asarray(1.5 * (x + bend * x * (1.0 - x)))

        values = (
            truth(FIVE) + size * rng.standard_normal(5) + 0.03 * rng.standard_normal(5) + 0.1 * rng.standard_normal()
        )
        trend = fitted(numbers(values, shared=0.1, own=0.03, seed=seed), way, None, seed=seed)
        for place in (0.1, 0.4, 0.9):
            true = float(truth(np.asarray(place)))
            held += at(trend, trend.low, place) <= true <= at(trend, trend.high, place)
            of += 1
    # 95 % of 60 series, within three standard deviations of the count.
    assert held / of >= 0.87


def test_a_stated_scatter_is_believed_and_repeats_teach_one() -> None:
    rng = np.random.default_rng(5)
    place = np.repeat(FIVE, 4)
    values = place + 0.3 * rng.standard_normal(place.size)
    learnt, stated = fitted(numbers(values, place), stated=None), fitted(numbers(values, place), stated=0.05)
    assert learnt.scatter_from == "strips"
    assert learnt.scatter.value == pytest.approx(0.3, rel=0.4)
    assert stated.scatter_from == "stated"
    assert stated.scatter.value == pytest.approx(0.05)
    assert fitted(numbers(FIVE[:3], FIVE[[0, 2, 4]]), stated=None).scatter_from == "assumed"


def test_two_settings_show_the_ends_alone() -> None:
    trend = fitted(numbers(np.array([0.0, 1.0]), np.array([0.0, 1.0])))
    assert not trend.drawn
    assert trend.place.tolist() == [0.0, 1.0]
    assert trend.change.value == pytest.approx(1.0, abs=0.01)


def with_bound(at: float, side: str, end: float) -> StripNumbers:
    """Return three strips on a line from 0 to 1 with a fourth that shows a bound alone."""
    plain = numbers(np.array([0.0, 0.5, 1.0]), np.array([0.0, 0.5, 1.0]), own=0.3)
    return StripNumbers(plain.place, plain.rows, plain.own, False, [(at, "<" if side == "<" else ">", end)])


def test_a_bound_within_the_series_draws_the_trend_to_its_side() -> None:
    plain, bound = fitted(with_bound(0.5, "<", 9.0)), fitted(with_bound(0.5, "<", 0.3))
    assert bound.heeded
    assert at(bound, bound.estimate, 0.5) < at(plain, plain.estimate, 0.5) - 0.1
    assert at(bound, bound.high, 0.5) < at(plain, plain.high, 0.5) - 0.2


def test_a_bound_beyond_the_series_counts_only_where_the_direction_makes_it_one_at_the_end() -> None:
    plain = fitted(with_bound(0.5, "<", 9.0))
    below_later, above_later = fitted(with_bound(1.5, "<", 0.8)), fitted(with_bound(1.5, ">", 1.4))
    assert below_later.high[-1] < plain.high[-1] - 0.2
    assert above_later.high[-1] == pytest.approx(plain.high[-1])


def test_a_bound_between_two_settings_moves_neither() -> None:
    two = numbers(np.array([0.0, 1.0]), np.array([0.0, 1.0]), own=0.3)
    bounded = StripNumbers(two.place, two.rows, two.own, False, [(0.4, "<", -0.5)])
    assert fitted(bounded).rows.tolist() == fitted(two).rows.tolist()


def test_a_bound_that_contradicts_the_trend_is_left_out_and_told() -> None:
    trend = fitted(with_bound(0.5, ">", 7.0))
    assert not trend.heeded
    assert at(trend, trend.estimate, 0.5) == pytest.approx(0.5, abs=0.1)


def test_a_scatter_of_zero_is_refused() -> None:
    with pytest.raises(StripError, match="density: 0 is out of range; needed: more than 0"):
        Repeatability(density=0.0)
    assert Repeatability(0.1, 0.2, 0.3).of("gradient") == 0.3
