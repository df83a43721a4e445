"""Simulate a strip with known truth, run the whole path, recover the truth within the stated interval."""

import functools
import math

import pytest

from tests.bench.coverage import count
from tests.simulate import scenarios

TRIALS = 100
"""Intervals of one quantity to count: channels of a strip times strips."""
LEAST = 0.93
"""Share of 95 % intervals that must hold the truth: two points for rounding and the smoothing's bias."""
ALARM = 1e-4
"""Chance of a false alarm of one check; there are about fifty, and the seeds are fixed."""


@functools.cache
def counted(name: str) -> dict[str, tuple[int, int]]:
    """Return how often each quantity of a scenario held its truth, of how many."""
    scenario = scenarios()[name]
    return count(scenario, TRIALS // len(scenario.channels))


def chance(good: int, of: int, share: float) -> float:
    """Return the chance that at most ``good`` of ``of`` independent intervals hold the truth (binomial)."""
    return sum(math.comb(of, k) * share**k * (1.0 - share) ** (of - k) for k in range(good + 1))


@pytest.mark.parametrize("name", scenarios())
def test_intervals_of_every_quantity_hold_the_truth_as_often_as_they_say(name: str) -> None:
    # The trials of one quantity are independent: every channel of every seed has scatter of its own.
    short = {
        quantity: f"{good} of {of}"
        for quantity, (good, of) in counted(name).items()
        if "bound" not in quantity and chance(good, of, LEAST) < ALARM
    }
    assert not short


def test_bounds_are_never_wrong_by_more_than_chance() -> None:
    bounds = {name: pair for name, pair in counted("heron-short").items() if "bound" in name}
    assert bounds
    for good, of in bounds.values():
        assert good >= 0.9 * of
