"""What starting up costs, against the least it could cost: ratios of medians of CPU time, taken in turns in one run.

The byte-code of both sides is kept in a folder of its own, as it is beside an installed package.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 9
STRIP = "wedge_data/heron-reversal.toml"
LIBRARIES = "import typer._adapters, numpy, scipy.special, scipy.optimize"
"""What `ei` and `measure` import of others."""

PAGE_LIBRARIES = f"{LIBRARIES}, pandas, plotly.offline"
"""What `report` imports of others."""

Command = list[str]


def curves(*arguments: str) -> Command:
    """Return the command a person types, as installed beside this Python, else the module."""
    script = Path(sys.executable).with_name("curves")
    return [
        str(script) if script.exists() else sys.executable,
        *([] if script.exists() else ["-m", "curves"]),
        *arguments,
    ]


def python(code: str) -> Command:
    """Return the command that runs ``code`` in this Python."""
    return [sys.executable, "-c", code]


def seconds(command: Command, kept: str) -> float:
    """Return the CPU time of a command that must succeed, its byte-code kept in a folder [s]."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        command,
        cwd=ROOT,
        check=True,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        env=environment | {"PYTHONPYCACHEPREFIX": kept},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def medians(one: Command, other: Command, kept: str) -> tuple[float, float]:
    """Return the median CPU time of two commands run in turns, after one run of each to warm the disk [s]."""
    seconds(one, kept), seconds(other, kept)
    pairs = [(seconds(one, kept), seconds(other, kept)) for _ in range(RUNS)]
    return statistics.median(a for a, _ in pairs), statistics.median(b for _, b in pairs)


def report() -> Iterator[str]:
    """Yield the table, line by line."""
    yield f"Start-up, medians of the CPU time of {RUNS} runs in turns [ms]"
    with tempfile.TemporaryDirectory() as kept:
        rows = {
            "curves --help against importing typer": (curves("--help"), python("import typer")),
            "curves ei against its libraries' imports": (curves("ei", STRIP), python(LIBRARIES)),
            "curves measure against its libraries' imports": (curves("measure", STRIP), python(LIBRARIES)),
            "curves report against its libraries' imports": (
                curves("report", STRIP, "--into", kept),
                python(PAGE_LIBRARIES),
            ),
        }
        for name, (ours, least) in rows.items():
            own, floor = medians(ours, least, kept)
            yield f"{name:46}  {1000 * own:5.0f} / {1000 * floor:5.0f} = {own / floor:.2f}"
