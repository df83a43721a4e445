"""Fail unless a wheel and an sdist hold the same package, with its licence, its manual and the mark of its types.

Usage: python3 .ci/check_release.py FOLDER
"""

import sys
import tarfile
import zipfile
from pathlib import Path

NEEDED = {"curves/LICENSE", "curves/py.typed", "curves/manual/changes.md", "curves/cli.py"}

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    (wheel,), (sdist,) = list(folder.glob("*.whl")), list(folder.glob("*.tar.gz"))
    with zipfile.ZipFile(wheel) as file:
        names = file.namelist()
        of_wheel = {name: file.read(name) for name in names if name.startswith("curves/")}
    with tarfile.TarFile.open(sdist, "r:gz") as tar:
        members = {m.name.partition("/")[2]: m for m in tar.getmembers() if m.isfile()}
        streams = {name: tar.extractfile(m) for name, m in members.items() if name.startswith("curves/")}
        of_sdist = {name: stream.read() for name, stream in streams.items() if stream is not None}
    if of_wheel != of_sdist:
        raise SystemExit(f"wheel and sdist differ in {sorted(set(of_wheel) ^ set(of_sdist)) or 'contents'}")
    missing = NEEDED - set(of_wheel)
    if missing or not any("licenses/" in name for name in names):
        raise SystemExit(f"the wheel lacks {sorted(missing) or 'the licence'}")
    print(f"{wheel.name} and {sdist.name}: {len(of_wheel)} files")  # noqa: T201
