"""Every number that the tool finds on the demo strips, kept to see that a rearrangement changes none of them.

``python -m tests.demo_numbers`` writes them anew, after a change that is meant to move them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from curves.files.results.content import as_json
from curves.files.strips.record import load_strip
from curves.sensitometry.analysis.analyse import analyse

ROOT = Path(__file__).parent.parent
KEPT = Path(__file__).with_suffix(".json")
STRIPS = tuple(sorted(path.stem for path in (ROOT / "wedge_data").glob("*.toml") if "calibration" not in path.stem))


def numbers_of(name: str) -> dict[str, float]:
    """Return all numbers of one demo strip's JSON, each by its place in it."""
    analysis = analyse(load_strip(ROOT / "wedge_data" / f"{name}.toml"))
    return dict(_leaves(json.loads(as_json([analysis]))["strips"][0], ""))


def _leaves(content: Any, place: str) -> Iterator[tuple[str, float]]:
    """Yield every number in a tree of dictionaries and lists."""
    if isinstance(content, dict):
        for key, inner in content.items():
            yield from _leaves(inner, f"{place}/{key}")
    elif isinstance(content, list | tuple):
        for at, inner in enumerate(content):
            yield from _leaves(inner, f"{place}/{at}")
    elif isinstance(content, int | float) and not isinstance(content, bool):
        yield place, float(content)


def main() -> None:
    """Write the numbers of all demo strips."""
    kept = {name: numbers_of(name) for name in STRIPS}
    KEPT.write_text(json.dumps(kept, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
