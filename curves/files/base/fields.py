"""Fields of a record, taken one by one and checked."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, TypeVar

from curves.errors import RecordError, nearest, visible
from curves.sensitometry.core.values import ANY_NUMBER, Bounds, number

Word = TypeVar("Word", bound=str)

_FILE_KEYS = ("readings", "image", "calibration", "patches", "table")
"""Keys whose text is the name of a file, which is looked for as it is written."""

MOST_OF_RECORD = 1_000_000
"""The largest record that is parsed: our own choice [bytes]."""

# Fifty names joined by dots: no record has such a key, and the time to parse one grows with its square.
_LONG_KEY = re.compile(r"""(?:\.[ \t]*(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*){50}""")


def toml_in(text: str, name: str) -> dict[str, Any]:
    """Return the contents of a text in TOML, to be read and not changed: others may hold them too.

    Args:
        text: the text.
        name: the file, for errors.

    Raises:
        RecordError: the text is nested so deeply that no record can be meant.
        ValueError: the text is not TOML, or holds a number of thousands of digits.
    """
    try:
        if _LONG_KEY.search(text):
            raise RecursionError
        return _parsed(text)
    except RecursionError as error:
        raise RecordError(
            "it is nested too deeply", where=name, needed="sections such as [exposure], and key = value in each"
        ) from error


@lru_cache(maxsize=1)
def _parsed(text: str) -> dict[str, Any]:
    """Return the contents of a text in TOML, parsed once for two in a row that ask: a strip's digest and its record."""
    return tomllib.loads(text)


class Section:
    """One table of a record. `only` refuses unknown keys; taking a field checks its type.

    Args:
        content: the table as read.
        where: file and section for errors, such as "heron.toml, [wedge]".
    """

    def __init__(self, content: dict[str, Any], where: str) -> None:
        self._content, self.where = content, where

    def __contains__(self, key: str) -> bool:
        return key in self._content

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that this table has, in the order of the file."""
        return tuple(self._content)

    def only(self, *known: str, elsewhere: Mapping[str, str] | None = None) -> None:
        """Refuse an unknown key, and name the nearest known key.

        Args:
            known: the keys that this table may have.
            elsewhere: keys that belong in another place, with that place.
        """
        for key in self._content:
            if key in known:
                continue
            if elsewhere and key in elsewhere:
                raise RecordError(f"'{key}' does not belong here: {elsewhere[key]}", where=self.where)
            raise RecordError(f"'{key}' is not a known key", where=self.where, hint=nearest(key, known))

    def at(self, key: str) -> str:
        """Return the place of a field, for errors."""
        return f"{self.where} {key}"

    def take(self, key: str) -> Any:
        """Return a field as it is, or None where it is missing."""
        return self._content.get(key)

    def text(self, key: str, *, needed: str | None = None) -> str:
        """Return a text, its control characters visible; empty if missing, unless ``needed`` says what it must be."""
        value = self.take(key)
        if value is None:
            if needed:
                raise RecordError(f"'{key}' is missing", where=self.where, needed=needed)
            return ""
        if not isinstance(value, str):
            raise RecordError(f"{value!r} is not a text", where=self.at(key), needed='a text in quotes, such as "..."')
        return value if key in _FILE_KEYS else visible(value)

    def word(self, key: str, choices: Sequence[Word]) -> Word:
        """Return one of ``choices``; the field must be there."""
        value = self.take(key)
        listed = " or ".join(f'"{c}"' for c in choices)
        if value is None:
            raise RecordError(f"'{key}' is missing", where=self.where, needed=f"{key} = {listed}")
        for choice in choices:
            if value == choice:
                return choice
        raise RecordError(f"{value!r} is not known", where=self.at(key), needed=listed)

    def number(self, key: str, within: Bounds = ANY_NUMBER, *, needed: str | None = None) -> float | None:
        """Return a number within bounds; None if it is missing, unless ``needed`` says what it must be."""
        value = self.take(key)
        if value is None:
            if needed:
                raise RecordError(f"'{key}' is missing", where=self.where, needed=needed)
            return None
        return check_number(value, self.at(key), within)

    def whole(self, key: str, *, needed: str, least: int) -> int:
        """Return a whole number of at least ``least``; it must be there."""
        value = self.take(key)
        if value is None:
            raise RecordError(f"'{key}' is missing", where=self.where, needed=needed)
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            raise RecordError(f"{value!r} is not a whole number of {least} or more", where=self.at(key), needed=needed)
        return value

    def date(self, key: str) -> datetime.date | None:
        """Return a date, or None if it is missing."""
        value = self.take(key)
        if value is None or (isinstance(value, datetime.date) and not isinstance(value, datetime.datetime)):
            return value
        raise RecordError(f"{value!r} is not a date", where=self.at(key), needed="a date without quotes: 2026-03-14")

    def section(self, key: str, where: str, *, needed: str = "") -> Section:
        """Return a table inside this table, empty if it is missing."""
        value = self.take(key)
        if value is None:
            value = {}
        if not isinstance(value, dict):
            raise RecordError(f"'{key}' is not a table", where=self.where, needed=needed or f"a section headed [{key}]")
        return Section(value, where)


def check_number(value: object, where: str, within: Bounds = ANY_NUMBER) -> float:
    """Return ``value`` as a finite number within bounds, or raise RecordError."""
    return number(value, where, within, RecordError)
