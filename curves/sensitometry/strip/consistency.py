"""Rules that the rows of every strip keep: positions, readings, and the exposure that gives them log H."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import (
    CHANNELS,
    FEWEST_STEPS,
    LEAST_READING,
    MOST_READING,
    Channel,
    DensityKind,
    FloatArray,
)
from curves.sensitometry.core.values import READING, Numbers, number, numbers, word
from curves.sensitometry.strip.exposure import JUDGEMENTS, Camera, Contact, Exposure, Frames, GivenExposure, Judgement
from curves.sensitometry.strip.wedge import Wedge


def checked_positions(positions: Numbers, title: str) -> FloatArray:
    """Return the position of each row as an array, (rows,), or raise StripError where one is not a number."""
    found = numbers(positions, f"{title}, position")
    if not np.isfinite(found).all():
        raise StripError("the position of a row is not a number", where=title)
    return found


def checked_readings(
    readings: Mapping[Channel, Numbers], position: FloatArray, density: DensityKind, title: str
) -> dict[Channel, FloatArray]:
    """Return the readings of each channel as arrays, (rows,) [density].

    Args:
        readings: densities by channel, None or NaN where not read.
        position: position of each row, (rows,).
        density: kind of density that was read.
        title: what the strip is called in errors.

    Raises:
        StripError: a channel is not known or holds no reading, a reading is not one that an instrument shows, the
            channels are not of one length or do not go with the kind of density, or too few steps were read.
    """
    if not isinstance(readings, Mapping) or not readings:
        raise StripError("no channel was read", where=title, needed="at least one of " + ", ".join(CHANNELS))
    found: dict[Channel, FloatArray] = {}
    for name, given in readings.items():
        channel = word(name, CHANNELS, f"{title}, readings")
        found[channel] = _checked_channel(numbers(given, f"{title}, {channel}"), channel, position.size, title)
    if density == "visual" and set(found) != {"visual"}:
        raise StripError(
            f"visual density was read, but there is a channel {next(c for c in found if c != 'visual')}",
            where=title,
            needed='the channel visual alone, or density "status A", "status M" or "scan"',
        )
    different = max(len(set(position[np.isfinite(values)].tolist())) for values in found.values())
    if different < FEWEST_STEPS:
        raise StripError(
            f"only {different} different step{'s were' if different != 1 else ' was'} read",
            where=title,
            needed=f"at least {FEWEST_STEPS}, and eight or more for a curve worth quoting",
        )
    return found


def _checked_channel(values: FloatArray, channel: Channel, rows: int, title: str) -> FloatArray:
    """Return the readings of one channel, or raise StripError."""
    if values.size != rows:
        raise StripError(f"{channel} has {values.size} readings for {rows} rows", where=title)
    if not np.isfinite(values).any():
        raise StripError(f"{channel} holds no reading", where=title, hint="leave the channel out, or read it")
    for row in np.flatnonzero((values < LEAST_READING) | (values > MOST_READING)):
        number(float(values[row]), f"{title}, {channel}, row {row + 1}", READING)
    return values


def check_exposure(exposure: Exposure, wedge: Wedge | None, position: FloatArray, title: str) -> None:
    """Refuse a wedge that is missing, a wedge that no light went through, and steps that the wedge does not have.

    Raises:
        StripError: says which of these.
    """
    if isinstance(exposure, GivenExposure) and exposure.pieces and len(exposure.pieces.of_row) != position.size:
        raise StripError(f"{len(exposure.pieces.of_row)} exposures are named for {position.size} rows", where=title)
    if not isinstance(exposure, Contact | Camera):
        if wedge is not None:
            raise StripError(
                "there is a wedge, but the exposure did not go through one",
                where=title,
                needed="a wedge with Contact or Camera only",
            )
        return
    if wedge is None:
        raise StripError(
            "exposed through a wedge, but no wedge is described",
            where=title,
            needed="wedge=Wedge.nominal(21, 0.15), or the densities of a calibrated one",
        )
    for step in [*position, *([exposure.metered_step] if isinstance(exposure, Camera) else [])]:
        if step != int(step) or not 1 <= step <= wedge.steps:
            raise StripError(f"there is no step {step:g}", where=title, needed=f"whole steps from 1 to {wedge.steps}")


def checked_judgements(
    judgements: Sequence[str | None], exposure: Exposure, rows: int, title: str
) -> tuple[Judgement | None, ...]:
    """Return the judgement of each row, None where a frame was not judged; empty where no frame was.

    Raises:
        StripError: a word is not known, there are not as many as rows, or the rows are not frames.
    """
    if not any(judgements):
        return ()
    if not isinstance(exposure, Frames):
        raise StripError("judgements belong to frames", where=title, needed="an exposure by Frames, or no judgements")
    if len(judgements) != rows:
        raise StripError(f"{len(judgements)} judgements for {rows} rows", where=title)
    return tuple(None if each is None else word(each, JUDGEMENTS, f"{title}, judgements") for each in judgements)


def by_channel(readings: Any, title: str) -> dict[Any, FloatArray]:
    """Return readings as an array for each channel: a mapping's or a table's own, or visual for a single list.

    Args:
        readings: a mapping, a table with columns (such as pandas has) or a single list.
        title: what the strip is called in errors.
    """
    table = readings if isinstance(readings, Mapping) or hasattr(readings, "columns") else {"visual": readings}
    return {channel: numbers(values, f"{title}, {channel}") for channel, values in table.items()}


def every_step(rows: int, exposure: Exposure, wedge: Wedge | None, title: str) -> FloatArray:
    """Return the steps of a wedge of which every step was read, in order, (rows,).

    Raises:
        StripError: there are fewer or more readings than steps, or no steps: the positions must be given.
    """
    known = wedge.steps if isinstance(wedge, Wedge) else rows
    if isinstance(exposure, Contact | Camera) and known == rows:
        return np.arange(1.0, rows + 1.0)
    counted = f" for a wedge of {known} steps" if known != rows else ""
    raise StripError(
        f"there are {rows} readings{counted}, and no positions",
        where=title,
        needed=f"positions: the {exposure.positions[0].replace('_h', ' H')} of each reading",
    )
