"""The readings of a strip out of a table: positions and densities, checked against how the strip was exposed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.base.strip_table import EXPOSURE_COLUMN, FRAME_COLUMNS, StripTable, listing, strip_table_of
from curves.files.base.tables import Table, read_table
from curves.files.strips.stacks import blank, of_stack
from curves.sensitometry.core.reader_units import DENSITOMETER, ReaderScale
from curves.sensitometry.core.units import CHANNELS, FEWEST_STEPS, Channel, DensityKind, FloatArray
from curves.sensitometry.strip.exposure import POSITIONS, Exposure, Frames, GivenExposure, Judgement, Position
from curves.sensitometry.strip.wedge import Wedge


@dataclass(frozen=True, eq=False)
class Readings:
    """The readings of a strip.

    Attributes:
        position: steps, stops or log H of each row, (rows,).
        densities: by channel, (rows,), NaN where not read [density].
        labels: what to call each row.
        judgements: what the eye made of each row's frame, None where it was not judged; empty where none was.
        stack: what was in front of the lens, an empty text for nothing; None where the table does not tell.
        exposures: the exposure of a joined strip that each row belongs to; empty for any other strip.
    """

    position: FloatArray
    densities: Mapping[Channel, FloatArray]
    labels: tuple[str, ...]
    judgements: tuple[Judgement | None, ...]
    stack: str | None
    exposures: tuple[str, ...]


def read_strip_table(path: Path, exposure: Exposure | None, scale: ReaderScale = DENSITOMETER) -> StripTable:
    """Read a hand-written table of readings.

    Args:
        path: the table: a column step, stops, ei or log_h, and any of red, green, blue, visual.
        exposure: how the strip was exposed; tells which column is needed. None if that is not known.
        scale: the scale on which the strip was read.

    Raises:
        RecordError: the table cannot be understood.
    """
    table = read_table(path, (*POSITIONS, *CHANNELS, *FRAME_COLUMNS, EXPOSURE_COLUMN))
    return strip_table_of(table, POSITIONS if exposure is None else exposure.positions, scale=scale)


def readings_of(
    table: StripTable,
    exposure: Exposure | None,
    wedge: Wedge | None,
    density: DensityKind | None,
    stack: str | None = None,
) -> Readings:
    """Return the readings of a strip's table; of a table of frames, those of one stack.

    Args:
        table: the table, hand-written or from elsewhere.
        exposure: how the strip was exposed; None if that is not known.
        wedge: the wedge, to check step numbers; None if there is none, or if it is not known.
        density: the kind of density, to check the channels; None if that is not known.
        stack: the stack whose frames are taken, an empty text for no filter; None for all frames of a table that has
            one stack.

    Raises:
        RecordError: the table does not fit the exposure, the wedge or the kind of density, or holds too few steps.
    """
    if exposure is not None and not isinstance(exposure, Frames) and any(table.of_frames.judgements):
        raise RecordError(
            "there are judgements, but the strip is not a bracket of frames",
            where=f"{table.name}, judgement",
            needed="an empty column, or the method frames in the record",
        )
    table, stack = of_stack(table, stack)
    if table.positions and table.readings and not any(table.of_frames.judgements) and not _read(table.readings):
        raise blank(table)
    judgements = table.of_frames.judgements if any(table.of_frames.judgements) else ()
    if judgements:
        table = replace(table, readings=_read(table.readings))
    if density == "visual" and table.readings and list(table.readings) != ["visual"]:
        raise RecordError(
            f'the record says density = "visual", but there is a column {next(iter(table.readings))}',
            where=table.name,
            needed='a column visual alone, or density = "status A", "status M" or "scan"',
        )
    densities = {channel: np.array(values) for channel, values in table.readings.items()}
    for channel, values in densities.items():
        if not np.isfinite(values).any():
            raise RecordError(
                f"the column {channel} holds no reading", where=table.name, hint="remove the column, or read it"
            )
    position, labels = _positions(table.name, table.places, table.column, table.positions, exposure, wedge)
    different = max((len(set(position[np.isfinite(values)].tolist())) for values in densities.values()), default=0)
    if densities and different < FEWEST_STEPS:
        raise RecordError(
            f"only {different} different step{'s were' if different != 1 else ' was'} read",
            where=table.name,
            needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
            hint="empty the columns of densities, to go by the judgements alone" if judgements else "",
        )
    if table.of_frames.numbers:
        numbered = zip(table.of_frames.numbers, labels, strict=True)
        labels = tuple(f"frame {number} ({label})" if number else label for number, label in numbered)
    if table.exposures:
        _check_exposures(table, exposure)
        labels = tuple(f"{name}, {label}" for name, label in zip(table.exposures, labels, strict=True))
    return Readings(position, densities, labels, judgements, stack, table.exposures)


def _check_exposures(table: StripTable, exposure: Exposure | None) -> None:
    """Refuse rows of a joined strip that do not say which exposure they belong to, or whose log H is not listed.

    Raises:
        RecordError: says which row, or what the record must state.
    """
    if exposure is not None and not isinstance(exposure, GivenExposure):
        raise RecordError(
            "a column names the exposure of each row, but the record states a single one",
            where=f"{table.name}, {EXPOSURE_COLUMN}",
            needed="no such column, or the method given and a column log_h",
        )
    for place, name in zip(table.places, table.exposures, strict=True):
        if not name:
            raise RecordError(
                "the exposure of this row is not named",
                where=f"{place}, {EXPOSURE_COLUMN}",
                needed="a name in each row",
            )
    if len(set(table.exposures)) < 2:
        raise RecordError(
            "all rows belong to one exposure",
            where=f"{table.name}, {EXPOSURE_COLUMN}",
            needed="two exposures or more",
            hint="remove the column",
        )


def _read(readings: Mapping[Channel, tuple[float, ...]]) -> dict[Channel, tuple[float, ...]]:
    """Return the channels that hold a reading: of frames that were only judged, none."""
    return {channel: values for channel, values in readings.items() if not all(map(math.isnan, values))}


def positions_of(table: Table, exposure: Exposure, wedge: Wedge | None) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the position of each row of a table, as `Readings` holds it, and what to call it.

    Args:
        table: any that lists a strip's rows by step, stops, ei or log_h.
        exposure: how the strip was exposed; tells which column is needed.
        wedge: the wedge, to check step numbers.

    Raises:
        RecordError: no column, or the wrong one, says which step a row is, or a cell of it makes no sense.
    """
    column, numbers = listing(table, exposure.positions)
    return _positions(table.name, table.places, column, numbers, exposure, wedge)


def _positions(
    name: str,
    places: Sequence[str],
    column: Position,
    numbers: Sequence[float],
    exposure: Exposure | None,
    wedge: Wedge | None,
) -> tuple[FloatArray, tuple[str, ...]]:
    if exposure is not None and column not in exposure.positions:
        raise RecordError(
            f"rows are listed by {column}, but the exposure was made by another method",
            where=name,
            needed=f"a column {' or '.join(exposure.positions)}",
            hint="mend the column's name, or the method in the record",
        )
    values = np.array(numbers, dtype=np.float64)
    for place, value in zip(places, numbers, strict=True):
        if wedge is not None and column == "step" and value > wedge.steps:
            raise RecordError(
                f"the wedge has {wedge.steps} steps, so there is no step {value:g}",
                where=f"{place}, {column}",
                needed=f"a step from 1 to {wedge.steps}",
            )
    if column == "ei":
        labels = tuple(f"EI {v:g}" for v in values)
        return exposure.stops_of_ei(values) if isinstance(exposure, Frames) else values, labels
    if column == "stops":
        return values, tuple(f"{v:+g} stop{'' if abs(v) == 1 else 's'}" for v in values)
    word = {"step": "step", "log_h": "log H"}[column]
    return values, tuple(f"{word} {v:g}" for v in values)


def csv_text(column: Position, rows: Sequence[tuple[float, Mapping[Channel, float]]], usual: Sequence[Channel]) -> str:
    """Return readings as a table (CSV) that `read_strip_table` reads; a channel that was not read has no column.

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


def check_readings(rows: Sequence[tuple[float, Mapping[Channel, float]]], path: Path) -> None:
    """Read a table of readings, and refuse the table if the rows that were meant do not come back.

    Raises:
        RecordError: a row does not come back as it was meant.
    """
    table = read_table(path, (*POSITIONS, *CHANNELS))
    columns = [(c, table.numbers(c)) for c in table.header]
    found = [{c: values[row] for c, values in columns if not math.isnan(values[row])} for row in range(len(table.rows))]
    if found != [{columns[0][0]: position, **densities} for position, densities in rows]:
        raise RecordError("a row would be lost or changed", where=path.name)


def _density_text(value: float) -> str:
    """Return a density with two decimals, or as many as it has."""
    text = f"{value:.2f}"
    return text if float(text) == value else repr(value)
