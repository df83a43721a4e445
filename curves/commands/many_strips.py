"""Many strips one by one: what is not a strip is named and left out, what fails is named at the end."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from curves.commands.options import StripOptions, option_of

if TYPE_CHECKING:
    from curves.errors import CurvesError
    from curves.sensitometry.uncertainty.results import Analysis


class ManyStrips:
    """The strips among the files that a person names, analysed one by one; no result is held.

    Args:
        paths: records, tables and folders.
        wanted: the options that describe bare tables and the choices of the analyses.
    """

    def __init__(self, paths: Sequence[Path], wanted: StripOptions) -> None:
        from curves.app.strip_files import strips_among

        self._wanted, self._choices = wanted, wanted.choices()
        found = strips_among(paths)
        self.paths = found.strips
        self._others, self._failed = found.others, list[str]()

    def analyses(self) -> Iterator[tuple[Path, Analysis]]:
        """Give each strip that can be analysed, with its results.

        Raises:
            CurvesError: the only strip cannot be loaded or analysed.
        """
        from curves.errors import CurvesError
        from curves.sensitometry.analysis.analyse import analyse

        for path, what in self._others:
            print(f"{path}: left out, {what}", file=sys.stderr)
        for path in self.paths:
            try:
                yield path, analyse(self._wanted.load(path), self._choices)
            except CurvesError as error:
                if len(self.paths) == 1:
                    raise
                self._failed.append(_of_file(error, path))

    def end(self) -> None:
        """Name the strips that failed; exit status 1 if there are any."""
        if not self._failed:
            return
        print(f"{len(self._failed)} of {len(self.paths)} strips failed:", file=sys.stderr)
        for words in self._failed:
            print(f"curves: {words}", file=sys.stderr)
        raise typer.Exit(1)


def _of_file(error: CurvesError, path: Path) -> str:
    """Return an error in words that begin with the whole path of the strip."""
    words = error.in_words(option_of)
    return str(path) + words.removeprefix(path.name) if words.startswith(path.name) else f"{path}: {words}"
