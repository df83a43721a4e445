"""The table of readings: positions and densities, checked against how the strip was exposed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.tables import Table, read_table
from curves.sensitometry.core.units import CHANNELS, FEWEST_STEPS, Channel, DensityKind, FloatArray
from curves.sensitometry.strip.exposure import POSITIONS, Exposure, Frames, Position
from curves.sensitometry.strip.wedge import Wedge

LEAST_READING, MOST_READING = -0.05, 15.0
"""A density outside these is no reading: common practice of the instruments [density]."""


@dataclass(frozen=True, eq=False)
class Readings:
    """What a table of readings holds.

    Attributes:
        position: steps, stops or log H of each row, (rows,).
        densities: by channel, (rows,), NaN where not read [density].
        labels: what the file calls each row.
    """

    position: FloatArray
    densities: Mapping[Channel, FloatArray]
    labels: tuple[str, ...]


def read_readings(path: Path, exposure: Exposure, wedge: Wedge | None, density: DensityKind | None) -> Readings:
    """Read a table of readings for a strip exposed as ``exposure`` says.

    Args:
        path: the table: a column step, stops, ei or log_h, and any of red, green, blue, visual.
        exposure: how the strip was exposed; tells which column is needed.
        wedge: the wedge, to check step numbers.
        density: the kind of density, to check the channels; None if not yet known.

    Raises:
        RecordError: says file, line, column, what is needed and what to try.
    """
    table = read_table(path, (*POSITIONS, *CHANNELS))
    channels = [c for c in CHANNELS if c in table.header]
    if not channels:
        raise RecordError("no column holds densities", where=path.name, needed="any of red, green, blue, visual")
    if density == "visual" and channels != ["visual"]:
        raise RecordError(
            f'the record says density = "visual", but there is a column {channels[0]}',
            where=path.name,
            needed='a column visual alone, or density = "status A", "status M" or "scan"',
        )
    found = {c: _densities(table, c) for c in channels}
    for channel, values in found.items():
        if not np.isfinite(values).any():
            raise RecordError(
                f"the column {channel} holds no reading", where=path.name, hint="remove the column, or read it"
            )
    position, labels = positions_of(table, exposure, wedge)
    different = max(np.unique(position[np.isfinite(values)]).size for values in found.values())
    if different < FEWEST_STEPS:
        raise RecordError(
            f"only {different} different steps were read",
            where=path.name,
            needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
        )
    return Readings(position, found, labels)


def _position_column(table: Table, exposure: Exposure) -> Position:
    there: list[Position] = [p for p in POSITIONS if p in table.header]
    wanted = " or ".join(exposure.positions)
    if not there:
        raise RecordError("no column says which step a row is", where=table.path.name, needed=f"a column {wanted}")
    if len(there) > 1:
        raise RecordError(
            f"{' and '.join(there)} both say which step a row is",
            where=table.path.name,
            needed=f"one of them: {wanted}",
        )
    if there[0] not in exposure.positions:
        raise RecordError(
            f"rows are listed by {there[0]}, but the exposure was made by another method",
            where=table.path.name,
            needed=f"a column {wanted}",
            hint="mend the column's name, or the method in the record",
        )
    return there[0]


def _densities(table: Table, channel: Channel) -> FloatArray:
    values = table.numbers(channel)
    for row, value in enumerate(values):
        if value > MOST_READING:
            raise RecordError(
                f"{value:g} is no density",
                where=table.where(row, channel),
                needed="densities with their decimal point, such as 2.91",
                hint=f"if the instrument shows no point, divide by 100: {value / 100:.2f}",
            )
        if value < LEAST_READING:
            raise RecordError(
                f"{value:g} is below zero",
                where=table.where(row, channel),
                needed="densities counted from an empty gate, not from the base",
                hint="zero the instrument on an empty gate and read again",
            )
    return np.array(values)


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
    values = np.array(table.numbers(column))
    for row, value in enumerate(values):
        where = table.where(row, column)
        if np.isnan(value):
            raise RecordError(f"the cell of {column} is empty", where=where, needed=f"the {column} of every row")
        if column == "step" and value != int(value):
            raise RecordError(f"{value:g} is not a step number", where=where, needed="a whole number from 1")
        if column == "step" and wedge is not None and not 1 <= value <= wedge.steps:
            raise RecordError(
                f"the wedge has {wedge.steps} steps, so there is no step {value:g}",
                where=where,
                needed=f"a step from 1 to {wedge.steps}",
            )
        if column == "ei" and not value > 0:
            raise RecordError(f"{value:g} is not an exposure index", where=where, needed="a number above 0")
    if column == "ei":
        assert isinstance(exposure, Frames)
        return exposure.stops_of_ei(values), tuple(f"EI {v:g}" for v in values)
    if column == "stops":
        return values, tuple(f"{v:+g} stop{'' if abs(v) == 1 else 's'}" for v in values)
    word = {"step": "step", "log_h": "log H"}[column]
    return values, tuple(f"{word} {v:g}" for v in values)


def readings_text(
    column: Position, rows: Sequence[tuple[float, Mapping[Channel, float]]], usual: Sequence[Channel]
) -> str:
    """Return readings as a table (CSV) that `read_readings` reads; a channel that was not read has no column.

    Args:
        column: what the rows are listed by.
        rows: position and density by channel [density].
        usual: the channels of a table without rows.
    """
    channels = [c for c in CHANNELS if any(c in densities for _, densities in rows)] or list(usual)
    lines = [",".join([column, *channels])]
    for position, densities in rows:
        label = f"{position:.0f}" if position == int(position) else repr(position)
        lines.append(",".join([label, *(_density_text(densities[c]) if c in densities else "" for c in channels)]))
    return "\n".join(lines) + "\n"


def _density_text(value: float) -> str:
    """Return a density with two decimals, or as many as it has."""
    text = f"{value:.2f}"
    return text if float(text) == value else repr(value)
