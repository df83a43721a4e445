"""Kill commands in turn: ``python -m tests.faults.kills FOLDER calls|moments NUMBER [JOB...]``.

Each time a child process works on a copy of the command's folder. By calls, it kills itself before every so many calls
of the file system; a write is half done. By moments, this process kills it so many times, each at a drawn moment of its
run. Then the files are looked at, the command is run again in this process, and everything must stand as if there had
been no kill. (A module of its own, because a process of many threads should not fork; and what takes long, which the
child inherits, is done once.)
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.faults.jobs import JOBS, Contents, Job, contents, halves
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


def _started(folder: Path, job: Job) -> int:
    """Run a job in a process of its own; return the number of the process."""
    child = os.fork()
    if child == 0:
        os._exit(job.run(folder).returncode)
    return child


def killed_from_outside(folder: Path, job: Job, after: float) -> bool:
    """Run a job in a process that is killed some seconds after its start; return False if it ended before."""
    child = _started(folder, job)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    status = os.waitpid(child, 0)[1]
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == job.good, status
    return os.WIFSIGNALED(status)


@dataclass(frozen=True)
class Stages:
    """The files of a job as they are before it and after it.

    Attributes:
        job: the job.
        name: its name.
        folder: holds the folders ``before`` and ``after``, and ``trial``, which is made anew for each kill.
        old, new: contents of the first two.
    """

    job: Job
    name: str
    folder: Path
    old: Contents
    new: Contents

    @classmethod
    def of(cls, folder: Path, name: str) -> Stages:
        """Make the folders of a job."""
        job, before, after = JOBS[name], folder / "before", folder / "after"
        before.mkdir(parents=True)
        job.prepare(before)
        shutil.copytree(before, after)
        assert job.run(after).returncode == job.good
        return cls(job, name, folder, contents(before), contents(after))

    def trial(self) -> Path:
        """Return a fresh copy of the folder as it is before the job."""
        trial = self.folder / "trial"
        shutil.rmtree(trial, ignore_errors=True)
        return Path(shutil.copytree(self.folder / "before", trial))

    def check(self, trial: Path, when: str) -> None:
        """Check that nothing is lost, and that the job goes on where it was killed.

        Raises:
            AssertionError: a file is neither the old one nor the new one, or the command does not go on.
        """
        job, new, found = self.job, self.new, contents(trial)
        where = f"{self.name}, killed {when}"
        assert not (wrong := halves(found, self.old, new, job.many)), f"{where}: {wrong}"
        (trial / "all.csv").unlink(missing_ok=True)
        again = job.run(trial)
        # The kill may have come after everything was written.
        written = {**found, **new} == found and "there is already such a file" in again.stderr
        assert written or again.returncode == job.good, f"{where}: {again.stderr}"
        assert contents(trial) == new, f"{where}: {sorted(set(contents(trial)) ^ set(new))}"


def by_calls(folder: Path, name: str, step: int) -> int:
    """Kill a job before every so many calls; return how often."""
    stages, count, at = Stages.of(folder, name), 0, 1
    while call := killed(trial := stages.trial(), stages.job, at):
        stages.check(trial, f"at call {at}, {call}")
        count, at = count + 1, at + step
    return count


def by_moments(folder: Path, name: str, kills: int) -> int:
    """Kill a job so many times from outside, each at a moment drawn over its run; return how often it was running."""
    stages, count = Stages.of(folder, name), 0
    for after in _moments(stages):
        killed_then = killed_from_outside(trial := stages.trial(), stages.job, after)
        stages.check(trial, f"from outside after {after:.3f} s")
        count += killed_then
        if count >= kills:
            break
    return count


def _moments(stages: Stages) -> Iterator[float]:
    """Yield moments over a job's run [s], without end; a machine that is busy makes some of them come too late."""
    rng, lasts = np.random.default_rng(sum(stages.name.encode())), []
    for _ in range(5):
        trial, began = stages.trial(), time.monotonic()
        child = _started(trial, stages.job)
        os.waitpid(child, 0)
        lasts.append(time.monotonic() - began)
    while True:
        yield float(rng.uniform(0.0, np.median(lasts)))


WAYS = {"calls": by_calls, "moments": by_moments}


def main(folder: Path, way: str, number: int, names: list[str]) -> None:
    """Kill jobs, and print how often each."""
    for name in names or JOBS:
        sys.stdout.write(f"{name} {WAYS[way](folder / name, name, number)}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4:])
