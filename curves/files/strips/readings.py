"""The readings of a strip out of a table: positions and densities, checked against how the strip was exposed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.cells import check_density, check_position
from curves.files.base.strip_table import StripTable
from curves.files.base.tables import Table, read_table
from curves.sensitometry.core.units import CHANNELS, FEWEST_STEPS, Channel, DensityKind, FloatArray
from curves.sensitometry.strip.exposure import POSITIONS, Exposure, Frames, Position
from curves.sensitometry.strip.wedge import Wedge


@dataclass(frozen=True, eq=False)
class Readings:
    """The readings of a strip.

    Attributes:
        position: steps, stops or log H of each row, (rows,).
        densities: by channel, (rows,), NaN where not read [density].
        labels: what to call each row.
    """

    position: FloatArray
    densities: Mapping[Channel, FloatArray]
    labels: tuple[str, ...]


def read_readings(path: Path, exposure: Exposure, wedge: Wedge | None, density: DensityKind) -> Readings:
    """Read a hand-written table of readings for a strip exposed as ``exposure`` says.

    Args:
        path: the table: a column step, stops, ei or log_h, and any of red, green, blue, visual.
        exposure: how the strip was exposed; tells which column is needed.
        wedge: the wedge, to check step numbers.
        density: the kind of density, to check the channels.

    Raises:
        RecordError: says file, line, column, what is needed and what to try.
    """
    return readings_of(read_strip_table(path, exposure), exposure, wedge, density)


def read_strip_table(path: Path, exposure: Exposure | None) -> StripTable:
    """Read a hand-written table of readings.

    Args:
        path: the table.
        exposure: how the strip was exposed; tells which column is needed. None if that is not known.

    Raises:
        RecordError: the table cannot be understood.
    """
    table = read_table(path, (*POSITIONS, *CHANNELS))
    channels = [c for c in CHANNELS if c in table.header]
    if not channels:
        raise RecordError("no column holds densities", where=path.name, needed="any of red, green, blue, visual")
    readings = {c: tuple(table.numbers(c)) for c in channels}
    for channel, values in readings.items():
        for row, value in enumerate(values):
            check_density(value, table.where(row, channel))
    column = _position_column(table, exposure)
    places = tuple(f"{path.name}, line {line}" for line in table.lines)
    return StripTable(path.name, column, tuple(table.numbers(column)), readings, places)


def readings_of(
    table: StripTable, exposure: Exposure | None, wedge: Wedge | None, density: DensityKind | None
) -> Readings:
    """Return the readings of a strip's table.

    Args:
        table: the table, hand-written or from elsewhere.
        exposure: how the strip was exposed; None if that is not known.
        wedge: the wedge, to check step numbers; None if there is none, or if it is not known.
        density: the kind of density, to check the channels; None if that is not known.

    Raises:
        RecordError: the table does not fit the exposure, the wedge or the kind of density, or holds too few steps.
    """
    if density == "visual" and list(table.readings) != ["visual"]:
        raise RecordError(
            f'the record says density = "visual", but there is a column {next(iter(table.readings))}',
            where=table.name,
            needed='a column visual alone, or density = "status A", "status M" or "scan"',
        )
    found = {channel: np.array(values) for channel, values in table.readings.items()}
    for channel, values in found.items():
        if not np.isfinite(values).any():
            raise RecordError(
                f"the column {channel} holds no reading", where=table.name, hint="remove the column, or read it"
            )
    _refuse_other_column(table.column, exposure, table.name)
    position, labels = _positions(
        table.column, table.positions, exposure, wedge, lambda row: f"{table.places[row]}, {table.column}"
    )
    different = max((np.unique(position[np.isfinite(values)]).size for values in found.values()), default=0)
    if different < FEWEST_STEPS:
        raise RecordError(
            f"only {different} different steps were read",
            where=table.name,
            needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
        )
    return Readings(position, found, labels)


def positions_of(table: Table, exposure: Exposure, wedge: Wedge | None) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the position of each row of a table, as `Readings` holds it, and what to call it.

    Args:
        table: any that lists a strip's rows by step, stops, ei or log_h.
        exposure: how the strip was exposed; tells which column is needed.
        wedge: the wedge, to check step numbers.

    Raises:
        RecordError: no column, or the wrong one, says which step a row is, or a cell of it makes no sense.
    """
    column = _position_column(table, exposure)
    return _positions(column, table.numbers(column), exposure, wedge, lambda row: table.where(row, column))


def _position_column(table: Table, exposure: Exposure | None) -> Position:
    there: list[Position] = [p for p in POSITIONS if p in table.header]
    needed = " or ".join(POSITIONS if exposure is None else exposure.positions)
    if not there:
        raise RecordError("no column says which step a row is", where=table.path.name, needed=f"a column {needed}")
    if len(there) > 1:
        raise RecordError(
            f"{' and '.join(there)} both say which step a row is",
            where=table.path.name,
            needed=f"one of them: {needed}",
        )
    _refuse_other_column(there[0], exposure, table.path.name)
    return there[0]


def _refuse_other_column(column: Position, exposure: Exposure | None, name: str) -> None:
    if exposure is not None and column not in exposure.positions:
        raise RecordError(
            f"rows are listed by {column}, but the exposure was made by another method",
            where=name,
            needed=f"a column {' or '.join(exposure.positions)}",
            hint="mend the column's name, or the method in the record",
        )


def _positions(
    column: Position,
    numbers: Sequence[float],
    exposure: Exposure | None,
    wedge: Wedge | None,
    where: Callable[[int], str],
) -> tuple[FloatArray, tuple[str, ...]]:
    for row, value in enumerate(numbers):
        check_position(column, value, where(row))
        if column == "step" and wedge is not None and value > wedge.steps:
            raise RecordError(
                f"the wedge has {wedge.steps} steps, so there is no step {value:g}",
                where=where(row),
                needed=f"a step from 1 to {wedge.steps}",
            )
    values = np.array(numbers, dtype=np.float64)
    if column == "ei":
        labels = tuple(f"EI {v:g}" for v in values)
        return exposure.stops_of_ei(values) if isinstance(exposure, Frames) else values, labels
    if column == "stops":
        return values, tuple(f"{v:+g} stop{'' if abs(v) == 1 else 's'}" for v in values)
    word = {"step": "step", "log_h": "log H"}[column]
    return values, tuple(f"{word} {v:g}" for v in values)
