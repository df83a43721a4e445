"""Kill an entry at every call that changes a file: ``python -m tests.files.entry.kills FOLDER``.

Each act of an entry is done in a child process that kills itself before its first such call, before its second, and so
on, each time on a copy of the folder. (A module of its own, because a process of many threads should not fork.) After
every kill the entry goes on in this process: it must stand as before the act, or as after it; then it does what is left
of the act, and one more.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
import signal
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

from curves.files.base.record_edits import record_content
from curves.files.entry.entry import ENDING, Entry, one_writer
from curves.files.entry.questions import Answers, Draft
from curves.files.entry.sheet import Line, Plan, Sheet

CALLS = ("open", "fsync", "chmod", "replace", "unlink")
DRAFT: Draft = {
    "kind": "reversal",
    "density": "status A",
    "readings": "heron.csv",
    "wedge": {"steps": 5, "increment": 0.3},
    "exposure": {"method": "contact", "lux": 25.0, "seconds": 1.6},
}
OLD_TABLE = "# read in March\nstep;red\n4;0,90\n"
PLAN = Plan(("red", "green"), (1.0, 2.0, 3.0, 4.0, 5.0))
STEPS = (Line(0, ()), *PLAN.lines)

Act = Callable[[Entry], object]


def kept(change: Callable[[Sheet], Sheet]) -> Act:
    return lambda entry: entry.keep(change(entry.sheet))


ACTS: tuple[Act, ...] = (
    lambda entry: entry.keep_answers(Answers(DRAFT, ("all",))),
    Entry.write_record,
    lambda entry: entry.begin(PLAN),
    kept(lambda sheet: sheet.enter(STEPS[1], {"red": 0.30, "green": 0.60})),
    kept(lambda sheet: sheet.enter(STEPS[2], {"red": 0.40, "green": 0.70}, doubtful=True)),
    kept(lambda sheet: sheet.repeat(STEPS[1], {"red": 0.31})),
    kept(Sheet.take_back),
    kept(lambda sheet: sheet.go_to(STEPS[1])),
    kept(lambda sheet: sheet.enter(STEPS[1], {"red": 0.35})),
    kept(lambda sheet: sheet.leave_out(STEPS[3])),
    kept(lambda sheet: sheet.leave_out(STEPS[2])),
    kept(Sheet.take_back),
    kept(Sheet.take_back),
    kept(Sheet.take_back),
    kept(Sheet.end),
    kept(lambda sheet: sheet.add_patch("base", {"red": 0.2})),
    kept(lambda sheet: sheet.add_notes("dust")),
    Entry.finish,
)


BEGUN = 3
"""Acts after which there is a sheet."""


@contextlib.contextmanager
def going_on(folder: Path) -> Iterator[Entry]:
    """Go on with the entry in a folder, as a session does."""
    record = folder / "heron.toml"
    with one_writer(record.with_suffix(ENDING)):
        entry = Entry(record)
        if entry.begun:
            entry.resume()
        yield entry


def do(folder: Path, act: Act) -> None:
    with going_on(folder) as entry:
        act(entry)


def standing(folder: Path) -> object:
    """Return how an entry stands: its sheet; before and after there is one, the answers and the record."""
    with going_on(folder) as entry:
        record = record_content(entry.record) if entry.record.exists() else None
        return entry.sheet if entry.begun else (entry.answers, record)


def call_killed(folder: Path, act: Act, at: int) -> str:
    """Do an act in a process that is killed before its call number ``at``; return which, "" if it did not come."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        count = itertools.count(1)

        def deadly(name: str, real: Callable[..., object]) -> Callable[..., object]:
            def call(*args: object, **options: object) -> object:
                if next(count) == at:
                    os.write(writing, name.encode())
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(*args, **options)

            return call

        with contextlib.ExitStack() as hooks:
            for name in CALLS:
                hooks.enter_context(mock.patch.object(os, name, deadly(name, getattr(os, name))))
            do(folder, act)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        name = pipe.read().decode()
    status = os.waitpid(child, 0)[1]
    assert os.WIFSIGNALED(status) if name else status == 0, status
    return name


def stages(folder: Path) -> list[Path]:
    """Return the folder of an entry before its first act, and after each."""
    found = [folder / "0"]
    found[0].mkdir()
    (found[0] / "heron.csv").write_text(OLD_TABLE, encoding="utf-8")
    for number, act in enumerate(ACTS, start=1):
        found.append(folder / str(number))
        shutil.copytree(found[-2], found[-1])
        do(found[-1], act)
    return found


def main(folder: Path) -> None:
    """Kill at every call of every act, and print how often before each."""
    kills: Counter[str] = Counter()
    before_and_after = stages(folder)
    stands = [standing(stage) for stage in before_and_after]
    trial = folder / "trial"
    for number, act in enumerate(ACTS):
        for at in itertools.count(1):
            shutil.copytree(before_and_after[number], trial)
            name = call_killed(trial, act, at)
            where = f"act {number} killed before call {at}, {name}"
            found = standing(trial)
            assert found in (stands[number], stands[number + 1]), f"{where}: {found}"
            if found == stands[number]:
                do(trial, act)
            for more in ACTS[number + 1 : number + 2]:
                do(trial, more)
            reached = min(number + 2, len(ACTS))
            assert standing(trial) == stands[reached], where
            # What a kill leaves of the answers' file goes when the sheet is begun.
            there = {p.name for p in trial.iterdir() if reached >= BEGUN or p.suffix != ".part"}
            assert there == {p.name for p in before_and_after[reached].iterdir()}, f"{where}: {there}"
            shutil.rmtree(trial)
            if not name:
                break
            kills[name] += 1
    sys.stdout.write(" ".join(f"{name} {kills[name]}" for name in CALLS) + "\n")
    sys.stdout.write((before_and_after[-1] / "heron.csv").read_text(encoding="utf-8"))


if __name__ == "__main__":
    # A kill takes nothing from the disk that was written: there is no need to wait for it.
    with mock.patch.object(os, "fsync"):
        main(Path(sys.argv[1]))
