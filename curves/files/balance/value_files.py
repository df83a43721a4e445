"""The map of a picture's numbers in the Common LUT Format, an open standard (SMPTE ST 2136-1), and as CSV."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from io import StringIO
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from curves.files.base.writing import refuse_other, write_atomically
from curves.sensitometry.balance.picture_values import ValueTable

_NAMESPACE = "urn:AMPAS:CLF:v3.0"
_VERSION = "3.0"


def write_value_files(lut: Path | None, csv: Path | None, table: ValueTable, title: str, notes: Sequence[str]) -> None:
    """Write the files of a map that are asked for; none replaces a file that is there with other contents.

    Args:
        lut, csv: the files; None where none is asked for.
        table: the map.
        title: the film, in words.
        notes: what must be known about the map, each a sentence; they stand in the file of the Common LUT Format.

    Raises:
        OutputError: there is another such file already, or it could not be written.
    """
    texts = {lut: common_lut(table, title, notes) if lut else "", csv: values_text(table) if csv else ""}
    # A run that was killed after the first file left it: it is taken for this run's own.
    new = [(path, text) for path, text in texts.items() if path is not None and not refuse_other(path, text)]
    for path, text in new:
        write_atomically(path, text)


def common_lut(table: ValueTable, title: str, notes: Sequence[str]) -> str:
    """Return a map as the Common LUT Format has it: one LUT1D with an entry for each number that a picture can hold.

    Args:
        table, title, notes: as `write_value_files` has them.
    """
    descriptions = "".join(f"  <Description>{escape(text)}</Description>\n" for text in (title, *notes))
    words = f"{' '.join(table.channels)}, numbers encoded {table.encoding.name}"
    numbers = _lines(table.values, " ")
    name = uuid.uuid5(uuid.NAMESPACE_OID, title + numbers)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<ProcessList xmlns="{_NAMESPACE}" id="urn:uuid:{name}" name={quoteattr(title)}'
        f' compCLFversion="{_VERSION}">\n{descriptions}'
        f"  <InputDescriptor>{escape(f'scan of the film: {words}')}</InputDescriptor>\n"
        f"  <OutputDescriptor>{escape(f'greys neutral: {words}')}</OutputDescriptor>\n"
        '  <LUT1D inBitDepth="16i" outBitDepth="16i" interpolation="linear">\n'
        f'    <Array dim="{len(table.values)} {len(table.channels)}">\n{numbers}    </Array>\n'
        "  </LUT1D>\n</ProcessList>\n"
    )


def values_text(table: ValueTable) -> str:
    """Return a map as CSV: each number of the picture, and what it becomes in each channel."""
    places = np.arange(len(table.values))[:, None]
    return ",".join(["number", *table.channels]) + "\n" + _lines(np.hstack([places, table.values]), ",")


def _lines(numbers: np.ndarray[tuple[int, ...], np.dtype[np.integer]], between: str) -> str:
    """Return rows of whole numbers, a line each."""
    text = StringIO()
    np.savetxt(text, numbers, fmt="%d", delimiter=between)
    return text.getvalue()
