"""Batches joined by strips that went through side by side: differences, their errors, and what cannot be joined."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from curves import load_strip
from curves.errors import StripError
from curves.sensitometry.control.batches import Batches
from curves.sensitometry.strip.strip import Strip
from tests.simulate import FOLDER

ONE = load_strip(FOLDER / "wren-reversal.toml")


def strips(*batch_and_day: tuple[str, int | None]) -> list[Strip]:
    """Return strips of batches, put through on days."""
    return [
        replace(ONE, batch=batch, date=None if day is None else datetime.date(2026, 5, day))
        for batch, day in batch_and_day
    ]


def test_pairs_of_two_batches_are_joined_by_the_mean_of_their_differences() -> None:
    found = Batches.of(strips(("a", 1), ("a", 2), ("b", 2), ("a", 3), ("b", 3), ("b", 4)), 3)
    values = np.array([1.0, 1.1, 1.4, 0.9, 1.1, 1.2])
    known = np.ones(6, dtype=bool)
    apart = found.differences(known)
    # 0.3 on day 2 and 0.2 on day 3, by hand.
    np.testing.assert_allclose(apart @ values, [0.0, 0.25])
    assert found.joining.tolist() == [False, False, True, False, True, False]
    assert found.judged.tolist() == [False, False, False, False, False, True]
    # The centre of b: the mean of the three of a, and 0.25; by hand.
    centres = found.centres(known, apart)
    np.testing.assert_allclose(centres @ values, [1.0, 1.25])
    # Weights of b's centre: 1/3 on day 1, 1/3 - 1/2 and 1/2 on days 2 and 3: 1/9 + 2/36 + 2/4, by hand.
    assert found.variance(centres[1]) == pytest.approx(1 / 9 + 2 / 36 + 2 / 4)
    assert found.variance(apart[1]) == pytest.approx(1.0)


def test_a_batch_is_joined_through_another() -> None:
    found = Batches.of(strips(("a", 1), ("b", 1), ("b", 2), ("c", 2), ("c", 3)), 1)
    apart = found.differences(np.ones(5, dtype=bool))
    np.testing.assert_allclose(apart @ np.array([1.0, 1.5, 1.3, 1.5, 1.6]), [0.0, 0.5, 0.7])
    # Two differences of two strips each.
    assert found.variance(apart[2]) == pytest.approx(4.0)
    # In the second run b speaks for the process, and c joins it.
    assert found.judged.tolist() == [False, False, True, False, True]


def test_a_batch_of_no_common_run_is_refused() -> None:
    with pytest.raises(StripError, match="batch b shares no run with batch a; needed: a run in which strips of both"):
        Batches.of(strips(("a", 1), ("b", 2)), 1)
    with pytest.raises(StripError, match="batch b shares no run with batch without a name"):
        Batches.of(strips(("", None), ("b", None)), 1)


def test_runs_of_one_day_are_told_apart_by_their_names() -> None:
    morning, evening = (replace(s, run=run) for s, run in zip(strips(("a", 1), ("b", 1)), ("1", "2"), strict=True))
    with pytest.raises(StripError, match="batch b shares no run"):
        Batches.of([morning, evening], 1)


def test_a_number_that_no_joining_strip_shows_has_no_difference() -> None:
    found = Batches.of(strips(("a", 1), ("a", 2), ("b", 2), ("b", 3)), 2)
    apart = found.differences(np.array([True, True, False, True]))
    assert np.isnan(apart[1]).all()
    np.testing.assert_array_equal(apart[0], 0.0)


def test_strips_of_one_run_count_as_one_where_the_run_scatters() -> None:
    found = Batches.of(strips(("a", 1), ("a", 1), ("a", 2), ("a", 2)), 4)
    known = np.ones(4, dtype=bool)
    # A mean of four strips of two runs is known as that of two strips, if runs scatter and strips do not.
    assert found.variance(found.centres(known, found.differences(known))[0]) == pytest.approx(0.5)
