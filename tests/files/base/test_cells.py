"""What a cell holds, and which numbers densities and positions can be."""

from __future__ import annotations

import math

import pytest

from curves.errors import RecordError
from curves.files.base.cells import Cell, Decimal, check_density, check_position, is_number, number_in
from curves.sensitometry.strip.exposure import Position


@pytest.mark.parametrize(
    ("cell", "decimal", "number"),
    [
        ("1.25", "point", 1.25), ("1,25", "point", None), ("1,25", "comma", 1.25), ("1.25", "comma", None),
        ("1,25", "either", 1.25), ("1.25", "either", 1.25), ("1.234,5", "either", None), ("1.234,5", "comma", None),
        (".05", "point", 0.05), (",05", "comma", 0.05), ("5.", "point", 5.0), ("-0.02", "point", -0.02),
        ("1e-1", "point", 0.1), ("1_25", "point", None), ("inf", "point", None), ("1e999", "point", None),
        ("١", "point", None), ("1 25", "point", None), ("0x1", "point", None), (0.31, "comma", 0.31),
    ],
)  # fmt: skip
def test_a_number_is_read_by_its_decimal_sign_or_not_at_all(cell: Cell, decimal: Decimal, number: float | None) -> None:
    assert number_in(cell, decimal) == number
    assert is_number(cell, decimal) == (number is not None)


@pytest.mark.parametrize("cell", ["", "-", "–", "N/A", "NaN", None])
def test_a_cell_where_nothing_was_read_is_not_a_number(cell: Cell) -> None:
    number = number_in(cell, "point")
    assert number is not None
    assert math.isnan(number)
    assert not is_number(cell, "point")


@pytest.mark.parametrize("density", [-0.05, 0.0, 15.0, math.nan])
def test_a_density_may_be_what_an_instrument_shows(density: float) -> None:
    check_density(density, "a.csv")


@pytest.mark.parametrize(
    ("density", "told"), [(-0.051, "a.csv: -0.051 is below zero"), (15.01, "a.csv: 15.01 is not a density")]
)
def test_a_density_beyond_what_an_instrument_shows_is_refused(density: float, told: str) -> None:
    with pytest.raises(RecordError, match=told):
        check_density(density, "a.csv")


@pytest.mark.parametrize(
    ("column", "value"), [("step", 1.0), ("step", 1000.0), ("stops", -3.5), ("ei", 0.1), ("log_h", -2.7)]
)
def test_a_position_may_be_a_step_stops_an_index_or_log_h(column: Position, value: float) -> None:
    check_position(column, value, "a.csv")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (0.0, "0 is not a step number"),
        (1.5, "1.5 is not a step number"),
        (1001.0, "1001 is not a step number"),
        (math.nan, "the cell of step is empty"),
    ],
)
def test_a_step_is_a_whole_number_from_one_to_a_thousand(value: float, told: str) -> None:
    with pytest.raises(RecordError, match=told):
        check_position("step", value, "a.csv")


def test_an_index_is_above_zero() -> None:
    with pytest.raises(RecordError, match="0 is not an exposure index"):
        check_position("ei", 0.0, "a.csv")
