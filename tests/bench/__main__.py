"""Print the measurements: `python -m tests.bench [fits] [startup] [budget]`, all if none is named."""

from __future__ import annotations

import sys

from tests.bench import budget, fits, startup

PARTS = {"fits": fits.report, "startup": startup.report, "budget": budget.report}


def main(names: list[str]) -> int:
    """Print each part that is named; return an exit status."""
    unknown = [name for name in names if name not in PARTS]
    if unknown:
        print(f"no such part: {unknown[0]}; there are {' and '.join(PARTS)}", file=sys.stderr)
        return 2
    for name in names or PARTS:
        for line in PARTS[name]():
            print(line, flush=True)
        print()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
