"""The fit of a row of cells to edges, by pictures whose edges are known exactly."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.ladder_fit import _cells, _changes, _refined, _Row

PITCH, STEPS = 30.0, 12
ROW = _Row(0.0, 40.0, PITCH, 10.0, 90.0)


def picture(edges: FloatArray, jumps: FloatArray) -> FloatArray:
    """Return a level picture, (100, 480) [density]: a jump at each edge, as pixels that average over themselves see it.

    Args:
        edges: places, (e,) [pixels].
        jumps: change there, (e,) [density].
    """
    column = np.arange(480.0)
    profile = sum(j * np.clip(column + 1.0 - e, 0.0, 1.0) for e, j in zip(edges, jumps, strict=True))
    return np.asarray(np.tile(profile, (100, 1)))


def test_edges_that_are_hardly_seen_or_astray_do_not_count() -> None:
    edges = ROW.start + PITCH * np.arange(STEPS + 1.0)
    jumps = np.full(STEPS + 1, 0.2)
    edges[10] += 6.0
    edges[[11, 12]] += 3.0
    jumps[[11, 12]] = 0.004
    slope, start, pitch = _refined(picture(edges, jumps), ROW, STEPS) or (np.nan,) * 3
    assert (slope, start, pitch) == pytest.approx((0.0, ROW.start, PITCH), abs=1e-6)


def test_nothing_lies_before_the_first_pixel() -> None:
    # Own arithmetic, on a density of 2: 0.3 pixels of the lower side are missing, and with them 0.6 of 6.0.
    assert _changes(np.full((1, 20), 2.0), np.array([2.7]), 3.0) == pytest.approx(np.array([[0.2]]))
    assert np.isnan(_changes(np.full((1, 20), 2.0), np.array([2.4]), 3.0)).all()


def test_where_no_edge_is_seen_a_slope_is_not_even() -> None:
    column = np.arange(480.0)
    # It grows steeper all the way: no place of an edge has the greatest change near it.
    slope = np.tile(0.0015 * column + 5e-7 * column**2, (100, 1))
    found = _cells(slope, ROW, STEPS, slope.shape, False)
    assert found is not None
    assert not found.seen.any()
    # Own arithmetic: 0.015 to 0.020 over 0.33 cells, more than the 0.010 that counts as even where nothing is seen.
    assert not found.even.any()
