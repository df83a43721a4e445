"""Real processes are killed from outside at drawn moments: the old files or the new, and the next run works."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from tests.commands.run import PLAIN
from tests.faults.jobs import JOBS, contents, halves

KILLS = 20


def started(folder: Path, words: tuple[str, ...]) -> subprocess.Popen[bytes]:
    """Start a command line in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "curves", *words],
        cwd=folder,
        env={**PLAIN, "PYTHONPATH": str(Path(__file__).parents[2]), "OPENBLAS_NUM_THREADS": "1"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def sweep(folder: Path, name: str, kills: int) -> int:
    """Kill a job at drawn moments of its run; return how many processes were killed before they ended."""
    job, killed = JOBS[name], 0
    before, after, trial = (folder / part for part in ("before", "after", "trial"))
    before.mkdir()
    job.prepare(before)
    shutil.copytree(before, after)
    began = time.monotonic()
    assert started(after, job.words).wait() == job.good
    lasts = time.monotonic() - began
    old, new = contents(before), contents(after)
    for share in np.random.default_rng(sum(name.encode())).uniform(0.3, 1.1, kills):
        shutil.copytree(before, trial)
        process = started(trial, job.words)
        time.sleep(share * lasts)
        process.kill()
        killed += process.wait() < 0
        found = contents(trial)
        assert not halves(found, old, new, job.many), f"{name}, killed after {share:.2f} of its run"
        if {**found, **new} != found:
            (trial / "all.csv").unlink(missing_ok=True)
            assert started(trial, job.words).wait() == job.good
            assert contents(trial) == new
        shutil.rmtree(trial)
    return killed


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_a_kill_from_outside_leaves_the_old_file_or_the_new_and_the_command_goes_on(tmp_path: Path, name: str) -> None:
    assert sweep(tmp_path, name, KILLS) > KILLS // 4
