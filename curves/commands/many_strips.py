"""Many strips one by one: what is not a strip is named and left out, what fails is named at the end."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

import typer

from curves.commands.options import StripOptions, option_of
from curves.errors import visible

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

    from curves.app.strip_files import StripFile
    from curves.errors import CurvesError
    from curves.sensitometry.core.choices import Choices
    from curves.sensitometry.uncertainty.results import Analysis

Result = TypeVar("Result")

_WORTH_A_POOL = 6
"""Fewest strips for which more processes than one are started: below, starting them takes longer than it saves."""

_AHEAD = 4
"""Strips that are given to each process before their results are asked for."""


@dataclass(frozen=True)
class Refusal:
    """The words in which a strip was refused."""

    words: str


@dataclass(frozen=True)
class Lost:
    """The place of a result that a killed process did not make."""


@dataclass(frozen=True)
class StripWork(Generic[Result]):
    """Work on one strip by its path, which another process can be given.

    Attributes:
        wanted: the options that describe bare tables.
        choices: the choices of the analyses.
        work: makes the result of a strip's file and its analysis; a function at the top of a module, or a
            `functools.partial` of one.
        judged_too: True to take brackets that were only judged by eye, whose analyses have an index and no channels.
        settings: the options of the results in words, where the work asks for the strip's fingerprint; else None.
    """

    wanted: StripOptions
    choices: Choices
    work: Callable[[StripFile, Analysis], Result]
    judged_too: bool = False
    settings: str | None = None

    def of(self, strip: StripFile) -> Result:
        """Return the result of a strip."""
        from curves.app.archive import fingerprint
        from curves.sensitometry.analysis.analyse import analyse, analyse_for_index

        if self.settings is not None:
            # Before the strip is loaded: if a file changes in between, the next run does the strip again.
            strip = replace(strip, fingerprint=fingerprint(strip.path, self.settings))
        analysed = analyse_for_index if self.judged_too else analyse
        return self.work(strip, analysed(self.wanted.load(strip.path), self.choices))

    def __call__(self, strip: StripFile) -> Result | Refusal:
        """Return the result of a strip, or the words in which the strip or its result was refused."""
        from curves.errors import CurvesError

        try:
            return self.of(strip)
        except CurvesError as error:
            return Refusal(_of_file(error, strip.path))


class ManyStrips:
    """The strips among the files that a person names, analysed one by one; no result is held.

    Args:
        paths: records, tables and folders.
        wanted: the options that describe bare tables and the choices of the analyses.

    Attributes:
        strips: those that are still to be analysed; a command may leave some out.
    """

    def __init__(self, paths: Sequence[Path], wanted: StripOptions) -> None:
        from curves.app.strip_files import strips_among

        found = strips_among(paths)
        self.strips: Sequence[StripFile] = found.strips
        self._wanted, self._choices = wanted.completed([strip.path for strip in found.strips]), wanted.choices()
        self._others, self._failed, self._lost = found.others, list[str](), 0
        self._alone = len(found.strips) == 1

    def analyses(self, *, judged_too: bool = False) -> Iterator[tuple[Path, Analysis]]:
        """Yield each strip that can be analysed, with its results.

        Args:
            judged_too: as for `StripWork`.

        Raises:
            CurvesError: the only strip that was named cannot be loaded or analysed.
        """
        return self._in_this_process(lambda _, analysis: analysis, judged_too=judged_too)

    def results(
        self, work: Callable[[StripFile, Analysis], Result], settings: str | None = None
    ) -> Iterator[tuple[Path, Result]]:
        """Yield the result of work on each strip, in order; many strips are worked on by all cores.

        Args:
            work: as for `StripWork`; its result should be small, for it travels between processes.
            settings: as for `StripWork`.

        Raises:
            CurvesError: the only strip that was named cannot be loaded or analysed, or its result not be made.
        """
        cores = min(os.cpu_count() or 1, len(self.strips))
        if len(self.strips) < _WORTH_A_POOL or cores < 2:
            yield from self._in_this_process(work, settings=settings)
            return
        self._name_others()
        task = StripWork(self._wanted, self._choices, work, settings=settings)
        pool = ProcessPoolExecutor(cores, initializer=_begin_worker)
        try:
            with typer.progressbar(length=len(self.strips), file=sys.stderr, hidden=not sys.stderr.isatty()) as bar:
                for path, result in _in_order(pool, task, self.strips, cores * _AHEAD):
                    bar.update(1)
                    if isinstance(result, Lost):
                        self._lost += 1
                    elif isinstance(result, Refusal):
                        self._failed.append(result.words)
                    else:
                        yield path, result
        finally:
            # What has not begun is not waited for: somebody may have interrupted the work.
            pool.shutdown(cancel_futures=True)

    def end(self) -> None:
        """Name the strips that failed, and count those that were lost; exit status 1 if there are any."""
        if self._failed:
            print(f"{len(self._failed)} of {len(self.strips)} strips failed:", file=sys.stderr)
        for words in self._failed:
            print(f"curves: {words}", file=sys.stderr)
        if self._lost:
            print(
                f"curves: {self._lost} of {len(self.strips)} strips are not done: a process that worked on them was"
                " ended from outside, as a system does that runs out of memory. What is done stays.\n"
                "Try: run the command again.",
                file=sys.stderr,
            )
        if self._failed or self._lost:
            raise typer.Exit(1)

    def _in_this_process(
        self,
        work: Callable[[StripFile, Analysis], Result],
        *,
        judged_too: bool = False,
        settings: str | None = None,
    ) -> Iterator[tuple[Path, Result]]:
        """Yield the result of work on each strip, one after the other."""
        from curves.errors import CurvesError

        self._name_others()
        task = StripWork(self._wanted, self._choices, work, judged_too, settings)
        for strip in self.strips:
            try:
                result = task.of(strip)
            except CurvesError as error:
                if self._alone:
                    raise
                self._failed.append(_of_file(error, strip.path))
            else:
                yield strip.path, result

    def _name_others(self) -> None:
        """Name each file that is not a strip."""
        for path, what in self._others:
            print(visible(f"{path}: left out, {what}"), file=sys.stderr)


def _begin_worker() -> None:
    """Prepare a process that works on strips: an interrupt is its parent's to answer, and it ends with its parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    """Wait for the end of another process, and end this one."""
    parent.join()
    os._exit(1)


def _in_order(
    pool: Executor, task: StripWork[Result], strips: Sequence[StripFile], ahead: int
) -> Iterator[tuple[Path, Result | Refusal | Lost]]:
    """Yield the results of a task in the order of the strips, with at most ``ahead`` of them under way.

    Where a process of the pool was killed, what others have done already is given still, and the rest is lost.
    """
    waiting: deque[tuple[Path, Future[Result | Refusal] | None]] = deque()
    for strip in strips:
        try:
            waiting.append((strip.path, pool.submit(task, strip)))
        except BrokenExecutor:
            waiting.append((strip.path, None))
        if len(waiting) == ahead:
            path, future = waiting.popleft()
            result = _result_of(future)
            yield path, result
    for path, future in waiting:
        result = _result_of(future)
        yield path, result


def _result_of(future: Future[Result] | None) -> Result | Lost:
    """Return a result when it is there; `Lost` where the process that was to make it was killed."""
    try:
        return Lost() if future is None else future.result()
    except BrokenExecutor:
        return Lost()


def _of_file(error: CurvesError, path: Path) -> str:
    """Return an error in words that begin with the whole path of the strip."""
    words, name, whole = error.in_words(option_of), visible(path.name), visible(str(path))
    return whole + words.removeprefix(name) if words.startswith(name) else f"{whole}: {words}"
