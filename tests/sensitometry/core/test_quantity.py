"""A quantity as a notebook shows it, and with the opposite sign."""

from __future__ import annotations

import math

import pytest

from curves.sensitometry.core.quantity import Quantity


@pytest.mark.parametrize(
    ("quantity", "shown"),
    [
        # By hand: four significant digits.
        (Quantity(1.23456, 1.1, 1.4), "Quantity(1.235, 1.1 to 1.4)"),
        (Quantity(1.23456), "Quantity(1.235)"),
        (Quantity(0.5, low=0.4), "Quantity(0.5)"),
        (Quantity(0.5, high=0.6), "Quantity(0.5)"),
        (Quantity.missing("it lies off the strip"), "Quantity(not known: it lies off the strip)"),
        (Quantity.missing("too short", below=80.0), "Quantity(< 80: too short)"),
        (Quantity.missing("too short", above=12.5), "Quantity(> 12.5: too short)"),
    ],
)
def test_a_quantity_shows_its_number_and_interval_or_its_reason(quantity: Quantity, shown: str) -> None:
    assert repr(quantity) == shown


def test_the_opposite_of_a_quantity_turns_its_ends_and_its_bound_round() -> None:
    assert -Quantity(2.0, 1.0, 4.0) == Quantity(-2.0, -4.0, -1.0)
    assert -Quantity.missing("too short", below=3.0) == Quantity.missing("too short", above=-3.0)
    assert Quantity(2.0, 1.0, 4.0).half_width == 1.5
    assert Quantity(2.0).half_width is None


@pytest.mark.parametrize(
    ("quantity", "ends"),
    [
        (Quantity(2.0, 1.0, 3.5), (1.0, 3.5)),
        (Quantity(2.0), (2.0, 2.0)),
        (Quantity.missing("off the strip", above=1.0), (1.0, math.inf)),
        (Quantity.missing("off the strip", below=1.0), (-math.inf, 1.0)),
        (Quantity.missing("not read"), (-math.inf, math.inf)),
    ],
)
def test_what_is_known_of_a_number_has_ends_that_are_infinite_where_open(
    quantity: Quantity, ends: tuple[float, float]
) -> None:
    assert quantity.known_ends == ends


def test_a_number_between_two_ends_keeps_a_bound_that_is_finite() -> None:
    assert Quantity.within("why", 1.0, 2.0).bound == (">", 1.0)
    assert Quantity.within("why", -math.inf, 2.0).bound == ("<", 2.0)
    nothing = Quantity.within("why", -math.inf, math.inf)
    assert (nothing.bound, nothing.why) == (None, "why")
