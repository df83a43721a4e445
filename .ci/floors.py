"""Print the lowest versions that pyproject.toml allows, as constraints for pip: of what the package needs and offers.

Usage: python3 .ci/floors.py pyproject.toml
"""

import re
import sys
import tomllib
from pathlib import Path


def floors(dependencies: list[str]) -> list[str]:
    """Return "name==version" for each requirement; each must state its lowest version."""
    found = []
    for requirement in dependencies:
        parts = re.fullmatch(r"([A-Za-z0-9_-]+)>=([0-9.]+)", requirement)
        if parts is None:
            raise SystemExit(f"{requirement}: needed: name>=version")
        found.append(f"{parts[1]}=={parts[2]}")
    return found


if __name__ == "__main__":
    project = tomllib.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    print("\n".join(floors([*project["dependencies"], *extras["excel"], *extras["scan"]])))  # noqa: T201
