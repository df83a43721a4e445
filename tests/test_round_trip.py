"""Simulate strips with known truth, run the whole path, recover the truth within the stated intervals.

A small fast version of `tests.bench.coverage`, which prints the whole table; five times as large before a release.
"""

import math
from collections import Counter
from functools import cache

import pytest

from tests.bench.coverage import DESIGNS, count
from tests.bench.shapes import FAMILIES

STRIPS = [5, pytest.param(25, marks=pytest.mark.slow)]
"""Of each family of curves, in each design."""
LEAST, MOST = 0.93, 0.985
"""Share of 95 % intervals that must hold the truth, and that may: two points for shapes that nobody tuned on."""
ALARM = 1e-4
"""Chance of a false alarm of one check; there are about fifty, and the seeds are fixed."""


@cache
def counted(design: str, strips: int) -> dict[str, tuple[int, int]]:
    """Return how often each number of a design held its truth, of how many, all families together."""
    good, of = Counter[str](), Counter[str]()
    for family in FAMILIES:
        for name, (held, all_of) in count(family, DESIGNS[design], strips, draws=250).items():
            good[name] += held
            of[name] += all_of
    return {name: (good[name], of[name]) for name in of}


def chance(good: int, of: int, share: float) -> float:
    """Return the chance that at most ``good`` of ``of`` independent intervals hold the truth (binomial)."""
    return sum(math.comb(of, k) * share**k * (1.0 - share) ** (of - k) for k in range(good + 1))


@pytest.mark.parametrize("strips", STRIPS)
@pytest.mark.parametrize("design", ["usual", "readings alone", "no patches", "negative"])
def test_intervals_of_every_number_hold_the_truth_as_often_as_they_say(design: str, strips: int) -> None:
    missed = {
        number: f"{good} of {of}"
        for number, (good, of) in counted(design, strips).items()
        if "bound" not in number and (chance(good, of, LEAST) < ALARM or chance(of - good, of, 1.0 - MOST) < ALARM)
    }
    assert not missed


@pytest.mark.parametrize("strips", STRIPS)
def test_bounds_are_never_wrong_by_more_than_chance(strips: int) -> None:
    bounds = {name: pair for name, pair in counted("never clears", strips).items() if "bound" in name}
    wrong = {name: f"{good} of {of}" for name, (good, of) in bounds.items() if chance(good, of, 0.95) < 10 * ALARM}
    assert bounds
    assert not wrong
