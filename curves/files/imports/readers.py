"""The readers of tables from elsewhere, a row for each format: `import`, `measure` and `check` read by it.

A row names a module of `files.imports.formats` with two functions: ``recognises(file)`` says whether a file is of the
format, and ``read(file, description)`` returns its `StripTable`. The module is loaded when it is needed, so that help
texts can list the formats without it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from curves.errors import RecordError

if TYPE_CHECKING:
    from curves.files.base.strip_table import StripTable
    from curves.sensitometry.core.reader_units import ReaderScale
    from curves.sensitometry.core.units import DensityKind


@dataclass(frozen=True)
class TableFile:
    """A file that may hold a table: where it lies, and its bytes."""

    path: Path
    content: bytes

    @property
    def name(self) -> str:
        """The file's name, for errors."""
        return self.path.name

    @property
    def text(self) -> str:
        """The content as text; a RecordError where it is not text."""
        return self.decoded[0]

    @cached_property
    def decoded(self) -> tuple[str, str]:
        """The content as text, and the name of its encoding; a RecordError where it is not text."""
        from curves.files.base.grids import decode

        return decode(self.content, self.name)


@dataclass(frozen=True)
class TableDescription:
    """The description of a table by a person; None and empty where the table itself is to tell.

    Attributes:
        columns: what a column holds (step, stops, ei, log_h, sample, a channel), and the column's name, or its number
            from 1.
        delimiter: what separates the cells, a key of `DELIMITERS`.
        decimal: the sign before the decimals.
        steps: whether steps run down the file or across it.
        no_point: True if whole numbers are hundredths of density, False if they are densities.
        transmittance: the column of visual transmittance in per cent, its name or its number from 1: densities come
            of it.
        samples: the first and last of the samples that are the steps, as "GS0:GS23".
        first_end: the end of the wedge with which rows that have no step number begin.
        sheet: the sheet of a workbook.
        table: the number of a table in exchange text.
        density: the kind of density.
        scale: the scale on which the strip was read; a densitometer's if None.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    delimiter: str | None = None
    decimal: Literal["point", "comma"] | None = None
    steps: Literal["down", "across"] | None = None
    no_point: bool | None = None
    transmittance: str | None = None
    samples: str | None = None
    first_end: Literal["clear", "dark"] = "clear"
    sheet: str | None = None
    table: str | None = None
    density: DensityKind | None = None
    scale: ReaderScale | None = None


@dataclass(frozen=True)
class Reader:
    """A reader of tables from elsewhere.

    Attributes:
        name: the format, as help texts list it.
        endings: of the names of such files; a folder is searched for them.
        module: the module of `files.imports.formats` that reads them.
    """

    name: str
    endings: tuple[str, ...]
    module: str

    def recognises(self, file: TableFile) -> bool:
        """Return True if a file is of this format."""
        return bool(self._functions().recognises(file))

    def read(self, file: TableFile, description: TableDescription) -> StripTable:
        """Return the strip's table that a file of this format holds, or raise RecordError, which says what to give."""
        table: StripTable = self._functions().read(file, description)
        return table

    def _functions(self) -> Any:
        return import_module(f"{__package__}.formats.{self.module}")


READERS = (
    Reader("a workbook", (".xlsx", ".xlsm"), "workbook"),
    Reader("exchange text of ISO 28178", (".txt",), "cgats"),
    Reader("delimited text", (".csv", ".tsv", ".txt"), "delimited"),
)
"""Every reader. The first that recognises a file reads it: formats other than text come first, any text comes last."""


def import_table(path: Path, description: TableDescription | None = None) -> StripTable:
    """Read a table from elsewhere.

    Args:
        path: the file.
        description: what the person says of it; nothing if None.

    Raises:
        RecordError: the file cannot be read, or in more than one way; says what would decide.
    """
    file, reader = open_table(path)
    return reader.read(file, description or TableDescription())


def open_table(path: Path) -> tuple[TableFile, Reader]:
    """Return a file with its content, and the reader that recognises it.

    Raises:
        RecordError: there is no such file, or its content is not text, and no other reader recognises it.
    """
    from curves.files.base.grids import read_content

    file = TableFile(path, read_content(path))
    return file, next(reader for reader in READERS if reader.recognises(file))


def has_format(path: Path) -> bool:
    """Return True if a file is of a format of its own, other than delimited text."""
    if path.suffix.lower() not in (ending for reader in READERS[:-1] for ending in reader.endings):
        return False
    try:
        return open_table(path)[1] is not READERS[-1]
    except RecordError:
        return False


def formats() -> str:
    """Return the formats that can be read, for help texts."""
    return "; ".join(f"{reader.name}, {' or '.join(reader.endings)}" for reader in READERS)
