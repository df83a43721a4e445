"""The values of a PNG file, which is unpacked whole.

Chunks, their checksums and their meaning are those of the PNG specification (W3C; ISO/IEC 15948). All that the file
claims is checked before it is unpacked: which chunks there are, their checksums, and that the packed values hold
exactly the picture.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from curves.errors import RecordError
from curves.files.pictures.encoded import gamma_says, profile_says
from curves.files.pictures.pixels import (
    DEFLATE_RATIO,
    MOST_AT_ONCE,
    Bytes,
    Facts,
    Piece,
    Values,
    Window,
    image_codecs,
    in_rows,
    inflate,
    stated_dpi,
    too_large,
)

SIGNATURE = b"\x89PNG\r\n\x1a\n"
_HEADER_END = 33
_END = struct.pack(">I4sI", 0, b"IEND", zlib.crc32(b"IEND"))

# Our own choices: more is no scan [bytes, chunks].
_MOST_ASIDE = 16_000_000
_MOST_CHUNKS = 200_000
_TELLING = (b"pHYs", b"cICP", b"iCCP", b"sRGB", b"gAMA")
# Adam7: first column, first row, step across, step down of each pass.
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


@dataclass
class _Chunks:
    """The chunks of a file: where the packed values are (offset, length), and the others by name."""

    packed: list[tuple[int, int]] = field(default_factory=list)
    aside: dict[bytes, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class _Header:
    width: int
    height: int
    bits: int
    samples: int
    stored: int
    interlaced: bool

    @property
    def values_bytes(self) -> int:
        return self.width * self.height * self.stored * self.bits // 8

    @property
    def unpacked_bytes(self) -> int:
        """Size of the unpacked stream: each row, of each pass, has one byte more that says how it was filtered."""
        total = 0
        for left, top, across, down in _PASSES if self.interlaced else ((0, 0, 1, 1),):
            columns, rows = -(-(self.width - left) // across), -(-(self.height - top) // down)
            if columns > 0 and rows > 0:
                total += rows * (1 + columns * self.stored * self.bits // 8)
        return total


def open_png(file: Bytes) -> Png:
    """Return the picture in a PNG file.

    Raises:
        RecordError: it is damaged, or of a kind that is not read.
    """
    header = _header(file)
    if header.values_bytes + file.size > MOST_AT_ONCE:
        fits = header.values_bytes <= file.size * DEFLATE_RATIO
        raise too_large(file, header.values_bytes) if fits else _does_not_fit(file, header)
    chunks = _chunks(file)
    if header.unpacked_bytes > sum(length for _, length in chunks.packed) * DEFLATE_RATIO:
        raise _does_not_fit(file, header)
    image_codecs(file.name)
    facts = Facts(
        path=file.path,
        width=header.width,
        height=header.height,
        samples=header.samples,
        bits=header.bits,
        dpi=_dpi(chunks.aside),
        encoded=_encoded(chunks.aside),
    )
    return Png(file, header, chunks, facts)


class Png:
    """The picture of a PNG file.

    Attributes:
        facts: what the file says of it.
    """

    def __init__(self, file: Bytes, header: _Header, chunks: _Chunks, facts: Facts) -> None:
        self.facts = facts
        self._file = file
        self._header = header
        self._chunks = chunks
        self._values: Values | None = None

    def pieces(self, window: Window) -> Iterator[Piece]:
        """Yield pieces that cover the window, each value once.

        Raises:
            RecordError: the file does not unpack to the picture.
        """
        if self._values is None:
            self._values = self._unpack()
        top, left, bottom, right = window
        yield from in_rows(top, left, 0, self._values[top:bottom, left:right, : self._header.samples])

    def _unpack(self) -> Values:
        """Return the values, (rows, columns, samples as stored).

        The decoder is given the header and the packed values alone: other chunks might change values, and make it
        complain where a person should read nothing.
        """
        header, file = self._header, self._file
        first, (last, size) = self._chunks.packed[0][0] - 8, self._chunks.packed[-1]
        data = file.at(0, _HEADER_END) + file.at(first, last + size + 4 - first) + _END
        view = memoryview(data)
        shift = _HEADER_END - first
        length = 0
        try:
            for part in inflate(view[start + shift : start + shift + size] for start, size in self._chunks.packed):
                length += len(part)
                if length > header.unpacked_bytes:
                    break
        except zlib.error as error:
            raise file.damaged(f"its values cannot be unpacked ({error})") from error
        if length != header.unpacked_bytes:
            raise file.damaged(f"its values unpack to {length} bytes or more, not {header.unpacked_bytes}")
        try:
            values = np.asarray(image_codecs(file.name).png_decode(data))
        except Exception as error:  # whatever a damaged file makes the decoder stumble over
            raise file.damaged(f"its values cannot be unpacked ({error})") from error
        shape = (header.height, header.width, header.stored)
        if values.dtype != np.dtype(f"u{header.bits // 8}") or values.size != math.prod(shape):
            raise file.damaged(f"it unpacks to other values than its header says ({values.dtype}, {values.shape})")
        return values.reshape(shape)


def _header(file: Bytes) -> _Header:
    """Return what the first chunk says of the picture."""
    length, name = struct.unpack(">I4s", file.at(8, 8))
    if (length, name) != (13, b"IHDR"):
        raise file.damaged("it does not begin with its header")
    width, height, bits, colour, packing, filtering, interlaced = struct.unpack(">IIBBBBB", file.at(16, 13))
    if not (0 < width < 1 << 31 and 0 < height < 1 << 31) or packing or filtering or interlaced > 1:
        raise file.damaged("its header makes no sense")
    if colour == 3:
        raise file.refused("its pixels are a palette")
    if colour not in (0, 2, 4, 6):
        raise file.damaged("its header makes no sense")
    if bits not in (8, 16):
        raise file.refused(f"its values have {bits} bit")
    samples = 3 if colour & 2 else 1
    return _Header(width, height, bits, samples, samples + (colour >> 2), bool(interlaced))


def _does_not_fit(file: Bytes, header: _Header) -> RecordError:
    return file.damaged(f"a picture of {header.width} x {header.height} pixels does not fit into its size")


def _chunks(file: Bytes) -> _Chunks:
    """Return the chunks of a file, after checking order and checksums."""
    chunks = _Chunks()
    offset = len(SIGNATURE)
    name = b""
    for number in range(_MOST_CHUNKS):
        length, following = struct.unpack(">I4s", file.at(offset, 8))
        if number and following == b"IHDR":
            raise file.damaged("it has two headers")
        if _checksum(file, offset + 4, length + 4) != struct.unpack(">I", file.at(offset + 8 + length, 4))[0]:
            raise file.damaged(f"the checksum of its part at byte {offset} is wrong")
        if following == b"IDAT":
            if chunks.packed and name != b"IDAT":
                raise file.damaged("its values are interrupted")
            chunks.packed.append((offset + 8, length))
        elif following == b"IEND":
            break
        elif following in _TELLING and length <= _MOST_ASIDE:
            chunks.aside.setdefault(following, file.at(offset + 8, length))
        name = following
        offset += length + 12
    else:
        raise file.damaged(f"it has more than {_MOST_CHUNKS} parts")
    if not chunks.packed:
        raise file.damaged("it holds no values")
    return chunks


def _checksum(file: Bytes, offset: int, length: int) -> int:
    """Return the checksum of a stretch of the file, read a megabyte at a time."""
    if offset + length > file.size:
        raise file.damaged(f"its part at byte {offset - 4} goes on beyond the end")
    found = 0
    for start in range(offset, offset + length, 1 << 20):
        found = zlib.crc32(file.at(start, min(1 << 20, offset + length - start)), found)
    return found


def _dpi(aside: dict[bytes, bytes]) -> float | None:
    """Return the resolution of the chunk pHYs [pixels per inch]; None if it states none in metres."""
    body = aside.get(b"pHYs", b"")
    if len(body) != 9:
        return None
    across, down, unit = struct.unpack(">IIB", body)
    return stated_dpi(across * 0.0254, down * 0.0254) if unit == 1 else None


def _encoded(aside: dict[bytes, bytes]) -> str:
    """Return why a picture's numbers look encoded, as a clause; "" if nothing says so.

    Of the chunks that say so, the first of cICP, iCCP, sRGB and gAMA counts, as the specification orders them.
    """
    if len(aside.get(b"cICP", b"")) == 4:
        # 8 is the linear transfer function of ITU-T H.273
        return "" if aside[b"cICP"][1] == 8 else f"it states transfer function {aside[b'cICP'][1]} of ITU-T H.273"
    if b"iCCP" in aside:
        return profile_says(_profile(aside[b"iCCP"]))
    if b"sRGB" in aside:
        return "it states the colour space sRGB"
    if len(aside.get(b"gAMA", b"")) == 4:
        (gamma,) = struct.unpack(">I", aside[b"gAMA"])
        return gamma_says(100_000 / gamma) if gamma else ""
    return ""


def _profile(body: bytes) -> bytes:
    """Return the colour profile in a chunk iCCP (a name, two zeros, a zlib stream); b"" if there is none to read."""
    _, _, packed = body.partition(b"\0")
    try:
        return zlib.decompressobj().decompress(packed[1:], _MOST_ASIDE)
    except zlib.error:
        return b""
