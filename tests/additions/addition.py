"""Additions to the package as DEVELOPERS.md shows them: each a diff, applied to a copy of the package."""

from __future__ import annotations

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
        folder: where the copy goes.
    """
    source = Path(curves.__file__).parent
    shutil.copytree(source, folder / "curves", ignore=shutil.ignore_patterns("__pycache__"))
    done = subprocess.run(
        ["git", "apply", str(ADDITIONS / addition)], cwd=folder, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    return folder


def run_in(folder: Path, code: str) -> str:
    """Return what a fresh interpreter prints that imports the package from a folder."""
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout
