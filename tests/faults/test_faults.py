"""Every call of the file system fails in turn: words and an exit status, the old file or the new, and never half."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.commands.run import Outcome
from tests.faults.jobs import JOBS, Contents, Job, contents, halves
from tests.faults.strikes import struck

ROOT = Path(__file__).parents[2]

NEVER_AGAIN = ("import", "scan", "table", "join", "plan", "roll", "next", "frames")
"""Jobs that refuse to write over what they wrote."""

FAULTS = (errno.ENOSPC, errno.EACCES, errno.EIO)


FROM_OUTSIDE = 200
"""Kills of each job from outside."""


def failing(number: int, at: int, folder: Path, job: Job) -> tuple[Outcome, list[str]]:
    """Run a job whose call ``at`` fails; return what it came to, and the calls that were made."""

    def strike(_: str) -> None:
        raise OSError(number, os.strerror(number))

    with struck(folder, at, strike) as moments:
        done = job.run(folder)
    return done, moments.names


def stages(folder: Path, job: Job) -> tuple[Contents, Contents, list[str]]:
    """Return the files before a job and after it, and the calls that it makes."""
    before = folder / "before"
    before.mkdir()
    job.prepare(before)
    for after in ("first", "after"):
        # What takes long is done at the first time only, with the calls for it.
        shutil.copytree(before, folder / after)
        done, calls = failing(0, 0, folder / after, job)
        assert done.returncode == job.good, done.stderr
    return contents(before), contents(folder / "after"), calls


def sweep(folder: Path, name: str, step: int) -> Counter[str]:
    """Fail at calls of a job, each time on a copy of its folder; return how often at each kind of call."""
    job = JOBS[name]
    old, new, calls = stages(folder, job)
    struck_at: Counter[str] = Counter()
    trial = folder / "trial"
    for moment in range(0, 3 * len(calls), step):
        at, number = moment // 3 + 1, FAULTS[moment % 3]
        shutil.copytree(folder / "before", trial)
        done, names = failing(number, at, trial, job)
        where = f"{name}, call {at}, {names[at - 1]}, {errno.errorcode[number]}"
        found = contents(trial)
        assert not halves(found, old, new, job.many), where
        complete = {**found, **new} == found
        if done.returncode == job.good:
            # A table may lack the digest of a strip, as `halves` has it.
            assert complete or name == "table", where
        else:
            assert done.returncode == 1, where
            assert "curves: " in done.stderr, where
        # What is struck goes away, and the command is run again.
        if name not in NEVER_AGAIN or done.returncode != job.good or not complete:
            (trial / "all.csv").unlink(missing_ok=True)
            again = job.run(trial)
            assert again.returncode == job.good, f"{where}: {again.stderr}"
        assert contents(trial) == new, where
        struck_at[names[at - 1]] += 1
        shutil.rmtree(trial)
    return struck_at


# Of three faults at each call, every so many: each takes its turn, and every call is struck in some version.
STEPS = {
    "report": 53,
    "compare": 37,
    "control": 61,
    "scan": 37,
    "grain": 17,
    "stacks": 47,
    "series": 19,
    "join": 11,
    "archive": 149,
    "frames": 67,
    "balance": 29,
}


@pytest.mark.parametrize("name", JOBS)
def test_a_call_that_fails_leaves_the_old_file_or_the_new(tmp_path: Path, name: str) -> None:
    struck_at = sweep(tmp_path, name, STEPS.get(name, 5))
    assert struck_at.total() > 3


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_every_call_that_fails_leaves_the_old_file_or_the_new(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    struck_at = sweep(tmp_path, name, 1)
    with capsys.disabled():
        sys.stdout.write(f"\n{name}: {struck_at.total()} moments, {dict(struck_at)}\n")


def kill(folder: Path, way: str, number: int) -> dict[str, int]:
    """Kill every job at every so many calls, or at so many moments; return how often each."""
    command = [sys.executable, "-m", "tests.faults.kills", str(folder), way, str(number)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return {name: int(count) for name, _, count in (line.rpartition(" ") for line in done.stdout.splitlines())}


def test_a_kill_at_a_call_leaves_the_old_file_or_the_new_and_the_command_goes_on(tmp_path: Path) -> None:
    kills = kill(tmp_path, "calls", 149)
    assert set(kills) == set(JOBS)
    assert min(kills.values()) >= 1


@pytest.mark.slow
def test_a_kill_at_any_call_leaves_the_old_file_or_the_new_and_the_command_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kills = kill(tmp_path, "calls", 1)
    with capsys.disabled():
        sys.stdout.write(f"\nkilled at {sum(kills.values())} moments: {kills}\n")


@pytest.mark.slow
def test_a_kill_from_outside_leaves_the_old_file_or_the_new_and_the_command_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kills = kill(tmp_path, "moments", FROM_OUTSIDE)
    assert kills == dict.fromkeys(JOBS, FROM_OUTSIDE)
    with capsys.disabled():
        sys.stdout.write(f"\nkilled from outside at {sum(kills.values())} moments: {kills}\n")
