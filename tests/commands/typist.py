"""A person at `curves enter`, or at another command: types into a real terminal, or line by line in this process."""

from __future__ import annotations

import os
import re
import shlex
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pexpect

from curves.commands.terminal import Interruption, Terminal

ANSI = re.compile(r"\x1b\[[0-9]*[A-Z]")
_LONGEST_WAIT = 60


class Typist:
    """A terminal in which `curves` runs.

    Args:
        folder: where it runs.
        words: what follows `curves` and the command.
        command: the command.
        feed: a file that is piped into it, as an instrument would; None for a person who types.
    """

    def __init__(self, folder: Path, *words: str, command: str = "enter", feed: Path | None = None) -> None:
        line = shlex.join([sys.executable, "-m", "curves", command, *words])
        self._child = pexpect.spawn(
            "/bin/sh",
            ["-c", f"exec {line}" if feed is None else f"exec {line} < {shlex.quote(str(feed))}"],
            cwd=str(folder),
            env={**os.environ, "TERM": "xterm", "OPENBLAS_NUM_THREADS": "1"},
            encoding="utf-8",
            dimensions=(40, 80),
            timeout=_LONGEST_WAIT,
            # A shell that runs the tests in its background has Ctrl-C ignored by all that they start.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        # Nothing waits for the person's fingers here.
        self._child.delaybeforesend = None

    @property
    def pid(self) -> int:
        """The process."""
        return int(self._child.pid)

    def answer(self, prompt: str, line: str) -> str:
        """Wait for a prompt, type a line, and return what was shown before the prompt."""
        before = self.wait(prompt)
        self._child.sendline(line)
        return before

    def wait(self, prompt: str) -> str:
        """Wait for a text, and return what was shown before it, without control signs."""
        self._child.expect_exact(prompt.replace("\n", "\r\n"))
        return ANSI.sub("", str(self._child.before)).replace("\r\n", "\n")

    def type(self, line: str) -> None:
        """Type a line without waiting for anything."""
        self._child.sendline(line)

    def press_ctrl(self, letter: str) -> None:
        """Press Ctrl and a letter."""
        self._child.sendcontrol(letter)

    def end(self) -> str:
        """Wait for the program to end, and return what it showed last."""
        self._child.expect(pexpect.EOF)
        before = ANSI.sub("", self._child.before).replace("\r\n", "\n")
        self._child.close()
        return str(before)

    def close_terminal(self) -> None:
        """Close the terminal under the program."""
        self._child.close(force=True)

    @property
    def status(self) -> int | None:
        """Exit status of the ended program."""
        status: int | None = self._child.exitstatus
        return status


Typed = list[str | Callable[[], object]]


class Person(Terminal):
    """A person who types line by line, and what happens meanwhile."""

    def __init__(self, typed: Typed) -> None:
        super().__init__(sys.stdin, drawing=False)
        self._typed = iter(typed)

    def ask(self, prompt: str) -> str:
        self.say(prompt)
        for line in self._typed:
            if isinstance(line, str):
                return line
            line()
        raise Interruption
