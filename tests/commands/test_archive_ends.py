"""A run over an archive that is ended from outside, in real processes: no row is wrong or lost.

The run that goes on afterwards needs no process of its own: what it finds is on the disk.
"""

from __future__ import annotations

import csv
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from unittest import mock

import pytest

from tests.commands.run import PLAIN, Outcome, run
from tests.simulate import FOLDER

STRIPS = 8
WORDS = ("measure", "archive", "--table", "numbers.csv", "--draws")
LONGEST = 60.0


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """Return a folder that holds a folder of strips."""
    (tmp_path / "archive").mkdir()
    text = (FOLDER / "wren-reversal.toml").read_text(encoding="utf-8")
    for name in ("wedge-21.csv", "wren-scan-calibration.toml"):
        shutil.copy(FOLDER / name, tmp_path / "archive")
    for number in range(STRIPS):
        own = text.replace("wren-reversal.csv", f"s{number}.csv")
        (tmp_path / "archive" / f"s{number}.toml").write_text(own, encoding="utf-8")
        shutil.copy(FOLDER / "wren-reversal.csv", tmp_path / "archive" / f"s{number}.csv")
    return tmp_path


def begun(folder: Path, draws: int = 1000, prepare: Callable[[], None] | None = None) -> subprocess.Popen[str]:
    """Return a run in a session of its own, which an interrupt reaches even where the tests themselves ignore it."""

    def start() -> None:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        if prepare is not None:
            prepare()

    return subprocess.Popen(
        [sys.executable, "-m", "curves", *WORDS, str(draws)],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        start_new_session=True,
        preexec_fn=start,
        env={**os.environ, **PLAIN},
    )


def strips_in(folder: Path) -> Counter[str]:
    """Return how many rows the table has of each strip."""
    table = folder / "numbers.csv"
    if not table.exists():
        return Counter()
    with table.open(encoding="utf-8", newline="") as file:
        return Counter(row["strip"] for row in csv.DictReader(file))


def until(true: Callable[[], object]) -> None:
    """Wait until something is true."""
    end = time.monotonic() + LONGEST
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def workers_of(run: subprocess.Popen[str]) -> list[int]:
    """Return the processes that a run has started."""
    try:
        text = Path(f"/proc/{run.pid}/task/{run.pid}/children").read_text(encoding="utf-8")
    except OSError:
        return []
    return [int(pid) for pid in text.split()]


def gone(pid: int) -> bool:
    """Return True if a process has ended; a zombie has."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def in_this_process(folder: Path, draws: int) -> Outcome:
    """Return what a run on one core comes to."""
    with mock.patch.object(os, "cpu_count", return_value=1):
        done = run(folder, *WORDS, str(draws))
    assert done.returncode == 0, done.stderr
    return done


def goes_on(folder: Path, draws: int = 1000) -> None:
    """Check that the table holds whole strips, and that a later run finishes it and leaves what was there."""
    before = strips_in(folder)
    assert len(set(before.values())) <= 1
    table = folder / "numbers.csv"
    text = table.read_text(encoding="utf-8") if table.exists() else ""
    again = in_this_process(folder, draws)
    assert f"numbers.csv: the numbers of {STRIPS - len(before)} strip" in again.stdout
    after = strips_in(folder)
    assert (len(after), len(set(after.values()))) == (STRIPS, 1)
    assert table.read_text(encoding="utf-8").startswith(text)


def test_a_killed_worker_is_told_and_what_was_done_stays(archive: Path) -> None:
    going = begun(archive)
    until(lambda: strips_in(archive) or going.poll() is not None)
    os.kill(workers_of(going)[0], signal.SIGKILL)
    _, err = going.communicate(timeout=LONGEST)
    assert going.returncode == 1
    assert f" of {STRIPS} strips are not done: a process that worked on them was ended from outside" in err
    assert "Traceback" not in err
    assert 0 < len(strips_in(archive)) < STRIPS
    goes_on(archive)


def test_a_killed_run_takes_its_workers_along_and_leaves_a_table_that_is_gone_on_with(archive: Path) -> None:
    going = begun(archive)
    until(lambda: strips_in(archive) or going.poll() is not None)
    workers = workers_of(going)
    going.kill()
    going.communicate(timeout=LONGEST)
    until(lambda: all(gone(pid) for pid in workers))
    assert workers
    goes_on(archive)


def test_an_interrupted_run_ends_at_once_and_without_a_traceback(archive: Path) -> None:
    going = begun(archive)
    until(lambda: strips_in(archive) or going.poll() is not None)
    os.killpg(going.pid, signal.SIGINT)
    _, err = going.communicate(timeout=LONGEST)
    assert going.returncode not in (0, None)
    assert "Traceback" not in err
    assert 0 < len(strips_in(archive)) < STRIPS


def test_a_file_pulled_away_fails_its_own_strip_alone(archive: Path) -> None:
    going = begun(archive)
    until(lambda: workers_of(going) or going.poll() is not None)
    for name in ("s7.toml", "s6.csv"):
        (archive / "archive" / name).unlink()
    _, err = going.communicate(timeout=LONGEST)
    assert going.returncode == 1
    assert f"2 of {STRIPS} strips failed:" in err
    assert "curves: archive/s7.toml" in err
    assert "s6.csv" in err
    assert sorted(strips_in(archive)) == [f"archive/s{n}.toml" for n in range(6)]


def test_a_full_disk_leaves_whole_strips_and_a_later_run_goes_on(archive: Path) -> None:
    def small() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    going = begun(archive, 0, small)
    _, err = going.communicate(timeout=LONGEST)
    assert going.returncode == 1
    assert "numbers.csv: it could not be written: File too large; the " in err
    assert 0 < len(strips_in(archive)) < STRIPS
    goes_on(archive, 0)


def test_a_changed_strip_is_measured_again_and_a_line_cut_off_is_mended(archive: Path) -> None:
    goes_on(archive, 0)
    record, table = archive / "archive" / "s3.toml", archive / "numbers.csv"
    record.write_text(record.read_text(encoding="utf-8") + "\n# read again\n", encoding="utf-8")
    table.write_bytes(table.read_bytes()[:-20])
    again = in_this_process(archive, 0)
    assert "numbers.csv: the numbers of 2 strips" in again.stdout
    assert f"{STRIPS - 2} of {STRIPS} strips were in the table already" in again.stdout
    after = strips_in(archive)
    assert (len(after), len(set(after.values()))) == (STRIPS, 1)


@pytest.mark.slow
@pytest.mark.parametrize("moment", range(60))
def test_at_whatever_moment_a_process_is_killed_the_table_holds_whole_strips(archive: Path, moment: int) -> None:
    chance = random.Random(moment)
    going = begun(archive)
    time.sleep(chance.uniform(0.0, 4.0))
    of = workers_of(going) if moment % 2 else []
    victim = chance.choice(of) if of else going.pid
    if going.poll() is None:
        os.kill(victim, signal.SIGKILL)
    going.communicate(timeout=LONGEST)
    goes_on(archive)
