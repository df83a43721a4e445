"""Linear interpolation in every row of an array: each row is one curve, the estimate or a draw."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.core.units import FloatArray


def along_rows(x: FloatArray, grid: FloatArray, rows: FloatArray) -> FloatArray:
    """Return the value of each row at positions ``x`` on a grid that the rows share.

    Args:
        x: positions, (n,) for all rows, or (r, n) where every row has its own; beyond the grid an end's value stands.
        grid: ascending positions of the columns, (g,).
        rows: (r, g).

    Returns:
        (r, n); NaN where ``x`` is NaN.
    """
    if len(rows) == 1:
        return np.asarray(np.interp(np.atleast_2d(x), grid, rows[0]))
    at = np.atleast_2d(np.clip(x, grid[0], grid[-1]))
    after = np.clip(np.searchsorted(grid, at), 1, grid.size - 1)
    share = (at - grid[after - 1]) / (grid[after] - grid[after - 1])
    before = np.take_along_axis(rows, after - 1, axis=1)
    return np.asarray(before + share * (np.take_along_axis(rows, after, axis=1) - before))


def along_own_grids(x: FloatArray, grids: FloatArray, values: FloatArray) -> FloatArray:
    """Return at positions ``x`` what each row has there, where every row has a grid of its own.

    Args:
        x: positions, (n,); beyond a row's grid its end's value stands.
        grids: ascending positions, row by row, (r, g).
        values: values there, (r, g), or (g,) where the rows share them.
    """
    shared = np.broadcast_to(values, grids.shape)
    return np.array([np.interp(x, own, row) for own, row in zip(grids, shared, strict=True)])


_BLOCK = 64
"""Rows that are looked up at once: as many as a processor's own memory holds with what is computed from them."""


def along_even_grid(x: FloatArray, grid: FloatArray, *arrays: FloatArray) -> list[FloatArray]:
    """Return the values of each row at positions of its own, straight between the columns and beyond the outer ones.

    Args:
        x: positions, (r, n).
        grid: evenly spaced positions of the columns, (g,).
        arrays: each (r, g).

    Returns:
        One array for each, (r, n).
    """
    columns_per_unit = (grid.size - 1) / (grid[-1] - grid[0])
    found = [np.empty(x.shape) for _ in arrays]
    for start in range(0, len(x), _BLOCK):
        block = slice(start, start + _BLOCK)
        share = (x[block] - grid[0]) * columns_per_unit
        before = share.astype(np.intp).clip(0, grid.size - 2)
        share -= before
        before += (np.arange(len(before)) * grid.size)[:, None]
        for rows, result in zip(arrays, found, strict=True):
            packed = rows[block].ravel()
            rise = np.diff(packed).take(before)
            rise *= share
            np.add(packed.take(before), rise, out=result[block])
    return found
