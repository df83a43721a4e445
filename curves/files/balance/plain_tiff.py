"""Pictures written as plain TIFF of 16 bits, some rows at a time, so that a picture of any size takes little memory.

The tags are those of TIFF, revision 6.0 (1992); from 4 GB on the file is a BigTIFF. Nothing is packed.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from curves.errors import OutputError
from curves.files.base.writing import write_atomically

_STRIP = 4_000_000
"""Size of the strips that pictures are written in: our own choice [bytes]."""

_CLASSIC = 4_000_000_000
"""Size from which a file is a BigTIFF [bytes]."""

_MOST_PARTS = 250_000
_SHORT, _LONG, _RATIONAL, _UNDEFINED, _LONG8 = 3, 4, 5, 7, 16
_CODES = {_SHORT: ("H", 1), _LONG: ("I", 1), _RATIONAL: ("I", 2), _UNDEFINED: ("B", 1), _LONG8: ("Q", 1)}


@dataclass(frozen=True)
class TiffHeader:
    """The facts of a picture to be written.

    Attributes:
        width, height: of the picture [pixels].
        samples: 1 (grey) or 3 (red, green, blue).
        dpi: resolution [pixels per inch]; None if it is not known.
        profile: a colour profile (ICC.1), as the picture came with it; empty if it came without.
    """

    width: int
    height: int
    samples: int
    dpi: float | None
    profile: bytes

    @property
    def rows(self) -> int:
        """The rows of a strip [pixels]."""
        row = 2 * self.width * self.samples
        return min(self.height, max(1, _STRIP // row, -(-self.height // _MOST_PARTS)))


def write_tiff(path: Path, header: TiffHeader, blocks: Iterator[NDArray[np.uint16]]) -> None:
    """Write a picture of 16 bits that is not there yet, or that a killed run left with the same contents.

    At any moment no file or the whole file exists.

    Args:
        path: the file.
        header: what it says of the picture.
        blocks: the picture's rows from the top, some at a time, (rows, width, samples).

    Raises:
        OutputError: the file is there with other contents, or could not be written.
    """

    def fill(file: BinaryIO) -> None:
        for part in _parts(header, blocks):
            file.write(part)

    if not os.path.lexists(path):
        write_atomically(path, fill)
    elif not path.is_file() or not _holds(path, _parts(header, blocks)):
        raise OutputError("there is already such a file", where=str(path), hint="give another name", settings=("into",))


def _parts(header: TiffHeader, blocks: Iterator[NDArray[np.uint16]]) -> Iterator[bytes | memoryview]:
    """Yield the contents of a picture's file, some at a time."""
    yield _start(header)
    for block in blocks:
        yield np.ascontiguousarray(block, "<u2").data.cast("B")


def _holds(path: Path, parts: Iterator[bytes | memoryview]) -> bool:
    """Return True if a file has exactly these contents."""
    with path.open("rb") as file:
        return all(file.read(len(part)) == part for part in parts) and not file.read(1)


def _start(header: TiffHeader) -> bytes:
    """Return all that stands before the values: header, directory, and what the directory points to."""
    row = 2 * header.width * header.samples
    big = row * header.height > _CLASSIC
    sizes = [row * min(header.rows, header.height - top) for top in range(0, header.height, header.rows)]
    before = 0
    # The values begin behind the directory, whose length does not depend on where they begin.
    for _ in range(2):
        starts = before + np.concatenate([[0], np.cumsum(sizes[:-1], dtype=np.int64)])
        start = _directory(_tags(header, starts.tolist(), sizes, _LONG8 if big else _LONG), big)
        before = len(start)
    return start


def _tags(header: TiffHeader, starts: list[int], sizes: list[int], whole: int) -> list[tuple[int, int, list[int]]]:
    """Return tags, their types and values, by rising tag."""
    grey = header.samples == 1
    tags = [
        (256, _LONG, [header.width]), (257, _LONG, [header.height]), (258, _SHORT, [16] * header.samples),
        (259, _SHORT, [1]), (262, _SHORT, [1 if grey else 2]), (273, whole, starts), (277, _SHORT, [header.samples]),
        (278, _LONG, [header.rows]), (279, whole, sizes),
    ]  # fmt: skip
    if header.dpi is not None:
        dpi = Fraction(header.dpi).limit_denominator(10_000)
        tags += [(tag, _RATIONAL, [dpi.numerator, dpi.denominator]) for tag in (282, 283)]
    tags += [(284, _SHORT, [1])]
    if header.dpi is not None:
        tags += [(296, _SHORT, [2])]
    if header.profile:
        tags += [(34675, _UNDEFINED, list(header.profile))]
    return tags


def _directory(tags: list[tuple[int, int, list[int]]], big: bool) -> bytes:
    """Return the head of a file with one directory, padded to whole words."""
    head = struct.pack("<2sHHHQ", b"II", 43, 8, 0, 16) if big else struct.pack("<2sHI", b"II", 42, 8)
    count, place, room = ("<Q", "<Q", 8) if big else ("<H", "<I", 4)
    behind = len(head) + struct.calcsize(count) + len(tags) * (12 if not big else 20) + room
    entries, values = b"", b""
    for tag, kind, numbers in tags:
        letter, each = _CODES[kind]
        packed = struct.pack(f"<{len(numbers)}{letter}", *numbers)
        entries += struct.pack("<HHQ" if big else "<HHI", tag, kind, len(numbers) // each)
        if len(packed) <= room:
            entries += packed.ljust(room, b"\0")
        else:
            entries += struct.pack(place, behind + len(values))
            values += packed + b"\0" * (-len(packed) % 8)
    found = head + struct.pack(count, len(tags)) + entries + b"\0" * room + values
    return found + b"\0" * (-len(found) % 8)
