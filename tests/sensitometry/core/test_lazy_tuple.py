"""A tuple that is made when it is first read."""

from __future__ import annotations

import pickle

from curves.sensitometry.core.lazy_tuple import LazyTuple


def test_it_is_made_once_and_only_when_it_is_read() -> None:
    made: list[int] = []

    def make() -> tuple[str, ...]:
        made.append(1)
        return ("a", "b", "c")

    found = LazyTuple(make)
    assert not made
    assert (len(found), found[0], found[1:], list(found), repr(found)) == (
        3, "a", ("b", "c"), ["a", "b", "c"], "('a', 'b', 'c')",
    )  # fmt: skip
    assert len(made) == 1


def test_none_in_it_is_false() -> None:
    assert not LazyTuple(tuple)


def test_it_equals_a_tuple_of_equal_items_and_no_list() -> None:
    found = LazyTuple(lambda: (1, 2))
    assert found == (1, 2)
    assert found == LazyTuple(lambda: (1, 2))
    assert hash(found) == hash((1, 2))
    assert found != (2, 1)
    assert found != [1, 2]


def test_it_travels_as_the_tuple() -> None:
    # What makes it, here a lambda, cannot travel.
    assert pickle.loads(pickle.dumps(LazyTuple(lambda: (1, 2)))) == (1, 2)
