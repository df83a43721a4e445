"""A table of the numbers of many strips, which grows strip by strip; a later run goes on with it."""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import TracebackType

from curves.errors import OutputError
from curves.files.base.locking import take
from curves.files.base.writing import write_atomically
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.measures.table import measures_of
from curves.sensitometry.uncertainty.results import Analysis

NUMBER_COLUMNS = ("channel", "number", "unit", "value", "low", "high", "u", "bound", "side", "how", "why", "note")
"""Keys of `rows_of_numbers`, in their order."""

_COLUMNS = ("strip", *NUMBER_COLUMNS, "made_from")


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
        write_atomically(self._path, _header() + _text(kept))
        self._close()
        self._open()
        for strip in strips:
            self.made_from.pop(strip, None)

    def add(self, strip: str, rows: Sequence[Mapping[str, float | str]], made_from: str) -> None:
        """Write the rows of one strip, all of them or none.

        Raises:
            OutputError: they cannot be written; the table is as it was before.
        """
        text = _text({**row, "strip": strip, "made_from": made_from} for row in rows)
        try:
            if self._file < 0:
                self._open()
            end = os.lseek(self._file, 0, os.SEEK_END)
            left = memoryview((text if end else _header() + text).encode("utf-8"))
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


def rows_of_numbers(analysis: Analysis) -> list[dict[str, float | str]]:
    """Return every number of a strip, one row each: the index, the ends of its range, speeds, points and measures.

    Keys: channel, empty for a number of the whole strip; number, its key; unit; value, low, high, u, bound, side, how,
    why and note as in `frames.measures_frame`.
    """
    ei = analysis.working_ei
    whole = {"ei": ei.recommended, "ei_lowest": ei.range[0], "ei_highest": ei.range[1]}
    whole |= {key: speed.value for key, speed in analysis.speeds.items()}
    rows: list[dict[str, float | str]] = [
        {"channel": "", "number": key, "unit": "", **cells_of(q, "value")} for key, q in whole.items()
    ]
    for channel, found in analysis.channels.items():
        for name, point in found.points.items():
            rows.append({"channel": channel, "number": name, "unit": "log H", **cells_of(point.log_h, "value")})
        for measure in measures_of(analysis.strip.kind):
            cells = cells_of(found.measures[measure.key], "value")
            rows.append({"channel": channel, "number": measure.key, "unit": measure.unit, **cells})
    return rows


def cells_of(quantity: Quantity, name: str) -> dict[str, float | str]:
    """Return the cells of a quantity: numbers, NaN where missing, and texts, empty where missing."""
    side, bound = quantity.bound or ("", None)
    numbers = {name: quantity.value, "low": quantity.low, "high": quantity.high, "u": quantity.u, "bound": bound}
    return {
        **{key: math.nan if value is None else value for key, value in numbers.items()},
        "side": side,
        "how": quantity.how,
        "why": quantity.why or "",
        "note": quantity.note or "",
    }


def _header() -> str:
    return _text([dict(zip(_COLUMNS, _COLUMNS, strict=True))])


def _text(rows: Iterable[Mapping[str, float | str]]) -> str:
    """Return lines of the table."""
    text = io.StringIO()
    csv.DictWriter(text, _COLUMNS, extrasaction="ignore").writerows(rows)
    return text.getvalue()
