"""Workbooks (.xlsx): the one sheet that holds a strip's table."""

from __future__ import annotations

import io
import re
from typing import Any

from curves.errors import RecordError
from curves.files.base.grids import ARCHIVE, Grid
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import TableDescription, TableFile
from curves.files.imports.ways import read_part


def recognises(file: TableFile) -> bool:
    """Return True if a file is a workbook, by its first bytes or its name."""
    return file.content.startswith(ARCHIVE) or file.path.suffix.lower() in (".xlsx", ".xlsm")


def read(file: TableFile, description: TableDescription) -> StripTable:
    """Return the strip's table that a workbook holds.

    Raises:
        RecordError: no sheet can be read, or more than one, or a formula was never computed.
    """
    return read_part(_sheets(file), description, file.name, "sheet")[1]


def _sheets(file: TableFile) -> dict[str, Grid]:
    """Return the sheets that hold anything, by name."""
    try:
        import openpyxl
    except ImportError as error:
        raise RecordError(
            "reading a workbook needs the package openpyxl, which is not installed",
            where=file.name,
            hint="pip install openpyxl, or save the sheet as CSV",
        ) from error
    try:
        values, formulas = (
            openpyxl.load_workbook(io.BytesIO(file.content), data_only=computed) for computed in (True, False)
        )
    except Exception as error:  # whatever a damaged archive makes the reader stumble over
        raise RecordError(f"it is not a workbook that can be read: {error}", where=file.name) from error
    found = {}
    for sheet in values.worksheets:
        name = f"{file.name}, sheet {sheet.title}"
        for row in formulas[sheet.title].iter_rows():
            for cell in row:
                if cell.data_type == "f" and sheet[cell.coordinate].value is None:
                    raise RecordError(
                        f"cell {cell.coordinate} holds a formula that was never computed",
                        where=name,
                        hint="open the workbook in a spreadsheet, and save it again",
                    )
        rows = [[_cell(value) for value in row] for row in sheet.iter_rows(values_only=True)]
        lines = [number for number, row in enumerate(rows, start=1) if any(cell != "" for cell in row)]
        if lines:
            found[str(sheet.title)] = Grid.of(name, [rows[number - 1] for number in lines], lines)
    return found


def _cell(value: Any) -> str | float:
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300:
        return float(value)
    return "" if value is None else re.sub(r"\s+", " ", str(value)).strip()
