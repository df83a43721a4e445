"""Numbers as a person reads them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.sensitometry.core.quantity import Quantity
from curves.views.words.digits import (
    decimals,
    figures,
    index_alone,
    interval,
    number,
    range_of,
    show,
    signed,
    value,
    value_and_interval,
)


# Expected texts are our own convention: one digit of the half-width, two where it begins with 1 or 2.
@pytest.mark.parametrize(
    ("low", "middle", "high", "text"),
    [
        (9.8, 12.1, 15.0, "12.1 (9.8 to 15.0)"),
        (9.0, 12.1, 17.0, "12 (9 to 17)"),
        (0.2951, 0.3104, 0.3266, "0.310 (0.295 to 0.327)"),
        (2900.0, 3200.0, 3500.0, "3200 (2900 to 3500)"),
        (-0.7512, -0.6934, -0.6301, "-0.69 (-0.75 to -0.63)"),
        (-0.004, 0.0, 0.004, "0.000 (-0.004 to 0.004)"),
    ],
)
def test_digits_follow_the_interval(low: float, middle: float, high: float, text: str) -> None:
    assert show(Quantity(middle, low, high)) == text


def test_digits_asked_for_are_the_most_that_are_shown() -> None:
    sharp, broad = Quantity(0.3104, 0.2951, 0.3266), Quantity(2.34, 1.9, 2.8)
    assert show(sharp, digits=2) == "0.31 (0.30 to 0.33)"
    assert show(broad, digits=2) == "2.3 (1.9 to 2.8)"


def test_half_widths_are_judged_as_they_round() -> None:
    # 0.296 is written 0.30, so one digit is enough for it; 0.294 still shows two.
    assert decimals(Quantity(1.0, 0.704, 1.296)) == 1
    assert decimals(Quantity(1.0, 0.706, 1.294)) == 2


def test_a_number_without_interval_shows_the_digits_asked_for_or_three_significant_ones() -> None:
    assert show(Quantity(0.4312), digits=2) == "0.43"
    assert [show(Quantity(x)) for x in (0.4312, 12.345, 1234.5)] == ["0.431", "12.3", "1234"]
    assert show(Quantity(1.5, 1.5, 1.5), digits=2) == "1.50 (1.50 to 1.50)"


def test_the_unit_stands_between_the_number_and_its_interval() -> None:
    assert show(Quantity(4.21, 4.0, 4.4), "stops", 1) == "4.2 stops (4.0 to 4.4)"


def test_a_missing_number_shows_its_bound_and_the_reason() -> None:
    why = "the curve is still falling at the most exposed step (step 1)"
    assert show(Quantity.missing(why, below=14.0), digits=0) == f"below 14: {why}"
    assert show(Quantity.missing(why, above=2.0), "stops", 1) == f"above 2.0 stops: {why}"
    assert show(Quantity.missing(why), "stops") == f"not known: {why}"
    assert interval(Quantity.missing(why, below=14.0)) == ""


@given(end=st.floats(-1000, 1000), digits=st.integers(0, 3))
def test_a_bound_stays_true_when_it_is_rounded(end: float, digits: int) -> None:
    below = value(Quantity.missing("off", below=end), digits)
    above = value(Quantity.missing("off", above=end), digits)
    assert float(below.removeprefix("below ")) >= end - 1e-6
    assert float(above.removeprefix("above ")) <= end + 1e-6


def test_a_bound_that_has_few_digits_is_not_pushed_up_by_the_machine() -> None:
    # 0.31 * 100 is 31.000000000000004 in binary.
    assert value(Quantity.missing("off", below=0.31), 2) == "below 0.31"


def test_a_bound_is_shown_to_three_digits_at_most() -> None:
    assert value(Quantity.missing("off", below=367.6), 1) == "below 368"
    assert value(Quantity.missing("off", above=36.74), 1) == "above 36.7"


def test_a_bound_of_an_index_has_two_digits_and_stays_true() -> None:
    below, above = Quantity.missing("off", below=21.2), Quantity.missing("off", above=21.2)
    assert (index_alone(below), index_alone(above)) == ("below 22", "above 21")
    assert index_alone(Quantity.missing("off", below=104.0)) == "below 110"
    assert index_alone(Quantity.missing("off", above=0.36)) == "above 0.36"
    assert index_alone(Quantity.missing("off")) == "not known"
    assert range_of((Quantity(3.6), Quantity.missing("the strip ends", above=12.9))) == "3.6 to 12 or higher"


def test_figures_have_no_exponent() -> None:
    assert [figures(x) for x in (4.0, 104.7, 1048576.0, 0.001049, 2.50)] == ["4", "105", "1050000", "0.00105", "2.5"]
    assert figures(104.7, 2) == "100"


def test_zero_has_no_sign() -> None:
    assert number(-0.001, 2) == "0.00"


def test_a_difference_has_a_sign_but_for_one_that_rounds_to_nothing() -> None:
    assert [signed(x, 2) for x in (0.016, -0.016, 0.004, -0.004, 0.0)] == ["+0.02", "-0.02", "0.00", "0.00", "0.00"]


def test_ends_of_a_range_that_round_to_one_number_are_that_number_alone() -> None:
    assert range_of((Quantity(24.8), Quantity(25.2))) == "25 alone"
    assert range_of((Quantity(24.0), Quantity(25.2))) == "24 to 25"


def test_a_bound_beyond_the_other_end_of_a_range_is_left_out() -> None:
    above, below = Quantity.missing("the strip ends", above=0.36), Quantity.missing("the strip ends", below=18.0)
    assert range_of((Quantity(3.6), above)) == "3.6 or higher"
    assert range_of((Quantity(0.2), above)) == "0.2 to 0.36 or higher"
    assert range_of((below, Quantity(12.0))) == "12 or lower"
    assert range_of((below, Quantity(24.0))) == "18 or lower to 24"


def test_a_number_stands_with_its_interval_or_its_bound_without_the_reason() -> None:
    assert value_and_interval(Quantity(0.641, 0.535, 0.747), 2) == "0.64 (0.54 to 0.75)"
    assert value_and_interval(Quantity.missing("the strip ends", below=1.2), 2) == "below 1.20"
