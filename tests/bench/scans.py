"""How often a ladder is found where it lies, refused, or found elsewhere; and how far the densities are off.

``python -m tests.bench.scans [COUNT]``
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator

import numpy as np

from curves.sensitometry.ladder import Search, find_ladder
from tests.scan_cases import Case, cases, misplaced


def searched(case: Case) -> tuple[Search, float]:
    """Return what the search came to, and how far it is off, in steps."""
    full_scale = float(np.iinfo(case.made.picture.dtype).max)
    found = find_ladder(case.made.picture / full_scale, case.asked, case.kind)
    return found, misplaced(found, case)


def outcome(case: Case) -> tuple[str, Search]:
    """Return "found", "refused" or "wrong"."""
    found, off = searched(case)
    if found.ladder is None:
        return "refused", found
    return ("found" if off < 0.12 else "wrong"), found


def rows(count: int) -> Iterator[tuple[Case, str, Search]]:
    """Return what became of each of so many scans."""
    for case in cases(count):
        yield case, *outcome(case)


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 240
    by: dict[str, Counter[str]] = {}
    for case, what, found in rows(count):
        for group in case.groups:
            by.setdefault(group, Counter())[what] += 1
        if what != "found":
            print(f"  {case.number:4} {what:8} {'; '.join(case.groups)}: {found.doubt}")
    print(f"{'':30} found refused wrong")
    for group in sorted(by):
        print(f"{group:30} {by[group]['found']:5} {by[group]['refused']:7} {by[group]['wrong']:5}")


if __name__ == "__main__":
    main()
