"""Tone maps on curves that are known exactly: what they become, their noise, and the densities beyond the curve."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.balance.tone import MOST_GAIN, Target, map_of
from tests.simulate import Array

LOG_H: Array = np.linspace(-1.0, 1.0, 201)


def target(density: Array) -> Target:
    return Target("green", "reversal", LOG_H, density, 1.0, None)


def test_straight_curves_become_each_other_exactly_and_go_on_straight() -> None:
    # Known: target 2 - x; a layer of half the contrast, 1 - x / 2. Balanced is twice the density, and noise doubles.
    found = map_of(1.0 - 0.5 * LOG_H, target(2.0 - LOG_H))
    assert found.known == pytest.approx((0.5, 1.5))
    assert found.at([0.5, 1.0, 1.5]) == pytest.approx([1.0, 2.0, 3.0])
    assert found.at([0.4, 1.6]) == pytest.approx([0.8, 3.2])
    assert found.gain([0.2, 1.0, 1.9]) == pytest.approx([2.0] * 3)


def test_the_map_of_a_negative_falls() -> None:
    found = map_of(0.5 + 0.6 * LOG_H, target(1.0 - LOG_H))
    assert found.at([-0.1, 0.5, 1.1]) == pytest.approx([2.0, 1.0, 0.0])
    assert found.at([1.25]) == pytest.approx([-0.25])
    assert found.gain([0.5, 2.0]) == pytest.approx([1 / 0.6] * 2)


def test_a_curve_that_does_not_move_takes_the_middle_of_what_it_could_become() -> None:
    # The layer is flat over the lower half of log H, while the target falls there from 2 to 1.
    found = map_of(np.where(LOG_H < 0.0, 1.0, 1.0 - 0.5 * LOG_H), target(1.0 - LOG_H))
    slopes = np.diff(found.balanced) / np.diff(found.scanned)
    assert slopes.max() <= MOST_GAIN * (1 + 1e-9)
    assert (slopes >= 0).all()
    assert 1.0 < float(found.at(1.0)) < 2.0
    assert float(found.at(0.5)) == pytest.approx(0.0, abs=0.01)


def test_nothing_changes_where_nothing_is_to_change() -> None:
    density = 1.5 - np.tanh(2.0 * LOG_H)
    found = map_of(density, target(density))
    places = np.linspace(0.3, 2.7, 50)
    assert found.at(places) == pytest.approx(places, abs=1e-9)
