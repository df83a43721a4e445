"""Additions to the package as DEVELOPERS.md shows them: each a diff, applied to a copy of the package.

The diffs bear no line numbers. Every hunk begins with lines that the file holds in one place only; what is added goes
behind them. So a diff holds as long as the lines it goes behind are there, whatever stands beside them.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import curves

ADDITIONS = Path(__file__).parent


def package_with(addition: str, folder: Path) -> Path:
    """Return a folder that holds a copy of the package with an addition.

    Args:
        addition: the diff, a file of this folder.
        folder: where the copy goes, if it is not there yet.
    """
    if not (folder / "curves").exists():
        source = Path(curves.__file__).parent
        shutil.copytree(source, folder / "curves", ignore=shutil.ignore_patterns("__pycache__"))
    apply((ADDITIONS / addition).read_text(encoding="utf-8"), folder)
    return folder


def apply(diff: str, folder: Path) -> None:
    """Apply a diff without line numbers to the files of a folder."""
    for part in re.split(r"^--- .*\n", diff, flags=re.M)[1:]:
        name, *hunks = re.split(r"^@@ .* @@\n", part, flags=re.M)
        path = folder / name.strip().removeprefix("+++ b/")
        text = path.read_text(encoding="utf-8") if path.exists() else ""
        for hunk in hunks:
            text = with_hunk(text, hunk)
        path.write_text(text, encoding="utf-8")


def with_hunk(text: str, hunk: str) -> str:
    """Return a text with the lines that a hunk adds, behind the lines that the hunk begins with."""
    lines = hunk.splitlines(keepends=True)
    anchor = "".join(line[1:] for line in lines if line.startswith(" "))
    added = "".join(line[1:] for line in lines if line.startswith("+"))
    assert len(lines) == len(anchor.splitlines()) + len(added.splitlines()), f"only additions: {hunk}"
    if not anchor:
        assert not text, "a hunk without a line of the file makes a new file"
        return added
    assert f"\n{text}".count(f"\n{anchor}") == 1, f"the file must hold once: {anchor}"
    end = f"\n{text}".index(f"\n{anchor}") + len(anchor)
    return text[:end] + added + text[end:]


def run_in(folder: Path, code: str) -> str:
    """Return what a fresh interpreter prints that imports the package from a folder."""
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout
