"""What starting up costs, against the least it could cost: ratios of medians, taken turn by turn in one run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 9
STRIP = "wedge_data/heron-reversal.toml"
LIBRARIES = "import numpy, scipy.interpolate, scipy.optimize, pandas"

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


def seconds(command: Command) -> float:
    """Return the wall time of a command that must succeed [s]."""
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdin=subprocess.DEVNULL, capture_output=True)
    return time.perf_counter() - start


def medians(one: Command, other: Command) -> tuple[float, float]:
    """Return the median wall time of two commands run in turns, after one run of each to warm the disk [s]."""
    seconds(one), seconds(other)
    pairs = [(seconds(one), seconds(other)) for _ in range(RUNS)]
    return statistics.median(a for a, _ in pairs), statistics.median(b for _, b in pairs)


def report() -> Iterator[str]:
    """Yield the table, line by line."""
    yield f"Start-up, medians of {RUNS} runs in turns [ms]"
    rows = {
        "curves --help against importing typer": (curves("--help"), python("import typer")),
        "curves measure against its libraries' imports": (curves("measure", STRIP), python(LIBRARIES)),
    }
    for name, (ours, least) in rows.items():
        own, floor = medians(ours, least)
        yield f"{name:46}  {1000 * own:5.0f} / {1000 * floor:5.0f} = {own / floor:.2f}"
