"""``curves explain``: the glossary of words and numbers."""

from __future__ import annotations

from typing import Annotated

import typer


def explain(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="TERM", help="A word, a number's name or a JSON key.", show_default=False),
    ] = None,
) -> None:
    """Explain a term, or list all terms.

    A factor, stops or a density is turned into the other two.

    Example: curves explain veil

    Example: curves explain log H

    Example: curves explain factor 4
    """
    from curves.views.words.glossary import explained, factor_words, find, listing

    term = " ".join(words) if words else None
    print(listing() if term is None else factor_words(term) or explained(find(term)))
