"""Kill commands at calls of the file system: ``python -m tests.faults.kills FOLDER STEP [JOB...]``.

Each time a child process works on a copy of the command's folder and kills itself before the call; a write is half
done. Then the files are looked at, the command is run again in this process, and everything must stand as if there had
been no kill. (A module of its own, because a process of many threads should not fork.)
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
from pathlib import Path

from tests.faults.jobs import JOBS, Job, contents, halves
from tests.faults.strikes import struck


def killed(folder: Path, job: Job, at: int) -> str:
    """Run a job in a process that is killed at its call ``at``; return which call that was, "" if it did not come."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:

        def strike(name: str) -> None:
            os.write(writing, name.encode())
            os.kill(os.getpid(), signal.SIGKILL)

        with struck(folder, at, strike):
            status = job.run(folder).returncode
        os._exit(status)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        name = pipe.read().decode()
    status = os.waitpid(child, 0)[1]
    assert os.WIFSIGNALED(status) if name else os.WEXITSTATUS(status) == job.good, status
    return name


def sweep(folder: Path, name: str, step: int) -> int:
    """Kill a job at every call, or at every so many; return how often.

    Raises:
        AssertionError: a file is neither the old one nor the new one, or the command does not go on.
    """
    job = JOBS[name]
    before, after, trial = folder / "before", folder / "after", folder / "trial"
    before.mkdir(parents=True)
    job.prepare(before)
    shutil.copytree(before, after)
    assert job.run(after).returncode == job.good
    old, new = contents(before), contents(after)
    count, at = 0, 1
    while True:
        shutil.copytree(before, trial)
        call = killed(trial, job, at)
        where, found = f"{name}, killed at call {at}, {call}", contents(trial)
        assert not halves(found, old, new, job.many), where
        if not call:
            return count
        (trial / "all.csv").unlink(missing_ok=True)
        again = job.run(trial)
        # The kill may have come after everything was written.
        written = {**found, **new} == found and "there is already such a file" in again.stderr
        assert written or again.returncode == job.good, f"{where}: {again.stderr}"
        assert contents(trial) == new, f"{where}: {sorted(set(contents(trial)) ^ set(new))}"
        shutil.rmtree(trial)
        count, at = count + 1, at + step


def main(folder: Path, step: int, names: list[str]) -> None:
    """Kill jobs, and print how often each."""
    for name in names or JOBS:
        sys.stdout.write(f"{name} {sweep(folder / name, name, step)}\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3:])
