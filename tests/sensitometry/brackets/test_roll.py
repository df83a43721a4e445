"""The frames of a roll: their distance, their reach, and the chance that they hold the index."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.brackets.roll import Bracket, Candidate, plan_roll
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP
from curves.sensitometry.strip.exposure import Eye


def roll(index: Quantity, frames: int, stacks: int = 1, factor: float = 1.0) -> tuple[Bracket, ...]:
    """Return a roll for so many stacks of one index."""
    names = ("", *(f"filter {n}" for n in range(1, stacks)))
    return plan_roll(tuple(Candidate(name, index, factor) for name in names), "reversal", frames, Eye())


@pytest.mark.parametrize(
    ("low", "high", "frames", "spacing", "indexes"),
    [
        # Within a third of a stop: thirds over the interval and two thirds beyond it.
        (10.1, 15.8, 12, 1, [25, 20, 16, 12, 10, 8, 6]),
        (10.1, 15.8, 5, 2, [32, 20, 12, 8, 5]),
        # Within a stop: thirds where frames suffice, whole stops where they do not.
        (6.3, 25.2, 12, 1, [40, 32, 25, 20, 16, 12, 10, 8, 6, 5, 4]),
        (6.3, 25.2, 6, 3, [50, 25, 12, 6, 3]),
        # Not known to a stop: whole stops, however many frames there are.
        (3.0, 50.0, 30, 3, [100, 50, 25, 12, 6, 3, 1.5]),
        (3.0, 50.0, 3, 3, [25, 12, 6]),
    ],
)
def test_frames_lie_as_the_rule_says(low: float, high: float, frames: int, spacing: int, indexes: list[float]) -> None:
    (found,) = roll(Quantity(12.6, low, high), frames)
    assert found.spacing == spacing
    assert [frame.hand_held for frame in found.frames] == indexes
    assert found.middle == 12


def test_an_index_without_an_interval_is_not_known() -> None:
    assert roll(Quantity(12.6), 12)[0].spacing == 3


def test_a_meter_that_looks_through_the_filters_is_set_higher_by_the_factor() -> None:
    # By definition: the filter's density comes off the light that such a meter sees.
    (found,) = roll(Quantity(12.6, 6.3, 25.2), 5, factor=4.0)
    assert [frame.through / frame.hand_held for frame in found.frames] == pytest.approx([4.0] * 5, rel=0.06)


@pytest.mark.parametrize(
    ("bound", "indexes"), [(("<", 22.0), [20, 10, 5, 2.5, 1.2]), ((">", 22.0), [320, 160, 80, 40, 20])]
)
def test_from_a_bound_frames_go_away_in_whole_stops(bound: tuple[str, float], indexes: list[float]) -> None:
    below, above = (bound[1] if bound[0] == side else None for side in "<>")
    (found,) = roll(Quantity.missing("the strip ends", below=below, above=above), 12)
    assert [frame.hand_held for frame in found.frames] == indexes
    assert found.covers is None


def test_stacks_share_the_frames_evenly_and_are_numbered_through() -> None:
    found = roll(Quantity(12.6, 6.3, 25.2), 12, stacks=2)
    assert [len(bracket.frames) for bracket in found] == [5, 5]
    assert [frame.number for bracket in found for frame in bracket.frames] == list(range(1, 11))
    assert [bracket.frames[0].stack for bracket in found] == ["", "filter 1"]


def test_too_few_frames_for_the_stacks_are_refused() -> None:
    with pytest.raises(StripError, match="8 frames are too few for 3 stacks; needed: at least 3 for each stack, 9"):
        roll(Quantity(12.6, 10.0, 16.0), 8, stacks=3)


def test_nothing_known_is_refused() -> None:
    with pytest.raises(StripError, match="nothing is known of the index: log H is relative"):
        roll(Quantity.missing("log H is relative"), 8)


def test_the_chance_counts_the_draws_between_the_outer_frames() -> None:
    rng = np.random.default_rng(2)
    rows = 12.6 * 10.0 ** (STOP * np.r_[0.0, 2.0 * rng.standard_normal(20000)])
    (found,) = roll(Quantity(12.6, 1.0, 150.0, rows=rows), 5)
    # Two stops to each side of a normal distribution of two stops: 68 %.
    assert found.covers == pytest.approx(0.683, abs=0.02)


def test_the_chance_of_a_guess_is_that_of_a_rectangle() -> None:
    (found,) = roll(Quantity(12.6, 12.6 / 16.0, 12.6 * 16.0), 5)
    assert found.covers == pytest.approx(0.5, abs=0.03)


def test_the_expected_interval_is_that_of_the_likeliest_judgements() -> None:
    # Regression: computed by this code; `tests.bench.judged` achieves 0.97 with nine frames in whole stops.
    (found,) = roll(Quantity(12.6, 1.0, 150.0), 9)
    assert found.expected == pytest.approx(0.97, abs=0.03)
