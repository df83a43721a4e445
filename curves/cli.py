"""The command line: all commands, with refusals turned into words and an exit status."""

from __future__ import annotations

import codecs
import io
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

import curves
from curves.commands.help_groups import GroupedCommand
from curves.commands.options import option_of
from curves.errors import CurvesError, visible

COMMANDS = {
    name: name
    for name in (
        "report", "measure", "ei", "compare", "join", "series", "control", "plan", "filters", "enter", "scan", "grain",
        "balance", "check", "explain", "manual",
    )
} | {"import": "import_table"}  # fmt: skip
"""The module of each command in `curves.commands`, whose function bears the module's name."""


def command_line(*names: str) -> typer.Typer:
    """Return the command line with some of its commands, or with all: a command starts sooner without the others.

    Args:
        names: keys of `COMMANDS`; all if none is given.
    """
    app = typer.Typer(
        name="curves",
        help="From the densities of an exposed step wedge to curves, speed points and a working exposure index.",
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    app.callback()(_root)
    for name in names or COMMANDS:
        module = import_module(f"curves.commands.{COMMANDS[name]}")
        app.command(name, cls=GroupedCommand)(getattr(module, COMMANDS[name]))
    return app


_READABLE = {
    "±": "+-", "−": "-", "–": "-", "—": "-", "×": "x", "·": "*", "°": " deg", "µ": "u", "→": "->", "←": "<-",
    "↑": "up", "↓": "down", "─": "-", "│": "|", "├": "|", "└": "+", "┐": "+", "┘": "+", "►": ">", "▼": "v",
}  # fmt: skip
"""What a console shows that lacks a sign; of any other character, a question mark."""


def _readable(error: UnicodeError) -> tuple[str, int]:
    """Return the signs that stand for the characters that an encoding lacks, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_READABLE.get(sign, "?") for sign in error.object[error.start : error.end]), error.end


codecs.register_error("readable", _readable)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"curves {curves.__version__}")
        raise typer.Exit


def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; a refusal is printed to standard error in a line or two, with exit status 1."""
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks a sign shows what can be read in its place instead of failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="readable")
    try:
        try:
            _check_words(sys.argv[1:])
            command_line(*(name for name in sys.argv[1:2] if name in COMMANDS))()
        finally:
            # What a full disk refuses is found out here, and not after the exit status.
            if sys.stdout is not None:  # a process may be started without any
                sys.stdout.flush()
    except CurvesError as error:
        _say(error.in_words(option_of))
        sys.exit(1)
    except BrokenPipeError:
        # The reader of a pipe has seen enough.
        sys.stderr.close()
        sys.exit(1)
    except OSError as error:
        # A file's name is given unless the standard output itself failed.
        where = error.filename if isinstance(error.filename, str) else "standard output"
        _say(f"{where}: it cannot be read or written: {error.strerror}.")
        # Nothing is left to be flushed into the same fault at the end of the process.
        sys.stdout = io.StringIO()
        sys.exit(1)


def _check_words(words: Sequence[str]) -> None:
    """Refuse a word whose control characters a command would print to the terminal, such as the name of a file.

    Raises:
        CurvesError: a word holds one.
    """
    for word in words:
        if visible(word) != word:
            raise CurvesError(
                "the word holds a control character",
                where=word,
                needed="names and texts of characters that can be seen",
                hint="if it is a file's name, rename the file",
            )


def _say(text: str) -> None:
    """Print a refusal to standard error; what it quotes from data reaches no terminal as a control character."""
    print(f"curves: {visible(text)}", file=sys.stderr)


if __name__ == "__main__":
    main()
