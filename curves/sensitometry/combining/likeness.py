"""Strips that are of one film, processed and filtered alike: what can be combined and what cannot."""

from __future__ import annotations

from collections.abc import Sequence

from curves.errors import StripError
from curves.sensitometry.core.streams import identity
from curves.sensitometry.strip.strip import Strip


def refuse_other_film(first: Strip, other: Strip) -> None:
    """Refuse a strip that is not of the film of the first, or was exposed behind other filters.

    What a record leaves empty does not count against its strip.

    Args:
        first, other: the strips.

    Raises:
        StripError: kinds, films or filters differ.
    """
    filters = [", ".join(f"{f.name}, metered {f.metered}" for f in strip.filters) or "none" for strip in (first, other)]
    for what, one, another in (
        ("kind", first.kind, other.kind),
        ("film", first.film or other.film, other.film or first.film),
        ("filter", *filters),
    ):
        if one != another:
            raise StripError(
                f"{what} is {another}, but {one} on {first.title}",
                where=other.title,
                needed="strips of one film, of one kind and behind the same filters",
                hint="leave that strip out; a comparison shows how two strips differ",
            )


def refuse_twice(strips: Sequence[Strip]) -> None:
    """Refuse a strip that is given twice: it would count for two.

    Raises:
        StripError: two strips have the same readings at the same positions.
    """
    seen: dict[tuple[str, ...], str] = {}
    for strip in strips:
        content = (identity(strip.log_h), *(identity(strip.readings[c]) for c in strip.channels))
        if not strip.channels:
            # Two rolls that were only judged may well agree frame by frame.
            content = (*content, f"{strip.title} {strip.judgements}")
        if content in seen:
            raise StripError(
                "its exposures and readings are those of another strip",
                where=strip.title,
                needed="each strip once",
                hint=f"leave out one of the two; the other is called {seen[content]}",
            )
        seen[content] = strip.title


def other_processes(strips: Sequence[Strip]) -> tuple[str, ...]:
    """Return the processes that the records name, each once; fewer than two where they do not differ."""
    return tuple(dict.fromkeys(strip.process for strip in strips if strip.process))
