"""The command line: all commands, with refusals turned into words and an exit status."""

from __future__ import annotations

import codecs
import io
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

import curves
from curves.commands.balance import balance
from curves.commands.check import check
from curves.commands.compare import compare
from curves.commands.control import control
from curves.commands.ei import ei
from curves.commands.enter import enter
from curves.commands.explain import explain
from curves.commands.filters import filters
from curves.commands.grain import grain
from curves.commands.help_groups import GroupedCommand
from curves.commands.import_table import import_table
from curves.commands.join import join
from curves.commands.manual import manual
from curves.commands.measure import measure
from curves.commands.options import option_of
from curves.commands.plan import plan
from curves.commands.report import report
from curves.commands.scan import scan
from curves.commands.series import series
from curves.errors import CurvesError, visible

app = typer.Typer(
    name="curves",
    help="From the densities of an exposed step wedge to curves, speed points and a working exposure index.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for command in (
    report, measure, ei, compare, join, series, control, plan, filters, enter, scan, grain, balance, check, explain,
    manual,
):  # fmt: skip
    app.command(cls=GroupedCommand)(command)
app.command("import", cls=GroupedCommand)(import_table)


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


@app.callback()
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
            app()
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
