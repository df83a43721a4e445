"""The errors a person can cause and mend.

    CurvesError            anything this package refuses, told in words; a command turns it into exit status 1
    ├── RecordError        a file that a person wrote (record, readings, wedge table) cannot be understood
    ├── StripError         a strip, its readings or a choice cannot be what it is declared to be
    ├── GrainError         a picture or a patch of it on which grain cannot be measured
    └── OutputError        a result could not be written; nothing was lost or overwritten

Every error says what is wrong, where, what is needed, and what to try.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class CurvesError(Exception):
    """A refusal in words: what is wrong, where, what is needed instead, and what to try.

    Args:
        what: the fault, as a clause without a full stop.
        where: file, line, key or column; empty when there is only one place it can be.
        needed: what would be right, as a clause.
        hint: what to try, as an imperative clause.
    """

    def __init__(self, what: str, *, where: str = "", needed: str = "", hint: str = "") -> None:
        self.what, self.where, self.needed, self.hint = what, where, needed, hint
        super().__init__(what)

    def __str__(self) -> str:
        first = f"{self.where}: {self.what}" if self.where else self.what
        parts = [first]
        if self.needed:
            parts.append(f"needed: {self.needed}")
        text = "; ".join(parts) + "."
        return f"{text}\nTry: {self.hint}." if self.hint else text


class RecordError(CurvesError):
    """A file that a person wrote cannot be understood."""


class StripError(CurvesError):
    """A strip, its readings or a choice cannot be what a record or a caller declares it to be."""


class GrainError(CurvesError):
    """Grain cannot be measured on this picture or patch of it."""


class OutputError(CurvesError):
    """A result could not be written."""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return the name to write instead of ``name``: the closest of the known names, or all of them."""
    names = {each.casefold(): each for each in known}
    close = difflib.get_close_matches(name.casefold(), names, n=1, cutoff=0.5)
    return f"write '{names[close[0]]}'" if close else "use one of: " + ", ".join(names.values())
