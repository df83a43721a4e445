"""The values of a TIFF file, read segment by segment.

Of an uncompressed segment only the rows in question are read, so a strip may be as large as the file. A packed segment
is unpacked whole; the last few are kept, since patches lie beside each other.
"""

from __future__ import annotations

import zlib
from collections import OrderedDict
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from curves.files.pictures.encoded import gamma_says, profile_says, space_says, table_says
from curves.files.pictures.pixels import (
    PIECE,
    Bytes,
    Facts,
    Piece,
    Values,
    Window,
    image_codecs,
    in_rows,
    inflate,
    stated_dpi,
)
from curves.files.pictures.tiff_directory import Directories, Directory
from curves.files.pictures.tiff_layout import DEFLATE, UNCOMPRESSED, Layout, layout_of, the_picture

# Unpacked segments that are kept [bytes]; our own choice.
_KEPT = 64_000_000
_MOST_PROFILE = 16_000_000


def open_tiff(file: Bytes) -> Tiff:
    """Return the picture in a TIFF file.

    Raises:
        RecordError: it is damaged, or of a kind that is not read.
    """
    directories = Directories(file)
    page = the_picture(directories, file)
    layout = layout_of(page)
    facts = Facts(
        path=file.path,
        width=layout.width,
        height=layout.height,
        samples=layout.samples,
        bits=8 * layout.dtype.itemsize,
        dpi=_dpi(page),
        encoded=_encoded(page, directories, 8 * layout.dtype.itemsize),
    )
    return Tiff(file, layout, facts)


class Tiff:
    """The picture of a TIFF file.

    Attributes:
        facts: what the file says of it.
    """

    def __init__(self, file: Bytes, layout: Layout, facts: Facts) -> None:
        self.facts = facts
        self._file = file
        self._layout = layout
        self._kept: OrderedDict[int, Values] = OrderedDict()

    def pieces(self, window: Window) -> Iterator[Piece]:
        """Yield pieces that cover the window, each value once, segment by segment.

        Raises:
            RecordError: a segment does not unpack to what it should.
        """
        layout = self._layout
        if window.top == window.bottom or window.left == window.right:
            return
        for down in range(window.top // layout.segment_height, -(-window.bottom // layout.segment_height)):
            for across in range(window.left // layout.segment_width, -(-window.right // layout.segment_width)):
                yield from self._of_place(down, across, window)

    def _of_place(self, down: int, across: int, window: Window) -> Iterator[Piece]:
        """Yield the colours of one place of the grid of segments, as far as they lie in the window."""
        layout = self._layout
        first_row, first_column = down * layout.segment_height, across * layout.segment_width
        top, bottom = max(window.top, first_row), min(window.bottom, first_row + layout.segment_height)
        left, right = max(window.left, first_column), min(window.right, first_column + layout.segment_width)
        columns = slice(left - first_column, right - first_column)
        planes = range(layout.samples) if layout.planar else range(1)
        if layout.planar and layout.premultiplied is not None:
            planes = range(layout.stored)
        for plane in planes:
            index = (plane * layout.down + down) * layout.across + across
            for start, rows in self._rows(index, down, top - first_row, bottom - first_row):
                part = rows[:, columns]
                self._check_opaque(part, plane)
                if plane < layout.samples:
                    yield from in_rows(first_row + start, left, plane, part[..., : layout.samples])

    def _check_opaque(self, part: Values, plane: int) -> None:
        """Raise if colours were multiplied with an alpha that is not full: they are no longer those of the scan."""
        alpha = self._layout.premultiplied
        if alpha is None or (self._layout.planar and plane != alpha):
            return
        values = part if self._layout.planar else part[..., alpha]
        if values.min() != np.iinfo(values.dtype).max:
            raise self._file.refused("the picture is partly transparent, and its colours were changed for that")

    def _rows(self, index: int, down: int, top: int, bottom: int) -> Iterator[tuple[int, Values]]:
        """Yield rows of one segment, (rows, columns, samples together), and where they begin in it."""
        layout = self._layout
        if layout.packing != UNCOMPRESSED:
            yield top, self._unpacked(index, layout.rows_in(down))[top:bottom]
            return
        many = max(1, PIECE // layout.row_bytes)
        for start in range(top, bottom, many):
            rows = min(many, bottom - start)
            raw = self._file.at(int(layout.offsets[index]) + start * layout.row_bytes, rows * layout.row_bytes)
            yield start, self._values(np.frombuffer(raw, dtype=np.uint8), rows)

    def _unpacked(self, index: int, rows: int) -> Values:
        """Return all rows of a packed segment, and keep them for the next time."""
        kept = self._kept
        if index in kept:
            kept.move_to_end(index)
            return kept[index]
        packed = self._file.at(int(self._layout.offsets[index]), int(self._layout.counts[index]))
        while kept and sum(values.nbytes for values in kept.values()) + rows * self._layout.row_bytes > _KEPT:
            kept.popitem(last=False)
        values = self._values(self._unpack(packed, rows), rows)
        if self._layout.differences:
            np.cumsum(values, axis=1, dtype=values.dtype, out=values)
        kept[index] = values
        return values

    def _unpack(self, packed: bytes, rows: int) -> NDArray[np.uint8]:
        """Return a packed segment's bytes: exactly those of its rows.

        Some programs pack the last strip as if it went on below the picture; those rows are left out.
        """
        layout = self._layout
        wanted, full = rows * layout.row_bytes, layout.segment_height * layout.row_bytes
        room = np.empty(full + 1, dtype=np.uint8)
        try:
            length = _deflated(packed, room) if layout.packing == DEFLATE else _lzw(packed, room, self._file.name)
        except zlib.error as error:
            raise self._file.damaged(f"a strip or tile cannot be unpacked ({error})") from error
        if length not in (wanted, full):
            raise self._file.damaged(f"a strip or tile unpacks to {min(length, full)} bytes or more, not {wanted}")
        return room[:wanted]

    def _values(self, raw: NDArray[np.uint8], rows: int) -> Values:
        """Return bytes as values in native order, (rows, columns, samples together)."""
        layout = self._layout
        values: Values = raw.view(layout.dtype.newbyteorder("=")).reshape(rows, layout.segment_width, layout.together)
        return values if layout.dtype.isnative else values.byteswap(inplace=raw.flags.writeable)


def _deflated(packed: bytes, room: NDArray[np.uint8]) -> int:
    """Unpack a deflate stream into ``room``, and return how many bytes it held, or that there is no room left."""
    length = 0
    for part in inflate([memoryview(packed)]):
        taken = min(len(part), len(room) - length)
        room[length : length + taken] = np.frombuffer(part, dtype=np.uint8, count=taken)
        length += taken
        if length == len(room):
            break
    return length


def _lzw(packed: bytes, room: NDArray[np.uint8], name: str) -> int:
    """Unpack an LZW stream into ``room``, and return how many bytes it held."""
    codecs = image_codecs(name)
    try:
        return len(codecs.lzw_decode(packed, out=room))
    except Exception as error:  # whatever a damaged stream makes it stumble over
        raise zlib.error(str(error)) from error


def _dpi(page: Directory) -> float | None:
    """Return the resolution that a picture states [pixels per inch]; None if it states none."""
    across, down = page.rational(282), page.rational(283)
    unit = {2: 1.0, 3: 2.54}.get(page.integer(296, 2))
    if across is None or down is None or unit is None:
        return None
    return stated_dpi(across * unit, down * unit)


def _encoded(page: Directory, directories: Directories, bits: int) -> str:
    """Return why a picture's numbers look encoded, as a clause; "" if nothing says so.

    A colour profile (tag 34675) has the last word; then the transfer function (tag 301), then the camera-file fields
    for colour space (40961) and gamma (42240) of the directory that tag 34665 points to.
    """
    profile = page.blob(34675, _MOST_PROFILE)
    if profile is not None:
        return profile_says(profile)
    table = page.integers(301, 3 << bits) if 301 in page else None
    if table is not None:
        return table_says(table.astype(np.float64), 1 << bits)
    for exif in directories.below(page, 34665, most=1):
        gamma = exif.rational(42240)
        return (gamma_says(gamma) if gamma else "") or space_says(exif.integer(40961, 0))
    return ""
