"""Lines as an instrument or a serial reader prints them: where in each the numbers are."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curves.errors import RecordError
from curves.sensitometry.core.units import Channel

NUMBERS = r"(?<![\w.,])[-+]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?!\w)"
"""The usual pattern: every number that stands by itself."""


def pattern(text: str) -> re.Pattern[str]:
    """Return a pattern as a person wrote it.

    Raises:
        RecordError: it is no regular expression.
    """
    try:
        return re.compile(text)
    except re.error as error:
        raise RecordError(
            f"'{text}' is no pattern: {error}",
            where="--pattern",
            needed="a regular expression with a group for each number, such as 'R=(.*?) G=(.*?) B=(.*?);'",
        ) from error


def numbers_in(line: str, wanted: re.Pattern[str], channels: Sequence[Channel]) -> str | None:
    """Return the numbers that a pattern finds in a line, as a person would type them; None if it finds none.

    A pattern with groups named after channels gives each channel its own; with other groups, one number a group, in the
    order of the channels; without groups, everything that it matches.

    Args:
        line: the line as it was printed.
        wanted: the pattern.
        channels: what is read, in order.
    """
    if wanted.groups == 0:
        found = [m[0] for m in wanted.finditer(line)]
    else:
        match = wanted.search(line)
        if match is None:
            return None
        named = match.groupdict()
        found = [named[c] for c in channels] if set(channels) <= set(named) else list(match.groups())
    words = [word.strip() for word in found if word is not None and word.strip()]
    return "  ".join(words) if words else None
