"""A tuple that is made when it is first read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TypeVar, overload

Item = TypeVar("Item")


class LazyTuple(Sequence[Item]):
    """A tuple that is made when it is first read: a table of numbers reads no remark on a strip, an index no step.

    It travels to another process as the tuple.

    Args:
        make: makes it.
    """

    def __init__(self, make: Callable[[], tuple[Item, ...]]) -> None:
        self._make = make

    @cached_property
    def _made(self) -> tuple[Item, ...]:
        return self._make()

    @overload
    def __getitem__(self, index: int) -> Item: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Item, ...]: ...

    def __getitem__(self, index: int | slice) -> Item | tuple[Item, ...]:
        """Return an item, or a tuple of several."""
        return self._made[index]

    def __len__(self) -> int:
        return len(self._made)

    def __repr__(self) -> str:
        return repr(self._made)

    def __reduce__(self) -> tuple[type[tuple[Item, ...]], tuple[tuple[Item, ...]]]:
        return tuple, (self._made,)
