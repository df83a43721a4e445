"""A tuple that is made when it is first read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TypeVar, overload

Item = TypeVar("Item")


class LazyTuple(Sequence[Item]):
    """A tuple that is made when it is first read: work that reads numbers alone makes no remark on a strip.

    The pickle of a lazy tuple is the plain tuple.

    Args:
        make: returns the tuple.
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

    def __eq__(self, other: object) -> bool:
        """Return True if another tuple, lazy or not, has equal items."""
        return self._made == tuple(other) if isinstance(other, tuple | LazyTuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._made)

    def __repr__(self) -> str:
        return repr(self._made)

    def __reduce__(self) -> tuple[type[tuple[Item, ...]], tuple[tuple[Item, ...]]]:
        return tuple, (self._made,)
