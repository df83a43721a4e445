"""Simulate a strip with known truth, run the whole path, recover the truth within the stated interval."""

import math
from functools import lru_cache

import pytest

from tests.bench.coverage import count
from tests.simulate import scenarios

SEEDS = 12


@lru_cache
def counted(name: str) -> dict[str, tuple[int, int]]:
    """Return how often the intervals of a scenario held, over a few seeds."""
    return count(scenarios()[name], SEEDS)


@pytest.mark.parametrize("name", scenarios())
def test_intervals_hold_the_truth_as_often_as_they_say(name: str) -> None:
    found = counted(name)
    good, of = (sum(column) for column in zip(*found.values(), strict=True))
    # All numbers of one strip rest on the same readings: they count as one trial in three at most. Three standard
    # deviations below 93 %, which is what 95 % intervals of the full count (python -m tests.bench.coverage) reach.
    trials = of / 3
    assert good / of > 0.93 - 3.0 * math.sqrt(0.93 * 0.07 / trials)


def test_bounds_are_never_wrong_by_more_than_chance() -> None:
    found = counted("heron-short")
    bounds = {name: pair for name, pair in found.items() if "bound" in name}
    assert bounds
    for good, of in bounds.values():
        assert good >= 0.9 * of
