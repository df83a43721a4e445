"""``curves manual``: the manual that lies in the package, a chapter at a time."""

from __future__ import annotations

from typing import Annotated

import typer

CHAPTERS = (
    "exposing", "planning", "readings", "entry", "import", "scan", "numbers", "comparing", "joining", "series",
    "control", "filters", "grain", "balance", "files", "json", "python", "method", "changes",
)  # fmt: skip
"""Names of the chapters, in the order of the work: expose, read, understand, keep."""


def manual(
    chapter: Annotated[str | None, typer.Argument(metavar="CHAPTER", help="A chapter, such as scan.")] = None,
) -> None:
    """Print a chapter of the manual, or list the chapters.

    Example: curves manual scan

    Example: curves manual exposing | less
    """
    print(_listing() if chapter is None else _text(chapter), end="")


def _listing() -> str:
    """Return one line for each chapter: its name, and what it is for."""
    width = max(len(name) for name in CHAPTERS)
    return "".join(f"{name:<{width}}  {_purpose(_text(name))}\n" for name in CHAPTERS)


def _purpose(text: str) -> str:
    """Return the sentence under a chapter's title, which says what the chapter is for."""
    return text.split("\n\n")[1]


def _text(chapter: str) -> str:
    """Return a chapter as it is written, without the comments that hold its tables up to date.

    Raises:
        RecordError: the manual has no such chapter; names the nearest.
    """
    from importlib.resources import files

    from curves.errors import RecordError, nearest

    name = chapter.lower().removesuffix(".md")
    if name not in CHAPTERS:
        raise RecordError(f"the manual has no chapter '{chapter}'", hint=nearest(name, CHAPTERS))
    lines = files("curves").joinpath("manual", f"{name}.md").read_text(encoding="utf-8").splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith("<!--"))
