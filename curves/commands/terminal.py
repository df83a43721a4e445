"""A person at a terminal: asked, told, and allowed to leave at any moment."""

from __future__ import annotations

import os
import re
import sys
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import TextIO

from curves.errors import visible

_LARGE = 50_000_000
"""Files of more bytes than this take more than a second to read."""


KEYS = "? explains a question, b goes back to the one before, q stops and keeps all."
"""What a person can type at every question, in words."""


class Interruption(Exception):  # noqa: N818 - leaving is not an error
    """The person left: q, Ctrl-C, Ctrl-D or a closed terminal."""


class StepBack(Exception):  # noqa: N818 - going back is not an error
    """The person asked for the question before."""


class Terminal:
    """A terminal, or a pipe in its place: questions go out, answers come in.

    Args:
        source: where answers are read; None where standard input is closed.
        drawing: True if a line already shown can be drawn over.
    """

    def __init__(self, source: TextIO | None, *, drawing: bool) -> None:
        self._source, self._drawing = source, drawing

    def ask_question(self, prompt: str, explanation: str) -> str:
        """Return the line that the person types for an answer; it is never ?, b or q alone.

        Args:
            prompt: the question.
            explanation: lines that ? shows; then the question is asked again.

        Raises:
            Interruption: the person leaves instead.
            StepBack: the person asks for the question before.
        """
        while True:
            text = self.ask(prompt)
            key = text.strip().lower()
            if key == "q":
                raise Interruption
            if key == "b":
                raise StepBack
            if key and not key.strip("?"):
                self.say(explanation)
            elif any(unicodedata.category(c) == "Cc" for c in text.replace("\t", " ")):
                self.say("  Not taken: the line holds a control character, such as an arrow key; type it again.")
            else:
                return text

    def ask(self, prompt: str) -> str:
        """Return the line that the person types.

        Raises:
            Interruption: the person leaves instead.
        """
        print(prompt, end="", flush=True)
        if self._source is None:
            print("\nStandard input is closed: nobody can answer.")
            raise Interruption
        try:
            line = self._source.readline()
        except (KeyboardInterrupt, OSError) as error:
            print()
            raise Interruption from error
        if not line:
            print()
            raise Interruption
        if not self._drawing and not self._source.isatty():
            # Nothing echoes what a pipe types.
            print()
        return line.rstrip("\r\n")

    def say(self, text: str) -> None:
        """Show a line or several."""
        print(visible(text), flush=True)

    def say_over(self, text: str) -> None:
        """Show a line in place of the prompt that was just answered."""
        print(f"\x1b[1A\x1b[2K{visible(text)}" if self._drawing else visible(text), flush=True)


def standard_terminal() -> Terminal:
    """Return the terminal behind standard input and output; a pipe will do."""
    _forgive(sys.stdin)
    seen = all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))
    drawing = seen and os.environ.get("TERM", "dumb") != "dumb"
    return Terminal(sys.stdin, drawing=drawing)


def ask_for_step(prompt: str) -> int | None:
    """Return the step that a person at a terminal types; None where nobody is there, or nothing is typed.

    The question goes to standard error, so that results alone go to standard output.
    """
    if sys.stdin is None or not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    while True:
        print(prompt, end="", file=sys.stderr, flush=True)
        typed = sys.stdin.readline().strip()
        if not typed:
            return None
        if re.fullmatch("[0-9]{1,4}", typed) and int(typed) > 0:
            return int(typed)
        print("  A whole number from 1 is needed, such as 11.", file=sys.stderr)


def controlling_terminal() -> Terminal | None:
    """Return the person's terminal where standard input is taken by an instrument; None if there is none."""
    try:
        handle = os.open("CONIN$" if sys.platform == "win32" else "/dev/tty", os.O_RDONLY)
    except OSError:
        return None
    return Terminal(os.fdopen(handle, encoding="utf-8", errors="replace"), drawing=False)


def say_reading(paths: Iterable[Path]) -> None:
    """Tell a person at a terminal that large files are being read, which takes a while."""
    large = [path for path in paths if path.is_file() and path.stat().st_size > _LARGE]
    if large and sys.stderr.isatty():
        print(f"Reading {', '.join(path.name for path in large)} ...", file=sys.stderr, flush=True)


def _forgive(stream: TextIO | None) -> None:
    """Let a byte that is not text become a mark, for which the line is then refused."""
    if stream is not None and hasattr(stream, "reconfigure"):
        stream.reconfigure(errors="replace")
