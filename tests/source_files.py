"""The files of the checkout, and rules that hold for every one of them."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CURVES = ROOT / "curves"
SOURCES = sorted(CURVES.rglob("*.py"))


def name_of(path: Path) -> str:
    """Return a path as a person would give it, for messages."""
    return path.relative_to(ROOT).as_posix()


@cache
def tree_of(path: Path) -> ast.Module:
    """Return the syntax tree of a source file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=name_of(path))


def in_every(paths: Iterable[Path]) -> Callable[[Callable[[Path], None]], Callable[[], None]]:
    """Make a rule for a file one test of all files, which names each that breaks it.

    Thousands of tests of a thousandth of a second would cost more to gather and to report than to run.
    """

    def every(rule: Callable[[Path], None]) -> Callable[[], None]:
        def holds() -> None:
            broken = []
            for path in paths:
                try:
                    rule(path)
                except AssertionError as error:
                    broken.append(f"{name_of(path)}: {error}")
            assert not broken, "\n\n".join(broken)

        return holds

    return every
