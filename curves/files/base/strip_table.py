"""A strip's readings, row by row: what a table becomes, whether hand-written or from elsewhere."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from curves.errors import RecordError, StripError, nearest
from curves.files.base.cells import check_density, check_position
from curves.files.base.tables import Table
from curves.sensitometry.core.reader_units import DENSITOMETER, ReaderScale
from curves.sensitometry.core.units import CHANNELS, Channel, DensityKind
from curves.sensitometry.strip.exposure import JUDGEMENTS, POSITIONS, Judgement, Position

FRAME_COLUMNS = ("frame", "stack", "judgement")
"""Columns that a table of frames may have beside its densities."""

EXPOSURE_COLUMN = "exposure"
"""Column of a joined strip's table: which of its exposures each row belongs to."""

NO_STACK = "none"
"""The word for nothing in front of the lens, as an empty cell is."""


@dataclass(frozen=True)
class FrameColumns:
    """The columns of a table of frames beside its densities; each is empty where the table has no such column.

    Attributes:
        numbers: the number of each row's frame, as written.
        stacks: what was in front of the lens, an empty text for nothing.
        judgements: what the eye made of the frame, None where it was not judged.
    """

    numbers: tuple[str, ...] = ()
    stacks: tuple[str, ...] = ()
    judgements: tuple[Judgement | None, ...] = ()

    @classmethod
    def of(cls, table: Table) -> FrameColumns:
        """Read the columns of a table.

        Raises:
            RecordError: a judgement is not known.
        """
        stacks = ("" if name.casefold() == NO_STACK else name for name in _words(table, "stack"))
        return cls(tuple(_words(table, "frame")), tuple(stacks), _judgements(table))


@dataclass(frozen=True)
class StripTable:
    """The readings of one strip.

    Attributes:
        name: the file, for errors.
        column: what the rows are listed by.
        positions: of each row.
        readings: by channel, one for each row, NaN where not read [density].
        places: where each row stands in the file, for errors.
        density: the kind of density, if the file names one.
        title: what the file calls itself; empty if it does not.
        date: when it was made, as 2026-03-14; empty if the file does not say.
        understood: how a table from elsewhere was read, each a sentence.
        doubtful: what is odd about it, each a sentence.
        unused: the names of columns that hold nothing of the strip.
        of_frames: what the table says of each row's frame beside its densities.
        exposures: the exposure of a joined strip that each row belongs to; empty where the table does not say.
        shown: the readings as the instrument showed them, by channel, in its unit; empty if they are densities.
    """

    name: str
    column: Position
    positions: tuple[float, ...]
    readings: Mapping[Channel, tuple[float, ...]]
    places: tuple[str, ...]
    density: DensityKind | None = None
    title: str = ""
    date: str = ""
    understood: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()
    of_frames: FrameColumns = field(default_factory=FrameColumns)
    exposures: tuple[str, ...] = ()
    shown: Mapping[Channel, tuple[float, ...]] = field(default_factory=dict)

    @property
    def steps_read(self) -> int:
        """The number of different positions at which any channel was read."""
        read = zip(self.positions, zip(*self.readings.values(), strict=True), strict=True)
        return len({place for place, values in read if not all(map(math.isnan, values))})

    def rows(self) -> list[tuple[float, dict[Channel, float]]]:
        """Return the rows: what lists each, and the readings as the instrument showed them."""
        read = self.shown or self.readings
        return [
            (position, {c: values[row] for c, values in read.items() if not math.isnan(values[row])})
            for row, position in enumerate(self.positions)
        ]

    def numbers(self) -> tuple[object, ...]:
        """Return all numbers of the table, so that two ways of reading a file can be compared."""
        by_channel = (tuple(None if math.isnan(v) else v for v in self.readings.get(c, ())) for c in CHANNELS)
        return (self.column, self.positions, *by_channel)


def strip_table_of(
    table: Table,
    listed_by: Sequence[Position] = POSITIONS,
    *,
    hundredths: bool = False,
    settings: Sequence[str] = (),
    scale: ReaderScale = DENSITOMETER,
) -> StripTable:
    """Return the readings that a table with columns of a strip's names holds.

    Args:
        table: the table: one of the columns step, stops, ei and log_h, and any of red, green, blue, visual.
        listed_by: the columns of which the table needs one, for errors.
        hundredths: True if the table holds hundredths of density.
        settings: those that number the steps anew, for errors.
        scale: the scale on which the strip was read.

    Raises:
        RecordError: a column is missing, or a cell does not hold what it must; says where and what is needed.
    """
    channels = [c for c in CHANNELS if c in table.header]
    of_frames = FrameColumns.of(table)
    if not channels and not any(of_frames.judgements):
        raise RecordError("no column holds densities", where=table.name, needed="any of red, green, blue, visual")
    shown = {
        c: tuple(v / 100 if hundredths else v for v in table.numbers(c, fractions=scale.unit == "seconds"))
        for c in channels
    }
    readings = shown
    if scale != DENSITOMETER:
        readings = {
            c: tuple(converted(v, scale, table.where(row, c)) for row, v in enumerate(values))
            for c, values in shown.items()
        }
    for channel, values in readings.items():
        for row, value in enumerate(values):
            check_density(value, table.where(row, channel), scale.by_meter)
    column, positions = listing(table, listed_by, settings)
    exposures = tuple(_words(table, EXPOSURE_COLUMN))
    return StripTable(
        table.name,
        column,
        positions,
        readings,
        table.places,
        of_frames=of_frames,
        exposures=exposures,
        shown=shown if scale.by_meter else {},
    )


def _words(table: Table, column: str) -> list[str]:
    """Return a column of words without spaces around them; empty where there is no such column."""
    return [text.strip() for text in table.texts(column)] if column in table.header else []


def _judgements(table: Table) -> tuple[Judgement | None, ...]:
    """Return the judgement of each row, None where the cell is empty; empty where there is no such column.

    Raises:
        RecordError: a cell holds another word; names the nearest judgement.
    """
    known: dict[str, Judgement] = {judgement: judgement for judgement in JUDGEMENTS}
    found: list[Judgement | None] = []
    for row, text in enumerate(_words(table, "judgement")):
        judgement = known.get(" ".join(text.casefold().split()))
        if text and judgement is None:
            hint = nearest(text, JUDGEMENTS)
            raise RecordError(
                f"'{text}' is not a judgement",
                where=table.where(row, "judgement"),
                needed=" or ".join(JUDGEMENTS) + ", or an empty cell where the frame was not judged",
                hint=hint if hint.startswith("write") else "",
            )
        found.append(judgement)
    return tuple(found)


def converted(reading: float, scale: ReaderScale, where: str) -> float:
    """Return the density that a reading stands for [density].

    Raises:
        RecordError: no light gives the reading.
    """
    try:
        return scale.density(reading, where)
    except StripError as error:
        raise RecordError(error.what, where=where, needed=error.needed) from error


def listing(
    table: Table, listed_by: Sequence[Position], settings: Sequence[str] = ()
) -> tuple[Position, tuple[float, ...]]:
    """Return the column that says which step each row is, and its numbers.

    Args:
        table, listed_by, settings: as `strip_table_of` has them.

    Raises:
        RecordError: none of the columns is there, or several, or a cell does not hold a position.
    """
    there: list[Position] = [p for p in POSITIONS if p in table.header]
    needed = " or ".join(listed_by)
    if not there:
        raise RecordError("no column says which step a row is", where=table.name, needed=f"a column {needed}")
    if len(there) > 1:
        raise RecordError(
            f"{' and '.join(there)} both say which step a row is",
            where=table.name,
            needed=f"one of them: {' or '.join(p for p in there if p in listed_by) or needed}",
        )
    numbers = table.numbers(there[0])
    for row, value in enumerate(numbers):
        check_position(there[0], value, table.where(row, there[0]), settings)
    return there[0], tuple(numbers)
