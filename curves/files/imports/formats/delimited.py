"""Delimited text in any dialect: every delimiter is tried, and all that hold up must give the same numbers."""

from __future__ import annotations

from collections.abc import Iterator

from curves.errors import RecordError
from curves.files.base.grids import DELIMITERS, Grid, separated
from curves.files.base.strip_table import StripTable
from curves.files.imports.layout import Misfit
from curves.files.imports.readers import TableDescription, TableFile
from curves.files.imports.ways import read_grids, with_remarks


def recognises(file: TableFile) -> bool:
    """Return True for any text."""
    return bool(file.decoded[1])


def read(file: TableFile, description: TableDescription) -> StripTable:
    """Return the strip's table that a delimited text holds.

    Raises:
        RecordError: the text cannot be read, or in more than one way; says what would decide.
    """
    found, encoding = read_grids(_grids(file, description), description, file.name), file.decoded[1]
    return with_remarks(found, () if encoding == "UTF-8" else (f"The text is {encoding}.",))


def _grids(file: TableFile, description: TableDescription) -> Iterator[Grid | Misfit]:
    """Yield the text's cells by every delimiter that may separate them."""
    for delimiter, sign in DELIMITERS.items():
        if description.delimiter in (None, delimiter) and sign in file.text:
            try:
                yield separated(file.text, delimiter, file.name)
            except RecordError as error:
                yield Misfit(0, error)
