"""Plain English in the package, its page and its manual: phrases that need a second reading stay out.

A docstring's first line has a verb and a concrete noun; a pronoun has its noun in the same sentence; a message names
the thing and the fact.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from tests.source_files import CURVES, ROOT, SOURCES, in_every, tree_of

PHRASES = {
    r"(?<!there )\bis no\b(?! longer)": "is not a",
    r"\bmind(s|ed)?\b": "remark",
    r"\bparted\b": "separated",
    r"\b(is|was|are|were) not said\b": "not given; or name who does not state it",
    r"\bnobody (said|says|gave|knows|told)\b": "name who acts: the record does not state",
    r"\bthe ones? that\b": "the noun itself",
    r"\b(has|have|had) come to\b|\bcame to\b|\bwhat came of\b": "the result itself",
    r"\bwhat parts\b|\bparts the\b": "separates",
    r"\bstarts like\b": "is",
    r"\bis nothing an?\b": "is not a",
    r"\b(at|below|above|beyond|past) the (first|last) step\b": "the least or the most exposed step, with its number",
    r"\bfrom the first to the last step\b": "from the least to the most exposed step",
    r"\btook it for\b|\btaken for granted\b": "assumed",
}
"""What is kept out, as a regular expression over lower-case text, and what to write instead."""

PRONOUN_FIRST = re.compile(r"(return|yield|give|report|print|say) (what|how|where|that|which|whether|why)\b")
"""The beginning of a docstring that names no concrete noun."""


TEXTS = [
    *(path for ending in ("md", "html", "js") for path in sorted(CURVES.rglob(f"*.{ending}"))),
    ROOT / "DEVELOPERS.md",
    ROOT / "README.md",
]


def strings_of(path: Path) -> Iterator[tuple[int, str]]:
    """Yield each string of a source file with its line: constants, docstrings and the constant parts of f-strings."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value


def comments_of(path: Path) -> Iterator[tuple[int, str]]:
    """Yield each line of a source file that is a comment."""
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if line.lstrip().startswith("#"):
            yield number, line


def found_in(texts: Iterator[tuple[int, str]]) -> list[str]:
    """Return every phrase that is to stay out, with its line and what to write instead."""
    return [
        f"line {line}: '{match[0]}' in '{' '.join(text.split())[:80]}': write {instead}"
        for line, text in texts
        for lower in [" ".join(text.lower().split())]
        for phrase, instead in PHRASES.items()
        if (match := re.search(phrase, lower))
    ]


@in_every(SOURCES)
def test_a_source_file_says_nothing_that_needs_a_second_reading(path: Path) -> None:
    assert not found_in(strings_of(path)) + found_in(comments_of(path))


@in_every(TEXTS)
def test_a_page_and_a_chapter_say_nothing_that_needs_a_second_reading(path: Path) -> None:
    lines = enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
    assert not found_in(iter(lines))


@in_every(SOURCES)
def test_a_docstring_begins_with_a_concrete_noun(path: Path) -> None:
    vague = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
            docstring = ast.get_docstring(node) or ""
            if PRONOUN_FIRST.match(docstring.lower()) or re.match(r"(what|how|where|whether)\b", docstring.lower()):
                vague.append(docstring.splitlines()[0])
    assert not vague


def test_there_is_no_doubt_about_what_a_phrase_matches() -> None:
    texts = ["There is no such file.", "The gate is no longer clear.", "'x' is no encoding", "What to mind of it"]
    found = found_in(iter(enumerate(texts, start=1)))
    assert [text.split(":")[0] for text in found] == ["line 3", "line 4"]
