"""Run every command of an installed package once, on a copy of the demonstration data.

Usage: PYTHON .ci/smoke.py WEDGE_DATA, with the Python that the package is installed for
"""

import contextlib
import io
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from curves import cli

LINES = (
    """
report heron-reversal.toml --card --draws 200
measure heron-negative.toml --json --draws 200
ei wren-reversal.toml --draws 200
compare heron-reversal.toml heron-filtered.toml --draws 200
control control --first 10
filters heron-reversal.toml --drawer drawer.csv --draws 200
import heron-exchange.txt --yes --into new --kind reversal --wedge 21x0.15 --lux 25 --seconds 1.6
enter heron-reversal --sheet
grain heron-patch.tif --patch 56,4,266,216 --clear area:4,4,46,216 --dark 131
scan wren-scan.tif again --yes --area 0,90,760,240 --clear area:620,20,740,80 --dark 131 --kind reversal
 --wedge 21x0.15 --lux 500 --seconds 0.02
check heron-reversal.toml drawer.csv wren-patch.tif
explain gamma
manual changes
""".replace("\n ", " ")
    .strip()
    .splitlines()
)


def run(line: str) -> None:
    """Run a command line in this process, which loads every library once; stop at anything but success."""
    sys.argv, out = ["curves", *line.split()], io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)
    status: object = 0
    with contextlib.redirect_stdout(out):
        try:
            cli.main()
        except SystemExit as ended:
            status = ended.code or 0
    # 3 says that a process is out of control, as the demonstration's is.
    if status not in (0, 3) or not out.tell():
        raise SystemExit(f"curves {line}: exit status {status}")


if __name__ == "__main__":
    data = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(data, folder, dirs_exist_ok=True)
        with contextlib.chdir(folder):
            for line in LINES:
                run(line)
    version = subprocess.run([Path(sys.executable).with_name("curves"), "--version"], capture_output=True, check=True)
    print(f"{version.stdout.decode().strip()}: {len(LINES)} command lines ran")  # noqa: T201
