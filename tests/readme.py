"""The README's sessions, run for real: ``python -m tests.readme`` writes their output into README.md.

A session is a fenced ``console`` block: a line that begins with ``$ curves``, and may go on after a backslash, then
what it prints. A table of terms is a comment ``terms:`` that lists them, then what the glossary says of each.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from curves.views.words.glossary import find

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
_SESSION = re.compile(r"```console\n\$ (curves (?:.*\\\n)*.*)\n((?:.*\n)*?)```")


def sessions(text: str) -> list[tuple[str, str]]:
    """Return each session of a README: its command and the output it shows."""
    return [(match[1], match[2]) for match in _SESSION.finditer(text)]


_TABLE = re.compile(r"<!-- terms: (.*) -->\n(?:\|.*\n)*")


def with_terms(text: str) -> str:
    """Return a README with its tables of terms as the glossary has them."""
    return _TABLE.sub(lambda match: f"<!-- terms: {match[1]} -->\n{_rows(match[1].split(', '))}", text)


def _rows(names: list[str]) -> str:
    rows = ["| name | meaning |", "|---|---|", *(f"| {name} | {find(name).what} |" for name in names)]
    return "\n".join(rows) + "\n"


def run(command: str) -> str:
    """Return what a command prints, run in a folder that holds only the demo data."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "wedge_data", Path(folder) / "wedge_data")
        words = shlex.split(command.replace("\\\n", " "))[1:]
        result = subprocess.run(
            [sys.executable, "-m", "curves", *words],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
    if "Traceback" in result.stderr:
        raise RuntimeError(f"{command} failed:\n{result.stderr}")
    return result.stdout + result.stderr


def main() -> None:
    """Write the present output of every session into README.md."""
    text = README.read_text(encoding="utf-8")
    text = with_terms(text)
    text = _SESSION.sub(lambda match: f"```console\n$ {match[1]}\n{run(match[1])}```", text)
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
