"""A strip's readings, row by row: what a table becomes, whether hand-written or from elsewhere."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from curves.sensitometry.core.units import CHANNELS, Channel, DensityKind
from curves.sensitometry.strip.exposure import Position


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

    def numbers(self) -> tuple[object, ...]:
        """Return all numbers of the table, so that two ways of reading a file can be compared."""
        by_channel = (tuple(None if math.isnan(v) else v for v in self.readings.get(c, ())) for c in CHANNELS)
        return (self.column, self.positions, *by_channel)
