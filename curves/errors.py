"""The errors a person can cause and mend.

    CurvesError            anything that this package refuses, in words; a command turns it into exit status 1
    ├── RecordError        a file that a person wrote (record, readings, wedge table) cannot be understood
    │   └── EmptyRecordError   a record whose readings are still to be entered
    ├── StripError         a strip, its readings or a choice cannot be what it is declared to be
    ├── GrainError         a picture or a patch of it on which grain cannot be measured
    └── OutputError        a result could not be written; nothing was lost or overwritten

Every error says what is wrong, where, what is needed, and what to try.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from typing import Self

# Line ends and tabs are text; other control characters, and signs that turn the direction of writing, are not.
_PICTURES = {
    **{code: 0x2400 + code for code in range(32) if chr(code) not in "\t\n"},
    0x7F: 0x2421,
    **dict.fromkeys([*range(0x80, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A)], 0xFFFD),
}


def visible(text: str) -> str:
    """Return a text with its control characters as visible ones, so that none of them commands a terminal."""
    return text.translate(_PICTURES)


_TOGETHER = " & "
"""The sign between settings that go together."""

_LONGEST, _KEPT = 600, 250
"""Length of the longest clause of a refusal that is shown whole, and how much of each end is shown of a longer one: our
own choice [characters]."""


class CurvesError(Exception):
    """A refusal in words: the fault, its place, what is needed instead, and what to try.

    Args:
        what: the fault, as a clause without a full stop.
        where: file, line, key or column; or a setting; empty when there is only one place it can be.
        needed: what would be right, as a clause.
        hint: what to try, as an imperative clause.
        settings: the parameters that are wrong, or that would decide, each "name" or "name=value"; those that go
            together as one, "lux=25 & seconds=0.02". The command line gives them as options, and names them so.
    """

    def __init__(
        self, what: str, *, where: str = "", needed: str = "", hint: str = "", settings: Sequence[str] = ()
    ) -> None:
        self.what, self.where, self.needed, self.hint, self.settings = what, where, needed, hint, tuple(settings)
        super().__init__(what)

    def __str__(self) -> str:
        return self.in_words()

    def in_words(self, spell: Callable[[str], str] = str) -> str:
        """Return the error in one line or two.

        Args:
            spell: returns the name of a setting for the reader; by default the parameter's own.
        """
        where = _shown(spell(self.where) if self.where in self.settings else self.where)
        first = f"{where}: {_shown(self.what)}" if where else _shown(self.what)
        text = f"{first}; needed: {_shown(self.needed)}." if self.needed else f"{first}."
        hint = with_settings(self.hint, [s for s in self.settings if s != self.where], spell)
        return visible(f"{text}\nTry: {_shown(hint)}." if hint else text)

    @classmethod
    def of(cls, error: CurvesError, where: str) -> Self:
        """Return an error of this kind with the words of ``error`` and another place."""
        settings = [s for s in error.settings if s != error.where]
        return cls(error.what, where=where, needed=error.needed, hint=error.hint, settings=settings)


def _shown(clause: str) -> str:
    """Return a clause, without the middle of what it quotes if a file holds a text that nobody reads to the end."""
    return clause if len(clause) <= _LONGEST else f"{clause[:_KEPT]} [...] {clause[-_KEPT:]}"


def with_settings(hint: str, settings: Sequence[str], spell: Callable[[str], str] = str) -> str:
    """Return a hint with the settings that carry it out, named as ``spell`` names them.

    Several settings are alternatives, but for those of columns, which go together; after a command they are its own.
    """
    if not settings:
        return hint
    *others, last = [" ".join(map(spell, together.split(_TOGETHER))) for together in settings]
    if all(setting.startswith("columns=") for setting in settings):
        listed = " ".join([*others, last])
    else:
        listed = f"{', '.join(others)} or {last}" if others else last
    if hint.startswith("run "):
        return f"{hint} {listed}"
    return f"{hint} ({listed})" if hint else f"give {listed}"


class RecordError(CurvesError):
    """A file that a person wrote cannot be understood."""


class EmptyRecordError(RecordError):
    """The readings of a record are still to be entered."""


class StripError(CurvesError):
    """A strip, its readings or a choice cannot be what a record or a caller declares it to be."""


class GrainError(CurvesError):
    """Grain cannot be measured on this picture or patch of it."""


class OutputError(CurvesError):
    """A result could not be written."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a hint in place of an unknown ``name``: to write the closest known name, or to use one of all."""
    names = {each.casefold(): each for each in known}
    close = difflib.get_close_matches(name.casefold(), names, n=1, cutoff=0.5)
    return f"write '{names[close[0]]}'" if close else "use one of: " + ", ".join(names.values())
