"""Print the shell block of README.md that follows the comment ``<!-- command: NAME -->``.

Usage: python3 .ci/extract.py README.md NAME
"""

import re
import sys
from pathlib import Path


def command(readme: str, name: str) -> str:
    """Return the fenced ``sh`` block right after the comment that names it, as a reader would copy it."""
    marker = f"<!-- command: {name} -->"
    if readme.count(marker) != 1:
        raise SystemExit(f"README: needed exactly one {marker}, found {readme.count(marker)}")
    after = readme.split(marker, 1)[1]
    block = re.match(r"\s*```sh\n(?P<commands>.*?)^```\s*$", after, re.DOTALL | re.MULTILINE)
    if block is None:
        raise SystemExit(f"README: no fenced sh block right after {marker}")
    commands = block["commands"].strip()
    if not commands:
        raise SystemExit(f"README: the block after {marker} is empty")
    return commands


if __name__ == "__main__":
    _, path, name = sys.argv
    print(command(Path(path).read_text(encoding="utf-8"), name))  # noqa: T201
