"""What the search for misreadings computes by a few products is what trying each mend in turn computes."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.order.plausibility import Plausibility

STEPS = 12
EVEN = np.arange(float(STEPS))
UNEVEN = np.cumsum(np.random.default_rng(5).uniform(0.7, 1.3, STEPS))


def plausibility(readings: FloatArray, position: FloatArray) -> Plausibility:
    return Plausibility(readings, position, deviation=0.01, freedom=3.0)


def drawn(seed: int) -> FloatArray:
    return np.cumsum(np.random.default_rng(seed).random((3, STEPS)), axis=1)


@pytest.fixture(params=[EVEN, UNEVEN], ids=["even", "uneven"])
def position(request: pytest.FixtureRequest) -> FloatArray:
    return np.asarray(request.param)


def test_exchanged_rows_gain_what_trying_each_pair_gains(position: FloatArray) -> None:
    readings = drawn(1)
    one = plausibility(readings, position)
    gain = one.row_exchanges()
    for i, j in itertools.combinations(range(STEPS), 2):
        tried = readings.copy()
        tried[:, [i, j]] = readings[:, [j, i]]
        assert gain[:, i, j] == pytest.approx(plausibility(tried, position).logarithm - one.logarithm, abs=1e-8)


@pytest.mark.parametrize("up", [True, False])
def test_moved_rows_gain_what_trying_each_block_gains(position: FloatArray, up: bool) -> None:
    readings = drawn(2)
    one = plausibility(readings, position)
    gain = one.row_moves(up=up)
    for i, j in itertools.combinations(range(STEPS), 2):
        tried = readings.copy()
        tried[:, i : j + 1] = np.roll(readings[:, i : j + 1], -1 if up else 1, axis=1)
        assert gain[:, i, j] == pytest.approx(plausibility(tried, position).logarithm - one.logarithm, abs=1e-8)


def test_exchanged_channels_gain_what_trying_each_part_gains(position: FloatArray) -> None:
    readings = drawn(3)
    one = plausibility(readings, position)
    pairs = [(0, 1), (0, 2), (1, 2)]
    gain = one.channel_exchanges(pairs)
    for number, pair in enumerate(pairs):
        for start, end in itertools.combinations(range(STEPS + 1), 2):
            tried = readings.copy()
            tried[list(pair), start:end] = readings[list(pair[::-1]), start:end]
            gained = (plausibility(tried, position).logarithm - one.logarithm).sum()
            assert gain[number, start, end] == pytest.approx(gained, abs=1e-8)


def test_a_wild_reading_is_judged_as_if_it_had_not_been_read() -> None:
    readings = drawn(4)
    one = plausibility(readings, EVEN)
    # Whatever the reading is, it says nothing of the others: what is gained is what it cost.
    for off in (0.0, 0.4):
        moved = readings.copy()
        moved[:, 5] += off
        other = plausibility(moved, EVEN)
        left = other.wild_readings()[:, 5] + other.logarithm
        assert left == pytest.approx(one.wild_readings()[:, 5] + one.logarithm, abs=1e-8)


def test_scatter_is_found_where_the_curve_is_flat_and_exposures_do_not_show() -> None:
    position = np.arange(31.0)
    curve = 2.0 / (1.0 + np.exp(-(position - 15.0) / 2.0))
    steady: list[float] = []
    shaken: list[float] = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        noise = 0.02 * rng.standard_normal((4, 31))
        exposures = 0.2 * np.gradient(curve) * rng.standard_normal(31)
        for found, readings in ((steady, curve + noise), (shaken, curve + noise + exposures)):
            squares, freedom = plausibility(readings, position).flat_scatter
            found.append(float(np.sqrt(squares / freedom)))
    assert np.median(steady) == pytest.approx(0.02, rel=0.15)
    assert np.median(shaken) == pytest.approx(0.02, rel=0.15)
