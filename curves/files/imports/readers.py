"""The readers of tables from elsewhere: one row for each format, one module of `files.imports.formats` for each reader.

A reader's module has two functions:

    recognises(file: TableFile) -> bool                                         is the file of this format?
    read(file: TableFile, description: TableDescription) -> StripTable          its readings, or a RecordError

`import`, `measure` and `check` read by this table, and the help texts list it. The modules are loaded when they are
needed, so that help needs none of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curves.files.base.strip_table import StripTable
    from curves.files.imports.description import TableDescription


@dataclass(frozen=True)
class TableFile:
    """A file that may hold a table.

    Attributes:
        path: where it lies.
        content: its bytes.
    """

    path: Path
    content: bytes

    @classmethod
    def of(cls, path: Path) -> TableFile:
        """Return a file with its content.

        Raises:
            RecordError: there is no such file, or the file cannot be read.
        """
        from curves.files.base.grids import read_content

        return cls(path, read_content(path))

    @property
    def name(self) -> str:
        """The file's name, for errors."""
        return self.path.name

    @property
    def text(self) -> str:
        """The content as text; a RecordError where it is not text."""
        return self._decoded[0]

    @property
    def encoding(self) -> str:
        """The name of the text's encoding; a RecordError where the content is not text."""
        return self._decoded[1]

    @cached_property
    def _decoded(self) -> tuple[str, str]:
        from curves.files.base.grids import decode

        return decode(self.content, self.name)


@dataclass(frozen=True)
class Reader:
    """A reader of tables from elsewhere.

    Attributes:
        name: the format, as help texts list it.
        endings: of the names that such files bear; a folder is searched for them.
        module: the module of `files.imports.formats` that reads them.
    """

    name: str
    endings: tuple[str, ...]
    module: str

    def recognises(self, file: TableFile) -> bool:
        """Return whether a file is of this format."""
        return bool(import_module(f"{__package__}.formats.{self.module}").recognises(file))

    def read(self, file: TableFile, description: TableDescription) -> StripTable:
        """Return the strip's table that a file of this format holds.

        Raises:
            RecordError: the file cannot be read, or in more than one way; says what would decide.
        """
        table: StripTable = import_module(f"{__package__}.formats.{self.module}").read(file, description)
        return table


READERS = (
    Reader("a workbook", (".xlsx", ".xlsm"), "workbook"),
    Reader("exchange text of ISO 28178", (".txt",), "cgats"),
    Reader("delimited text", (".csv", ".tsv", ".txt"), "delimited"),
)
"""Every reader. The first that recognises a file reads it, so that formats other than text come first; the last one
takes any text."""


def import_table(path: Path, description: TableDescription | None = None) -> StripTable:
    """Read a table from elsewhere.

    Args:
        path: the file.
        description: what the person says of it; nothing if None.

    Raises:
        RecordError: the file cannot be read, or in more than one way; says what would decide.
    """
    from curves.files.imports.description import TableDescription

    file = TableFile.of(path)
    return reader_of(file).read(file, description or TableDescription())


def reader_of(file: TableFile) -> Reader:
    """Return the reader that recognises a file.

    Raises:
        RecordError: the content is not text, and no reader of another format recognises it.
    """
    return next(reader for reader in READERS if reader.recognises(file))


def has_format(path: Path) -> bool:
    """Return whether a file is of a format of its own, other than delimited text, that a reader recognises."""
    from curves.errors import RecordError

    if path.suffix.lower() not in (ending for reader in READERS[:-1] for ending in reader.endings):
        return False
    try:
        return reader_of(TableFile.of(path)) is not READERS[-1]
    except RecordError:
        return False


def formats() -> str:
    """Return the formats that can be read, for help texts."""
    return "; ".join(f"{reader.name}, {' or '.join(reader.endings)}" for reader in READERS)
