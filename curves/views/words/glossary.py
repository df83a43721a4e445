"""Every word and number that the tool prints: what it is, how it is found here, and what it is not.

The terms are the one source: `curves explain` prints them, the page's method section and README quote them, and a test
holds every key of the JSON against them.
"""

from __future__ import annotations

import difflib
import textwrap

from curves.errors import RecordError
from curves.views.words.terms import TERMS, Term

WIDTH = 79


def find(name: str) -> Term:
    """Return the term called ``name``, or carrying the JSON key ``name``; case and underscores do not matter.

    Raises:
        RecordError: there is no such term; names the closest.
    """
    wanted = _plain(name)
    by_name = {_plain(term.name): term for term in TERMS}
    by_key = {_plain(key): term for term in TERMS for key in term.keys}
    if wanted in by_name:
        return by_name[wanted]
    if wanted in by_key:
        return by_key[wanted]
    near = difflib.get_close_matches(wanted, [*by_name, *by_key], n=5, cutoff=0.5)
    near += [name for name in by_name if wanted in name.split()]
    close = list(dict.fromkeys((by_name.get(n) or by_key[n]).name for n in near))[:4]
    hint = ", ".join(close) if close else "run 'curves explain' for the list"
    raise RecordError(f"'{name}' is not in the glossary", hint=hint)


def explained(term: Term) -> str:
    """Return one term as text."""
    lines = [term.name]
    for label, text in (
        ("", term.what),
        ("here: ", term.found),
        ("source: ", term.source),
        ("mind: ", term.is_not),
        ("in JSON: ", ", ".join(term.keys)),
    ):
        if text:
            lines += textwrap.wrap(label + text, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return "\n".join(lines)


def listing() -> str:
    """Return all terms, one line each."""
    width = max(len(term.name) for term in TERMS)
    room = WIDTH - width - 2
    return "\n".join(f"{term.name:<{width}}  {textwrap.shorten(term.what, room, placeholder=' ...')}" for term in TERMS)


def _plain(name: str) -> str:
    return name.lower().replace("_", " ").strip()
