"""``curves explain``: what the words and numbers mean."""

from __future__ import annotations

from typing import Annotated

import typer


def explain(
    term: Annotated[str | None, typer.Argument(metavar="TERM", help="A word, a number's name or a JSON key.")] = None,
) -> None:
    """Explain a term, or list them all.

    Example: curves explain veil
    """
    from curves.views.glossary import explained, find, listing

    print(listing() if term is None else explained(find(term)))
