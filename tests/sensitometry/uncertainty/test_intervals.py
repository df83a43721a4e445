"""Intervals by hand: their ends, what stands in for draws that have no value, and when they have settled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.core.quantity import How, Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.uncertainty.intervals import (
    SETTLED,
    difference,
    difference_in_stops,
    ends_of,
    needed_draws,
    summarise,
    widest_interval,
)

# From 0 to 200: the middle 95 % go from 5 to 195.
EVEN = np.arange(201.0)


def with_draws(estimate: float, draws: FloatArray) -> FloatArray:
    return np.concatenate([[estimate], draws])


def test_an_interval_is_the_middle_95_percent_of_the_draws() -> None:
    shuffled = np.random.default_rng(1).permutation(EVEN)
    q = summarise(with_draws(90.0, shuffled), how="measured", note="at a place")
    assert (q.value, q.low, q.high) == pytest.approx((90.0, 5.0, 195.0))
    assert (q.how, q.note) == ("measured", "at a place")
    assert q.u == pytest.approx(float(EVEN.std()))


@pytest.mark.parametrize("count", [1, 2, 3, 40, 250])
def test_ends_run_straight_between_draws(count: int) -> None:
    # Published: the default of a numerical library's quantile (numpy.quantile, linear).
    draws = np.random.default_rng(count).standard_normal(count)
    assert ends_of(draws) == pytest.approx(tuple(np.quantile(draws, [0.025, 0.975])))


@pytest.mark.parametrize(("estimate", "low", "high"), [(2.0, 2.0, 195.0), (199.0, 5.0, 199.0)])
def test_an_interval_holds_its_estimate(estimate: float, low: float, high: float) -> None:
    q = summarise(with_draws(estimate, EVEN))
    assert (q.low, q.high) == pytest.approx((low, high))


@pytest.mark.parametrize(("estimate", "low", "high"), [(100.0, 5.0, 195.0), (60.0, -75.0, 195.0), (150.0, 5.0, 295.0)])
def test_a_reflected_interval_is_the_wider_of_the_draws_and_their_mirror_at_each_end(
    estimate: float, low: float, high: float
) -> None:
    # By hand: the mirror of 5 to 195 about 60 is -75 to 115, about 150 it is 105 to 295.
    q = summarise(with_draws(estimate, EVEN), reflected=True)
    assert (q.low, q.high) == pytest.approx((low, high))


@pytest.mark.parametrize("draws", [np.array([]), np.array([np.nan, np.nan, 1.0])])
def test_without_draws_or_with_less_than_half_of_them_there_is_no_interval(draws: FloatArray) -> None:
    q = summarise(with_draws(3.0, draws), note="at a place")
    assert (q.value, q.low, q.high, q.u) == (3.0, None, None, None)
    why = "too near the end of the strip" if draws.size else "no draws were made"
    assert q.note == f"at a place; no interval: {why}"


def test_half_of_the_draws_are_enough() -> None:
    q = summarise(with_draws(3.0, np.array([np.nan, np.nan, 2.0, 4.0])))
    assert (q.low, q.high) == pytest.approx((2.05, 3.95))


def lost(count: int) -> FloatArray:
    """Return the even draws with so many of the greatest without a value."""
    return np.where(200 - count < EVEN, np.nan, EVEN)


def test_draws_without_a_value_are_left_out_or_stand_at_the_end_of_the_strip() -> None:
    # By hand: 201 draws without the 21 greatest are 0 to 179, whose middle 95 % go from 4.475 to 174.525.
    rows = with_draws(90.0, lost(21))
    q = summarise(rows)
    assert (q.low, q.high) == pytest.approx((4.475, 174.525))
    assert q.note is None
    ended = summarise(rows, beyond=300.0, note="at a place")
    assert (ended.low, ended.high) == pytest.approx((5.0, 300.0))
    assert ended.note == "at a place; the interval ends with the strip"
    assert summarise(rows, beyond=np.full(202, 300.0)).high == pytest.approx(300.0)


@pytest.mark.parametrize(("count", "told"), [(5, False), (6, True)])
def test_an_interval_ends_with_the_strip_if_more_than_one_draw_in_forty_does(count: int, told: bool) -> None:
    q = summarise(with_draws(90.0, lost(count)), beyond=300.0)
    assert (q.note == "the interval ends with the strip") is told


def test_an_interval_between_two_ends_is_the_widest_of_draws_and_mirrors() -> None:
    # By hand: low ends 5 to 195 about 90 mirror to -15 to 175; high ends, ten higher, about 100 to 15 ... to 195 + 10.
    low, high = with_draws(90.0, EVEN), with_draws(100.0, EVEN + 10.0)
    assert widest_interval(low, high) == pytest.approx((-15.0, 205.0))
    assert widest_interval(with_draws(120.0, EVEN), with_draws(120.0, EVEN)) == pytest.approx((5.0, 235.0))
    assert widest_interval(with_draws(2.0, EVEN), with_draws(199.0, EVEN)) == pytest.approx((-191.0, 393.0))
    assert widest_interval(np.array([7.0]), np.array([8.0])) == (7.0, 8.0)


def blocks(offset: float) -> FloatArray:
    """Return two blocks of evenly spread draws, the second moved by an offset."""
    one = np.linspace(-1.0, 1.0, 250)
    return with_draws(0.0, np.concatenate([one, one + offset]))


@pytest.mark.parametrize("offset", [0.05, 0.2])
def test_draws_are_needed_by_how_far_the_ends_of_blocks_lie_apart(offset: float) -> None:
    # By hand: both ends of two blocks lie an offset apart, which is a standard deviation of offset / root 2, and of
    # half the offset for their mean. Twice that, over a quarter of the standard uncertainty, squared.
    rows = blocks(offset)
    assert needed_draws(rows) == pytest.approx((offset / (SETTLED * rows[1:].std())) ** 2)
    assert SETTLED == 0.25


def test_draws_that_cannot_be_judged_are_enough() -> None:
    one = np.linspace(-1.0, 1.0, 250)
    assert needed_draws(with_draws(0.0, one)) == 1.0
    assert needed_draws(with_draws(0.0, np.concatenate([one, one[:200] + 5.0]))) == 1.0
    assert needed_draws(with_draws(0.0, np.zeros(500))) == 1.0
    assert needed_draws(with_draws(0.0, np.where(np.arange(500) == 7, np.nan, np.tile(one, 2)))) == 1.0
    # The end of a block that is not whole does not count.
    assert needed_draws(with_draws(0.0, np.concatenate([one, one, one[:100] + 5.0]))) == 0.0


def quantity(rows: FloatArray, how: How = "fitted") -> Quantity:
    return summarise(rows, how=how)


def test_a_difference_is_made_row_by_row_and_reflected() -> None:
    shared = np.random.default_rng(2).standard_normal(250)
    one = quantity(with_draws(5.0, 5.0 + shared + np.linspace(-0.1, 0.1, 250)), how="measured")
    other = quantity(with_draws(2.0, 2.0 + shared), how="fitted")
    found = difference(one, other)
    assert found.value == 3.0
    assert found.how == "measured"
    assert (found.low, found.high) == pytest.approx((2.905, 3.095), abs=1e-3)
    assert difference(one, quantity(with_draws(2.0, 2.0 + shared), how="estimated")).how == "estimated"
    stops = difference_in_stops(
        quantity(with_draws(8.0, np.full(250, 8.0))), quantity(with_draws(2.0, np.full(250, 2.0)))
    )
    assert (stops.value, stops.low, stops.high) == pytest.approx((2.0, 2.0, 2.0))


def test_of_numbers_with_other_numbers_of_draws_whole_blocks_are_compared() -> None:
    long, short = with_draws(1.0, np.arange(750.0)), with_draws(1.0, np.arange(500.0))
    found = difference(quantity(long), quantity(short))
    assert found.rows is not None
    assert found.rows.size == 501
    assert (found.low, found.high) == (0.0, 0.0)
    assert difference(quantity(long), quantity(with_draws(1.0, np.arange(251.0)))).rows is not None
    with pytest.raises(StripError, match="one number has 750 draws, the other 249"):
        difference(quantity(long), quantity(with_draws(1.0, np.arange(249.0))))


@pytest.mark.parametrize(("missing", "which"), [(0, "first"), (1, "second")])
def test_a_difference_with_a_number_that_is_not_known_says_which(missing: int, which: str) -> None:
    pair = [quantity(with_draws(1.0, EVEN)), quantity(with_draws(1.0, EVEN))]
    pair[missing] = Quantity.missing("it lies off the strip")
    assert difference(*pair).why == f"the {which} number is not known: it lies off the strip"


def test_a_difference_of_numbers_without_draws_is_refused() -> None:
    known = quantity(with_draws(1.0, EVEN))
    for pair in ((known, replace(known, rows=None)), (replace(known, rows=None), known)):
        with pytest.raises(StripError, match="a number carries no draws"):
            difference(*pair)


def test_the_interval_of_a_density_goes_no_lower_than_zero() -> None:
    rows = np.concatenate([[0.01], 0.01 + 0.02 * np.linspace(-1.0, 1.0, 101)])
    assert (summarise(rows).low or 0.0) < 0.0
    floored = summarise(rows, least=0.0)
    assert floored.low == 0.0
    assert floored.high == summarise(rows).high
    # A reading below zero, of an instrument that was zeroed on the base, stays as it is.
    assert summarise(rows - 0.015, least=0.0).low == pytest.approx(-0.005)


@pytest.mark.parametrize("end", ["lower", "upper"])
def test_the_end_that_scatters_more_decides_how_many_draws_are_needed(end: str) -> None:
    # By hand: of the second block the outer tenth at one end lies 0.2 further out, the other end stays.
    one = np.linspace(-1.0, 1.0, 250)
    other = one - 0.2 * (one < -0.8) if end == "lower" else one + 0.2 * (one > 0.8)
    rows = with_draws(0.0, np.concatenate([one, other]))
    assert needed_draws(rows) == pytest.approx((0.2 / (SETTLED * rows[1:].std())) ** 2)
