"""The first look at a picture: each edge counts once, whichever way density goes, and dirt does not."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.ladder_search import LadderGuess, ladder_guesses


def stairs(steps: int, pitch: int = 20, left: int = 30, rows: int = 126) -> FloatArray:
    """Return a picture of steps from top to bottom, each 0.2 denser than the one before it, (rows, columns)."""
    inside = np.repeat(0.2 * np.arange(1.0, steps + 1.0), pitch)
    row = np.concatenate([np.full(left, 0.2), inside, np.full(left, 0.2 * steps)])
    return np.tile(row, (rows, 1))


def best(grey: FloatArray, steps: int) -> LadderGuess:
    return ladder_guesses(grey, steps)[0]


@pytest.mark.parametrize("steps", [5, 6, 8, 11, 12])
def test_each_edge_between_steps_counts_one(steps: int) -> None:
    found = best(stairs(steps), steps)
    # An edge of more than 0.05 counts one, and the middles of plateaus nothing.
    assert found.score == pytest.approx(steps - 1, abs=0.01)
    assert (found.upright, found.sign) == (False, 1)
    assert abs(found.pitch - 20.0) < 2.0


def test_the_edges_of_the_strip_itself_count_nothing() -> None:
    grey = stairs(11)
    grey[:, :30], grey[:, -30:] = -2.0, 4.0
    assert best(grey, 11).score == pytest.approx(10.0, abs=0.01)


def test_density_may_go_either_way_and_the_strip_stand() -> None:
    assert best(stairs(11)[:, ::-1], 11).sign == -1
    standing = best(stairs(11).T, 11)
    assert (standing.upright, standing.sign) == (True, 1)
    assert standing.score == pytest.approx(10.0, abs=0.01)


def test_dirt_in_one_line_of_three_changes_no_score() -> None:
    grey = stairs(11)
    # Bands of this picture have three lines, of which each is a third.
    grey[1::3] += np.random.default_rng(4).uniform(-2.0, 2.0, grey[1::3].shape)
    assert best(grey, 11).score > 9.0
