"""The sessions of README and manual, run for real: ``python -m tests.readme`` writes their output into the files.

Three things in these files are written by the code that they describe:

    ```console    commands after a ``$``, each with what it prints: ``curves ...``, or ``head -n N FILE``; a command
                  goes on after a backslash, and may end in ``| head -n N``. The commands of a block share a folder.
    ```python     code, run with the blocks before it in the same file; a ```text block right after it shows its output
    <!-- terms: A; B -->, <!-- found: A; B -->, <!-- assumed -->    what terms mean, how they are found, how large a
                  source of error is taken to be
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from unittest import mock

from curves import cli
from curves.files.strips.bare import strip_from_table
from curves.sensitometry.strip.metering import FilterUsed
from curves.sensitometry.uncertainty.sources import sources_of
from curves.views.words.glossary import find
from curves.views.words.wrapping import WIDTH
from tests.commands.run import remembering

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
DEMO = ROOT / "wedge_data"
CHAPTERS = sorted((ROOT / "curves" / "manual").glob("*.md"))
PAGES = [README, *CHAPTERS]

_CONSOLE = re.compile(r"(?<=^```console\n)\$ .*?(?=^```$)", re.MULTILINE | re.DOTALL)
_COMMAND = re.compile(r"^\$ ((?:.*\\\n)*.*\n)((?:(?!\$ ).*\n)*)", re.MULTILINE)
_PYTHON = re.compile(r"^```python\n(.*?)^```$(?:\n\n^```text\n(.*?)^```$)?", re.MULTILINE | re.DOTALL)
_TABLE = re.compile(r"(<!-- (terms|found|assumed)(?:: (.*))? -->\n)(?:[|-].*\n(?:  .*\n)*)*")
_HEAD = re.compile(r"\s*\|\s*head -n (\d+)\s*$")

Session = tuple[tuple[str, str], ...]
"""Commands, as they are written, and what each of them shows."""


def sessions(text: str) -> list[Session]:
    """Return the console sessions of a page."""
    return [
        tuple((m[1].removesuffix("\n"), m[2]) for m in _COMMAND.finditer(block)) for block in _CONSOLE.findall(text)
    ]


def programs(text: str) -> list[tuple[str, str | None]]:
    """Return the Python blocks of a page: each code, and the output shown after it; None if none is shown."""
    return [(m[1], m[2]) for m in _PYTHON.finditer(text)]


def run(commands: tuple[str, ...], *, process: bool = False) -> tuple[str, ...]:
    """Return what the commands of a session print, run one after the other beside the demo data.

    Args:
        commands: as they are written in the page.
        process: whether each is a process of its own, as at a reader's terminal; slower, with the same output.
    """
    cut = [int(head[1]) if (head := _HEAD.search(command)) else None for command in commands]
    whole = tuple(_HEAD.sub("", command) for command in commands)
    outputs = _outputs.__wrapped__(whole, process=True) if process else _outputs(whole)
    return tuple("".join(out.splitlines(keepends=True)[:lines]) + err
                 for (out, err), lines in zip(outputs, cut, strict=True))  # fmt: skip


def run_programs(codes: tuple[str, ...]) -> tuple[str, ...]:
    """Return what the Python blocks of a page print, run in order and with the same names beside the demo data."""
    names: dict[str, object] = {}
    with _beside_demo_data():
        return tuple(_captured(partial(exec, code, names))[0] for code in codes)


@cache
def _outputs(commands: tuple[str, ...], *, process: bool = False) -> tuple[tuple[str, str], ...]:
    with _beside_demo_data():
        return tuple(_output(command, process) for command in commands)


def _output(command: str, process: bool) -> tuple[str, str]:
    """Return what one command prints to standard output and to standard error."""
    words = shlex.split(command.replace("\\\n", " "))
    if words[:2] == ["head", "-n"]:
        return "".join(Path(words[3]).read_text(encoding="utf-8").splitlines(keepends=True)[: int(words[2])]), ""
    if words[0] != "curves":
        raise ValueError(f"'{command}' is not a command of this package. Expected curves, or head -n N FILE.")
    if process:
        code = "import sys; sys.argv[0] = 'curves'; import curves.cli; curves.cli.main()"
        done = subprocess.run(
            [sys.executable, "-c", code, *words[1:]],
            stdin=subprocess.DEVNULL, capture_output=True, encoding="utf-8", check=False,
        )  # fmt: skip
        return done.stdout, done.stderr
    with mock.patch.object(sys, "argv", words), remembering():
        return _captured(cli.main)


def _captured(work: Callable[[], object]) -> tuple[str, str]:
    """Return what a function prints to standard output and to standard error, with nothing to read and 80 columns."""
    out, err = io.StringIO(), io.StringIO()
    with (
        Path(os.devnull).open(encoding="utf-8") as nothing,
        mock.patch.object(sys, "stdin", nothing),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        contextlib.suppress(SystemExit),
    ):
        work()
    return out.getvalue(), err.getvalue()


@contextlib.contextmanager
def _beside_demo_data() -> Iterator[None]:
    """Work in a folder that holds the demo data alone, as a fresh clone does, and at a terminal of 80 columns."""
    with (
        tempfile.TemporaryDirectory() as folder,
        mock.patch.dict(os.environ, {"COLUMNS": "80", "PYTHONPATH": str(ROOT)}),
    ):
        shutil.copytree(DEMO, Path(folder) / "wedge_data")
        with contextlib.chdir(folder):
            yield


def with_tables(text: str) -> str:
    """Return a page with its tables and lists as glossary and code have them."""
    return _TABLE.sub(lambda m: m[1] + _MAKERS[m[2]](m[3].split("; ") if m[3] else []), text)


def _terms(names: list[str]) -> str:
    """Return a table of what terms mean."""
    return _table(("name", "meaning"), [(name, find(name).what) for name in names])


def _found(names: list[str]) -> str:
    """Return a list of how numbers are found, and where each rule comes from."""
    entries = []
    for term in map(find, names):
        source = f" Source: {term.source}." if term.source else ""
        # A line that began with a minus sign would be an entry of its own.
        text = f"- **{term.name}**: {term.found or term.what}{source}".replace(" - ", "\0- ")
        entries.append(textwrap.fill(text, WIDTH, subsequent_indent="  ").replace("\0", " "))
    return "\n".join(entries) + "\n"


def _assumed(_: list[str]) -> str:
    """Return a table of what each source of error of a bare table of readings is taken to be."""
    step = strip_from_table(DEMO / "heron-reversal.csv", kind="reversal", wedge="21x0.15", lux=2000, seconds=0.02)
    strips = [
        replace(step, filters=(FilterUsed("any", "through"),)),
        strip_from_table(DEMO / "heron-reversal.csv", kind="reversal", wedge="21x0.15", ei=80, metered_step=11),
        strip_from_table(DEMO / "heron-frames.csv", kind="reversal", ei=50),
    ]
    found = {s.name: s for strip in strips for s in sources_of(strip).values()}
    rows = [(s.name, f"{s.u:.2g} {s.unit}", s.remedy) for s in found.values() if s.assumed and s.u is not None]
    return _table(("source of error", "taken to be", "what makes it smaller"), rows)


_MAKERS: dict[str, Callable[[list[str]], str]] = {"terms": _terms, "found": _found, "assumed": _assumed}


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    lines = ["| " + " | ".join(row) + " |\n" for row in (head, *rows)]
    return "".join([lines[0], "|" + "---|" * len(head) + "\n", *lines[1:]])


def rewritten(text: str) -> str:
    """Return a page with the present output of every session and program, and with its tables as they are now."""
    printed = iter(run_programs(tuple(code for code, _ in programs(text))))
    return _PYTHON.sub(lambda m: _program(m, next(printed)), _CONSOLE.sub(_session, with_tables(text)))


def _session(block: re.Match[str]) -> str:
    commands = tuple(m[1].removesuffix("\n") for m in _COMMAND.finditer(block[0]))
    return "".join(f"$ {command}\n{shown}" for command, shown in zip(commands, run(commands), strict=True))


def _program(block: re.Match[str], printed: str) -> str:
    return block[0] if block[2] is None else f"```python\n{block[1]}```\n\n```text\n{printed}```"


def main() -> None:
    """Write the present output into README and manual."""
    for page in PAGES:
        page.write_text(rewritten(page.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
