"""The glossary: a term found by its name or JSON key, printed, and filter factors turned into stops and density.

`curves explain` prints terms, the page's method section and README quote them, and a test asks for a term for every key
of the JSON.
"""

from __future__ import annotations

import difflib
import re
import textwrap

from curves.errors import RecordError
from curves.sensitometry.filters.densities import (
    density_of_factor,
    density_of_stops,
    factor_of_density,
    stops_of_density,
)
from curves.views.words.digits import figures
from curves.views.words.terms import TERMS, Term
from curves.views.words.wrapping import WIDTH, wrapped

_NUMBER = re.compile(r"^\s*x?[\d.,/]+\s*[x%]?\s*$", re.I)
_FACTOR = re.compile(r"^\s*(?:(?P<word>factor|density)\s+)?(?P<number>\d*\.?\d+)\s*(?P<stops>stops?)?\s*$", re.I)


def find(name: str) -> Term:
    """Return the term called ``name``, or the term with the JSON key ``name``; case and underscores do not matter.

    Raises:
        RecordError: the glossary has no such term; names the closest.
    """
    if _NUMBER.match(name):
        raise RecordError(
            f"'{name}' alone may be a factor, stops or a density",
            needed="what it is, before or behind it",
            hint="factor 4, 2 stops or density 0.60",
        )
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
        ("remark: ", term.remark),
        ("in JSON: ", ", ".join(term.keys)),
    ):
        if text:
            lines += wrapped(label + text, indent=2, hanging=4)
    return "\n".join(lines)


def listing() -> str:
    """Return all terms, each with its whole definition beside it."""
    width = 2 + max(len(term.name) for term in TERMS)
    return "\n".join(
        textwrap.fill(
            term.what,
            WIDTH,
            initial_indent=f"{term.name:<{width}}",
            subsequent_indent=" " * width,
            break_on_hyphens=False,
        )
        for term in TERMS
    )


def factor_words(text: str) -> str | None:
    """Return a filter's factor, stops and density from one of them; None where the text is none of these.

    Args:
        text: what was asked, such as "factor 4", "2 stops" or "density 0.6".
    """
    match = _FACTOR.match(text)
    if match is None or bool(match["word"]) == bool(match["stops"]):
        return None
    number = float(match["number"])
    if match["stops"]:
        density = density_of_stops(number)
    elif (match["word"] or "").lower() == "density":
        density = number
    elif number > 0.0:
        density = density_of_factor(number)
    else:
        return None
    factor, stops = factor_of_density(density), stops_of_density(density)
    advice = (
        f"Give {figures(factor)} times the exposure, or {abs(stops):.2f} stops {'less' if stops < 0.0 else 'more'}; or"
        f" divide the index on a meter that does not see the filter by {figures(factor)}."
    )
    return "\n".join(
        [
            f"factor {figures(factor)} = {stops:.2f} stops = density {density:.2f}",
            *wrapped(advice, indent=2),
            "  factor = 2^stops = 10^density; stops = density / 0.30103",
        ]
    )


def _plain(name: str) -> str:
    """Return a name in lower case, with spaces for underscores."""
    return name.lower().replace("_", " ").strip()
