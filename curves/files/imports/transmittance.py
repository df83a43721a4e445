"""Columns that hold no densities: what a table of colours has, and visual transmittance, of which densities come.

XYZ_Y of a transparent target, measured against an open gate, is its visual transmittance in per cent: visual density
is -log10(Y / 100) (ISO 5-2 and ISO 5-3; that Y has the weights of the eye is the definition of both).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from curves.errors import RecordError
from curves.files.base.cells import Cell, Decimal, text_in
from curves.files.base.tables import Table
from curves.files.imports.columns import meaning

_COLOUR = re.compile(
    r"(cie_?)?(xyz|xyy|lab|luv|lch|rgb|cmyk)[_ ]?[a-z]|[xyz]|cie[_ ]?[xyzlabuv]|[lab]\*|[uv]['\u2019\u2032]"
    r"|(spectral_|spec_|nm_?)[a-z]*_?[0-9]{3}|[0-9]{3} ?nm",
    re.IGNORECASE,
)
_TRANSMITTANCE = re.compile(r"((xyz|xyy|cie)[_ ]?)?y", re.IGNORECASE)
_MOST_PERCENT = 120.0
"""Greatest transmittance that a reading can show: noise and a scale that is off included [per cent]."""

_FRACTION = 1.02
"""Greatest number of a column of fractions: a clear film passes more than that many per cent [unitless]."""

_COARSE = 0.02
"""Rounding of a transmittance, as half a step of its last decimal, from which `import` warns of it [density]."""


def without_densities(name: str, rows: Sequence[Sequence[Cell]]) -> RecordError | None:
    """Return the refusal of a table whose columns have names and hold no densities; None where no row is of names.

    Args:
        name: file, and sheet or table, for errors.
        rows: the rows that may name columns.
    """
    for row in rows:
        names = [text for cell in row if isinstance(cell, str) and (text := cell.strip())]
        colours = [text for text in names if _COLOUR.fullmatch(text)]
        known = [text for text in names if meaning(text) is not None]
        if len(names) < 2 or not (len(colours) > 1 or known):
            continue
        listed = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
        luminous = next((text for text in colours if _TRANSMITTANCE.fullmatch(text)), None)
        if luminous is not None:
            return RecordError(
                f"the columns are {listed}: colours, and no densities",
                where=name,
                needed="columns of densities",
                hint=f"of a transparent target {luminous} is visual transmittance, of which visual density comes",
                settings=(f"transmittance={luminous}",),
            )
        other = next((text for text in names if text not in (*colours, *known)), None)
        verdict = "colours, and no densities" if colours else "none is known to hold densities"
        return RecordError(
            f"the columns are {listed}: {verdict}",
            where=name,
            needed="columns of densities: red, green, blue or visual",
            hint="" if other is None else "say which column holds them, if one does",
            settings=() if other is None else (f"columns=visual={other}",),
        )
    return None


def densities_of(table: Table, decimal: Decimal) -> tuple[Table, list[str]]:
    """Return a table whose visual column holds densities in place of transmittances, and sentences on what is odd.

    Args:
        table: its column visual holds transmittance, in per cent, or in fractions where no number is above 1.
        decimal: the sign before the decimals.

    Raises:
        RecordError: a cell is not a number, or is more than an open gate passes.
    """
    at, values = table.header.index("visual"), table.numbers("visual")
    greatest = max((v for v in values if not math.isnan(v)), default=math.nan)
    if greatest > _MOST_PERCENT:
        row = values.index(greatest)
        raise RecordError(
            f"{greatest:g} is more than an open gate passes",
            where=table.where(row, "visual"),
            needed="a transmittance in per cent, from 0 to 100",
        )
    full = 1.0 if greatest <= _FRACTION else 100.0
    dark = [row for row, value in enumerate(values) if value <= 0.0]
    densities = ["" if math.isnan(v) or v <= 0.0 else -math.log10(v / full) for v in values]
    doubtful = [
        f"Visual density comes of transmittance {'in per cent' if full > 1.0 else 'as a fraction'}: -log10 of the part"
        " of an open gate's light. It holds if the target is transparent and was measured against an open gate."
    ]
    if dark:
        doubtful.append(f"{len(dark)} cells show no light at all, the first at {table.places[dark[0]]}: not read.")
    shown = [
        (value, _last_decimal(row[at], decimal)) for row, value in zip(table.rows, values, strict=True) if value > 0
    ]
    least, step = min(shown, default=(1.0, 0.0))
    coarse = 0.5 * step / least / math.log(10.0)
    if coarse > _COARSE:
        doubtful.append(
            f"The least transmittance, {least:g}, has few decimals: its density is known to +/-{coarse:.2f} only."
        )
    rows = tuple((*row[:at], density, *row[at + 1 :]) for row, density in zip(table.rows, densities, strict=True))
    return replace(table, rows=rows), doubtful


def _last_decimal(cell: Cell, decimal: Decimal) -> float:
    """Return the value of the last decimal that a cell shows; zero where the file holds the number itself."""
    if not isinstance(cell, str):
        return 0.0
    _, sign, decimals = text_in(cell).partition("," if decimal == "comma" else ".")
    return 10.0 ** -len(decimals) if sign and decimals.isdigit() else 1.0 if not sign else 0.0
