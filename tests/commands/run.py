"""Commands as their user runs them: the words of a command line in; status, output and errors out.

`run` calls the command line in this process, at a tenth of the cost of a new one. Folder, arguments, standard streams
and environment are put back, so that nothing of one call is left for the next, but for the analyses: the same strip
with the same choices is analysed once, for that takes most of the time and gives the same numbers every time. So are
the options of the commands read once, which takes ten times as long as most commands do.
`process` starts a real process; `test_processes` holds the two against each other.
"""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from unittest import mock

import typer.main

from curves import cli
from curves.sensitometry.analysis import analyse as analysing
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.results import Analysis

PLAIN = {"COLUMNS": "80", "TERM": "dumb"}
"""Eighty columns and no colours, as a pipe has it."""


_command_line = cache(cli.command_line)
_options_read = cache(typer.main.get_command)
_analyse = analysing.analyse
_analyses: dict[bytes, Analysis] = {}


def remembered(strip: Strip, choices: Choices | None = None) -> Analysis:
    """Return the analysis of a strip, computed when the strip comes with these choices for the first time."""
    # The copy is without what the strip has cached in itself.
    key = pickle.dumps((replace(strip), choices or Choices()))
    if key not in _analyses:
        _analyses[key] = _analyse(strip, choices)
    return _analyses[key]


@contextlib.contextmanager
def remembering() -> Iterator[None]:
    """Analyse the same strip with the same choices once, and read the options of commands once."""
    with (
        mock.patch.object(analysing, "analyse", remembered),
        mock.patch.object(cli, "command_line", _command_line),
        mock.patch.object(typer.main, "get_command", _options_read),
    ):
        yield


@dataclass(frozen=True)
class Outcome:
    """What a command line came to.

    Attributes:
        returncode: exit status.
        stdout, stderr: what was written there.
    """

    returncode: int
    stdout: str
    stderr: str


def run(folder: Path, *words: str, typed: str = "", encoding: str = "utf-8") -> Outcome:
    """Run a command line in this process, as `curves` with these words would.

    Args:
        folder: where it runs.
        words: what follows `curves`.
        typed: what a pipe brings to standard input.
        encoding: of what is written.

    Raises:
        Exception: anything that a user would see as a traceback.
    """
    out, err = io.BytesIO(), io.BytesIO()
    with (
        contextlib.chdir(folder),
        mock.patch.object(sys, "argv", ["curves", *words]),
        # A script of this name, not a module that `python -m` runs: usage errors begin with it.
        mock.patch.object(sys.modules["__main__"], "__package__", ""),
        mock.patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(typed.encode()), encoding="utf-8")),
        mock.patch.object(sys, "stdout", io.TextIOWrapper(out, encoding=encoding, write_through=True)) as stdout,
        mock.patch.object(sys, "stderr", io.TextIOWrapper(err, encoding=encoding, write_through=True)) as stderr,
        mock.patch.dict(os.environ, PLAIN),
        remembering(),
    ):
        status = _status()
        stdout.flush()
        stderr.flush()
    return Outcome(status, out.getvalue().decode(encoding), err.getvalue().decode(encoding))


def _status() -> int:
    """Run the command line and return its exit status."""
    try:
        cli.main()
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    return 0


def process(folder: Path, *words: str, typed: str = "", encoding: str = "utf-8") -> Outcome:
    """Run a command line in a process of its own.

    Args:
        folder: where it runs.
        words: what follows `curves`.
        typed: what a pipe brings to standard input.
        encoding: of the console.
    """
    done = subprocess.run(
        [sys.executable, "-m", "curves", *words],
        cwd=folder,
        input=typed,
        capture_output=True,
        encoding=encoding,
        check=False,
        env={**os.environ, **PLAIN, "PYTHONIOENCODING": encoding},
    )
    return Outcome(done.returncode, done.stdout, done.stderr)
