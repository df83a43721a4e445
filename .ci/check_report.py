"""Fail unless the main job wrote its page and its numbers.

Usage: python3 .ci/check_report.py OUTPUTS_FOLDER NAME
"""

import json
import sys
from pathlib import Path


def refuse(constant: str) -> float:
    """Stop at NaN and the infinities, which JSON does not have."""
    raise SystemExit(f"the JSON holds {constant}")


if __name__ == "__main__":
    _, folder, name = sys.argv
    page, numbers = (Path(folder) / f"{name}.{suffix}" for suffix in ("html", "json"))
    for path in (page, numbers):
        if not path.is_file() or path.stat().st_size == 0:
            raise SystemExit(f"{path} was not written")
    if "</html>" not in page.read_text(encoding="utf-8"):
        raise SystemExit(f"{page} is not a whole page")
    results = json.loads(numbers.read_text(encoding="utf-8"), parse_constant=refuse)
    if results.get("format") != 2 or not results.get("strips"):
        raise SystemExit(f"{numbers} holds no strip in format 2")
    print(f"{page} and {numbers}: {len(results['strips'])} strip(s)")  # noqa: T201
