"""The directories of a TIFF file: its tags, read strictly.

The layout is that of TIFF, revision 6.0 (1992), section 2, and of its 64-bit variant, BigTIFF. A general reader
mends what it can and fills what is missing; here a tag whose values are not all in the file is an error, the chain of
directories may not run in a circle, and only tags that are asked for are read.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.files.pictures.pixels import Bytes

# Field types that hold unsigned integers: BYTE, SHORT, LONG, IFD, LONG8, IFD8; and their size [bytes].
_UNSIGNED = {1: 1, 3: 2, 4: 4, 13: 4, 16: 8, 18: 8}
_SIZES = _UNSIGNED | {2: 1, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 17: 8}
_RATIONAL = 5
# Our own choices: more than these is no scan.
_MOST_DIRECTORIES = 256
_MOST_TAGS = 4096


@dataclass(frozen=True)
class Field:
    """One tag: its type, how many values it has, and where they stand in the file [bytes]."""

    kind: int
    count: int
    offset: int


@dataclass(frozen=True)
class Directory:
    """The tags of one picture in the file, by their numbers, and the bytes that the directory takes.

    Attributes:
        file: what they are read from.
        order: "<" (least significant byte first) or ">".
        fields: the tags.
        start, end: of the directory itself [bytes].
    """

    file: Bytes
    order: str
    fields: dict[int, Field]
    start: int
    end: int

    def __contains__(self, tag: int) -> bool:
        return tag in self.fields

    def integers(self, tag: int, most: int = 64) -> NDArray[np.uint64] | None:
        """Return a tag's values, 1-D; None if there is no such tag.

        Args:
            tag: its number.
            most: more values than this are an error.

        Raises:
            RecordError: they are no unsigned integers, too many, or not all in the file.
        """
        field = self.fields.get(tag)
        if field is None:
            return None
        if field.kind not in _UNSIGNED:
            raise self.file.damaged(f"tag {tag} holds no unsigned integers")
        if not 0 < field.count <= most:
            raise self.file.damaged(f"tag {tag} has {field.count} values, not 1 to {most}")
        size = _UNSIGNED[field.kind]
        raw = self.file.at(field.offset, field.count * size)
        return np.frombuffer(raw, dtype=f"{self.order}u{size}").astype(np.uint64)

    def integer(self, tag: int, default: int | None = None) -> int:
        """Return a tag's one value, or the default if there is no such tag.

        Raises:
            RecordError: it has several values, or it is missing and there is no default.
        """
        values = self.integers(tag, most=1)
        if values is not None:
            return int(values[0])
        if default is None:
            raise self.file.damaged(f"tag {tag} is missing")
        return default

    def rational(self, tag: int) -> float | None:
        """Return a tag's one fraction; None if there is no such tag, or it is no fraction."""
        field = self.fields.get(tag)
        if field is None or field.kind != _RATIONAL or field.count != 1:
            return None
        above, below = struct.unpack(f"{self.order}II", self.file.at(field.offset, 8))
        return above / below if below else None

    def blob(self, tag: int, most: int) -> bytes | None:
        """Return a tag's bytes; None if there is no such tag, or it has more than ``most`` bytes."""
        field = self.fields.get(tag)
        if field is None or field.kind not in _SIZES or field.count * _SIZES[field.kind] > most:
            return None
        return self.file.at(field.offset, field.count * _SIZES[field.kind])


class Directories:
    """All directories of a TIFF file that are asked for, each read once.

    Raises:
        RecordError: the header is no TIFF header.
    """

    def __init__(self, file: Bytes) -> None:
        head = file.at(0, 8)
        self._file = file
        self._order = "<" if head[:2] == b"II" else ">"
        self._big = struct.unpack(f"{self._order}H", head[2:4]) == (43,)
        self._seen: set[int] = set()
        if not self._big:
            self._first = struct.unpack(f"{self._order}I", head[4:])[0]
            return
        size, zero, self._first = struct.unpack(f"{self._order}HHQ", file.at(4, 12))
        if (size, zero) != (8, 0):
            raise file.damaged("its header is not that of a 64-bit TIFF")

    def chain(self) -> list[Directory]:
        """Return the directories of the file's pictures, in its order.

        Raises:
            RecordError: there is none, the chain runs in a circle, is endless, or leaves the file.
        """
        found = []
        offset = self._first
        while offset:
            directory, offset = self._read(offset)
            found.append(directory)
        if not found:
            raise self._file.damaged("it has no directory, so no picture")
        return found

    def below(self, directory: Directory, tag: int, most: int = 64) -> list[Directory]:
        """Return the directories that a tag points to; none if there is no such tag."""
        offsets = directory.integers(tag, most)
        return [] if offsets is None else [self._read(int(offset))[0] for offset in offsets]

    def _read(self, offset: int) -> tuple[Directory, int]:
        """Return the directory at an offset, and where the next of the chain is; 0 if it is the last."""
        file, order = self._file, self._order
        if offset in self._seen:
            raise file.damaged("its directories run in a circle")
        if len(self._seen) >= _MOST_DIRECTORIES:
            raise file.damaged(f"it has more than {_MOST_DIRECTORIES} directories")
        self._seen.add(offset)
        head, entry, link = ("Q", "HHQ", "Q") if self._big else ("H", "HHI", "I")
        head_size, link_size = struct.calcsize("<" + head), struct.calcsize("<" + link)
        step = struct.calcsize("<" + entry) + link_size
        (count,) = struct.unpack(order + head, file.at(offset, head_size))
        if not 0 < count <= _MOST_TAGS:
            raise file.damaged(f"its directory at byte {offset} has {count} tags")
        end = offset + head_size + count * step + link_size
        table = file.at(offset + head_size, count * step + link_size)
        fields: dict[int, Field] = {}
        for index in range(count):
            tag, kind, number = struct.unpack_from(order + entry, table, index * step)
            inline = (index + 1) * step - link_size
            size = number * _SIZES.get(kind, 1)
            if size <= link_size:
                place = offset + head_size + inline
            else:
                (place,) = struct.unpack_from(order + link, table, inline)
            fields.setdefault(tag, Field(kind, number, place))
        (following,) = struct.unpack_from(order + link, table, count * step)
        return Directory(file, order, fields, offset, end), following


def is_raw(directory: Directory) -> bool:
    """Return whether a directory is one of a camera's raw file.

    Tag 50706 and the photometric interpretations 32803 (colour filter array) and 34892 (linear raw) are those of the
    open raw format built on TIFF; 32803 is also that of ISO 12234-2.
    """
    try:
        return 50706 in directory or directory.integer(262, 0) in (32803, 34892)
    except RecordError:
        return False
