"""Text wrapped to the width of a terminal: plain lines, rows of a tall table, and lists of sentences."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

WIDTH = 79
"""Longest line, for a terminal of 80 columns [characters]."""

_NAME = 12
"""Width of the names in a tall table [characters]."""


def wrapped(text: str, *, indent: int = 0, hanging: int | None = None) -> list[str]:
    """Return a text as lines of at most `WIDTH` characters.

    Args:
        text: one paragraph; where it begins with "- ", the lines that follow stand under its first word.
        indent: spaces before the first line.
        hanging: spaces before the lines that follow, where not as ``indent`` and the text ask.
    """
    further = indent + 2 if text.startswith("- ") else indent
    return textwrap.wrap(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (further if hanging is None else hanging)
    )


def row(name: str, text: str) -> list[str]:
    """Return one row of a tall table: a name, and a text beside it; a long name stands on a line of its own."""
    margin = " " * (_NAME + 3)
    if len(name) > _NAME and text:
        return [*wrapped(name, indent=2), *textwrap.wrap(text, WIDTH, initial_indent=margin, subsequent_indent=margin)]
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"  {name:<{_NAME}} ", subsequent_indent=margin
    ) or [f"  {name}"]  # fmt: skip


def listed(heading: str, sentences: Iterable[str]) -> list[str]:
    """Return an empty line, a heading and a list of sentences; nothing where there are no sentences."""
    lines = [line for sentence in sentences for line in wrapped(f"- {sentence}", indent=2)]
    return ["", heading, *lines] if lines else []
