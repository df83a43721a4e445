"""A table of the numbers of many strips, which grows strip by strip; a later run goes on with it."""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from types import TracebackType

from curves.errors import OutputError
from curves.files.base.locking import take
from curves.files.base.writing import write_atomically
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.results import Analysis

_QUANTITY = ("low", "high", "u", "bound", "side", "how", "why", "note")
_COLUMNS = ("strip", "channel", "number", "unit", "value", *_QUANTITY, "made_from")


class NumberTable:
    """A table of numbers on the disk: the rows of a strip are written together, as soon as the strip is done.

    Args:
        path: the table, which may be there from a run before.

    Attributes:
        made_from: for each strip in the table the digest of all that its rows were made from.

    Raises:
        OutputError: the file is there and is not such a table, or another run is writing it, or it cannot be made.
    """

    def __init__(self, path: Path) -> None:
        self._path, self._file = path, -1
        self.made_from: dict[str, str] = {}
        if path.exists():
            self._open()
            self._look_up()

    def __enter__(self) -> NumberTable:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self._close()

    def drop(self, strips: Collection[str]) -> None:
        """Take the rows of some strips out of the table; at any moment the old table or the whole new one is there."""
        if not strips & self.made_from.keys():
            return
        kept = (row for row in self._rows() if row["strip"] not in strips)
        write_atomically(self._path, _header() + _text([row[column] for column in _COLUMNS] for row in kept))
        self._close()
        self._open()
        for strip in strips:
            self.made_from.pop(strip, None)

    def add(self, strip: str, lines: str, made_from: str) -> None:
        """Write the lines of one strip, which `lines_of_numbers` makes, all of them or none.

        Raises:
            OutputError: they cannot be written; the table is as it was before.
        """
        try:
            if self._file < 0:
                self._open()
            end = os.lseek(self._file, 0, os.SEEK_END)
            left = memoryview((lines if end else _header() + lines).encode("utf-8"))
            try:
                while left:
                    left = left[os.write(self._file, left) :]
            except BaseException:
                os.ftruncate(self._file, end)
                raise
        except OSError as error:
            raise OutputError(
                f"it could not be written: {error.strerror}; the {len(self.made_from)} strips before are in the table",
                where=str(self._path),
                hint="see that there is room, and run the command again: it goes on with the table",
            ) from error
        self.made_from[strip] = made_from

    def _open(self) -> None:
        """Open the table to write at its end, made if it is missing."""
        self._file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
        if not take(self._file):
            self._close()
            raise OutputError(
                "another run is writing the table", where=str(self._path), hint="wait for its end, or name another"
            )

    def _close(self) -> None:
        if self._file >= 0:
            os.close(self._file)
            self._file = -1

    def _look_up(self) -> None:
        """Find the strips in the table; a strip whose last line was cut off is taken out."""
        with self._path.open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(size - 1, 0))
            whole = file.read() == b"\n"
        last = ""
        for row in self._rows():
            last = row["strip"]
            self.made_from[last] = row["made_from"]
        if size and not whole:
            self.drop({last})

    def _rows(self) -> Iterator[dict[str, str]]:
        """Yield the rows of the table; a row that was cut off has empty cells.

        Raises:
            OutputError: the file is not such a table.
        """
        other = OutputError(
            "the table cannot be made: there is already such a file, and no run of this command wrote it",
            where=str(self._path),
            hint="move it away, or name another",
        )
        try:
            with self._path.open(encoding="utf-8", newline="") as file:
                found = csv.DictReader(file, restval="")
                if tuple(found.fieldnames or _COLUMNS) != _COLUMNS:
                    raise other
                yield from found
        except (ValueError, csv.Error) as error:
            raise other from error


def lines_of_numbers(analysis: Analysis, strip: str, made_from: str) -> str:
    """Return the lines of the table for one strip: its index, the ends of its range, speeds, points and measures.

    Args:
        analysis: the strip's results.
        strip: the name of the strip in the table.
        made_from: the digest of all that the results were made from.
    """
    ei = analysis.working_ei
    whole = {"ei": ei.recommended, "ei_lowest": ei.range[0], "ei_highest": ei.range[1]}
    whole |= {key: speed.value for key, speed in analysis.speeds.items()}
    named: list[tuple[str, str, str, Quantity]] = [("", key, "", quantity) for key, quantity in whole.items()]
    for channel, found in analysis.channels.items():
        named += [(channel, name, "log H", point.log_h) for name, point in found.points.items()]
        named += [
            (channel, measure.key, measure.unit, found.measures[measure.key])
            for measure in measures_of(analysis.strip.kind)
        ]
    return _text((strip, *names, *_cells(quantity), made_from) for *names, quantity in named)


def cells_of(quantity: Quantity, name: str) -> dict[str, float | str]:
    """Return the cells of a quantity: numbers, NaN where missing, and texts, empty where missing.

    Keys: ``name`` for the value; low, high, u, bound, side, how, why and note as in `frames.measures_frame`.
    """
    return dict(zip((name, *_QUANTITY), _cells(quantity), strict=True))


def _cells(quantity: Quantity) -> tuple[float | str, ...]:
    """Return the cells of a quantity: its value, and what `_QUANTITY` names."""
    side, bound = quantity.bound or ("", None)
    numbers = (quantity.value, quantity.low, quantity.high, quantity.u, bound)
    return (
        *[math.nan if number is None else number for number in numbers],
        side,
        quantity.how,
        quantity.why or "",
        quantity.note or "",
    )


def _header() -> str:
    return _text([_COLUMNS])


def _text(rows: Iterable[Iterable[float | str]]) -> str:
    """Return lines of the table."""
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()
