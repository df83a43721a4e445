"""Interpolation along rows, by hand on grids of few columns."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.rows import along_even_grid, along_own_grids, along_rows


def test_an_even_grid_is_followed_straight_between_its_columns_and_beyond_the_outer_ones() -> None:
    # By hand: squares of 0 to 3 change by 1, 3 and 5 from column to column.
    grid = np.array([0.0, 1.0, 2.0, 3.0])
    x = np.array([[-1.0, 0.5, 1.5, 2.5, 4.0], [0.0, 1.0, 2.0, 3.0, 2.9]])
    squares, twice = along_even_grid(x, grid, np.tile(grid**2, (2, 1)), np.tile(2.0 * grid, (2, 1)))
    assert squares == pytest.approx(np.array([[-1.0, 0.5, 2.5, 6.5, 14.0], [0.0, 1.0, 4.0, 9.0, 8.5]]))
    assert twice == pytest.approx(2.0 * x)


def test_beyond_a_grid_the_value_of_its_end_stands() -> None:
    grid, rows = np.array([0.0, 1.0, 3.0]), np.array([[0.0, 1.0, 9.0], [5.0, 5.0, 1.0]])
    x = np.array([-1.0, 0.5, 2.0, 3.0, 7.0])
    expected = np.array([[0.0, 0.5, 5.0, 9.0, 9.0], [5.0, 5.0, 3.0, 1.0, 1.0]])
    assert along_rows(x, grid, rows) == pytest.approx(expected)
    assert along_own_grids(x, np.tile(grid, (2, 1)), rows) == pytest.approx(expected)
    assert np.isnan(along_rows(np.array([np.nan]), grid, rows)).all()


def test_each_of_many_rows_is_followed_by_itself() -> None:
    # An independent way: numpy's own interpolation, row by row; more rows than are looked up at once.
    rng = np.random.default_rng(3)
    grid, rows = np.linspace(-2.0, 1.0, 31), rng.normal(size=(150, 31))
    x = rng.uniform(-2.0, 1.0, size=(150, 7))
    (found,) = along_even_grid(x, grid, rows)
    expected = [np.interp(at, grid, row) for at, row in zip(x, rows, strict=True)]
    np.testing.assert_allclose(found, expected, atol=1e-12)
