"""What a person says of a table from elsewhere, where the table itself does not tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from curves.sensitometry.core.units import DensityKind


@dataclass(frozen=True)
class TableDescription:
    """How a table is to be read; None and empty where the table is to tell.

    Attributes:
        columns: what a column holds (step, stops, ei, log_h, sample, a channel), and the column's name, or its number
            from 1.
        delimiter: what separates the cells, a key of `DELIMITERS`.
        decimal: the sign before the decimals.
        steps: whether steps run down the file or across it.
        no_point: True if whole numbers are hundredths of density, False if they are densities.
        samples: the first and last of the samples that are the steps, as "GS0:GS23".
        first_end: the end of the wedge with which rows that have no step number begin.
        sheet: the sheet of a workbook.
        table: the number of a table in exchange text.
        density: the kind of density.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    delimiter: str | None = None
    decimal: Literal["point", "comma"] | None = None
    steps: Literal["down", "across"] | None = None
    no_point: bool | None = None
    samples: str | None = None
    first_end: Literal["clear", "dark"] = "clear"
    sheet: str | None = None
    table: str | None = None
    density: DensityKind | None = None
