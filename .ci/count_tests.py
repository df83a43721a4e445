"""Fail unless pytest's record shows tests that ran, none of them in error.

Usage: python3 .ci/count_tests.py RECORD.xml [--none-skipped]
"""

import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

if __name__ == "__main__":
    path = Path(sys.argv[1])
    if not path.is_file():
        raise SystemExit(f"pytest did not run: {path.name} was not written")
    suites = list(ElementTree.parse(path).getroot().iter("testsuite"))
    count = {key: sum(int(s.get(key, 0)) for s in suites) for key in ("tests", "skipped", "failures", "errors")}
    ran = count["tests"] - count["skipped"]
    print(f"{ran} tests ran, {count['skipped']} were skipped")  # noqa: T201
    if ran == 0 or count["failures"] or count["errors"] or (count["skipped"] and "--none-skipped" in sys.argv):
        raise SystemExit(f"{path.name}: {count}")
