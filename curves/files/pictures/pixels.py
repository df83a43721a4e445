"""What every reader of pictures shares: the facts, the window asked for, the pieces it comes in, and exact reading."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import BinaryIO, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from curves.errors import RecordError

Values = NDArray[np.uint8] | NDArray[np.uint16]

# Our own choices. What can only be unpacked whole may take this much memory, packed and unpacked together [bytes].
MOST_AT_ONCE = 300_000_000
# Pieces are handed on in rows of about this size [bytes].
PIECE = 16_000_000
# zlib's own documentation: deflate packs no tighter than 1032:1.
DEFLATE_RATIO = 1032
# A resolution above this is a slip, not a scan [pixels per inch].
MOST_DPI = 30_000.0

READABLE = "a TIFF or PNG file of 8 or 16 bit, grey or RGB"
PLAIN_TIFF = "save it as an uncompressed TIFF of 8 or 16 bit, grey or RGB"
RAW_ADVICE = "make a linear 16-bit TIFF of it with a raw converter, and name that"


@dataclass(frozen=True)
class Facts:
    """What a picture's file says of it.

    Attributes:
        path: the file.
        width, height: of the picture as it is stored [pixels].
        samples: colours a pixel: 1 (grey) or 3 (red, green, blue). Alpha and other extra samples are not counted.
        bits: of a sample: 8 or 16.
        dpi: resolution that the file states [pixels per inch]; None if it states none in inches or metres.
        encoded: why its numbers look encoded for display rather than linear, as a clause; "" if nothing says so.
    """

    path: Path
    width: int
    height: int
    samples: int
    bits: int
    dpi: float | None
    encoded: str


class Window(NamedTuple):
    """A half-open rectangle of a picture [pixels]."""

    top: int
    left: int
    bottom: int
    right: int


class Piece(NamedTuple):
    """Part of a window: where its first value stands, and its values (rows, columns, samples) in native order."""

    top: int
    left: int
    sample: int
    values: Values


class Source(Protocol):
    """A picture that can be read in pieces."""

    @property
    def facts(self) -> Facts:
        """What the file says of the picture."""

    def pieces(self, window: Window) -> Iterator[Piece]:
        """Yield pieces that cover the window, each value once."""


class Bytes:
    """A file that is read exactly: bytes that are not there are an error that says so.

    Args:
        stream: the open file.
        path: its name, for messages.
    """

    def __init__(self, stream: BinaryIO, path: Path) -> None:
        self.path = path
        self.name = path.name
        self._stream = stream
        self.size = stream.seek(0, 2)

    def at(self, offset: int, count: int) -> bytes:
        """Return ``count`` bytes from ``offset`` on.

        Raises:
            RecordError: they are not all in the file, or the disk fails.
        """
        if offset + count > self.size:
            raise self.damaged(f"bytes {offset} to {offset + count} are asked for and the file has {self.size}")
        try:
            self._stream.seek(offset)
            found = self._stream.read(count)
        except OSError as error:
            raise RecordError(f"the file cannot be read: {error.strerror}", where=str(self.path)) from error
        if len(found) != count:
            raise self.damaged(f"it ends at byte {offset + len(found)}, sooner than when it was opened")
        return found

    def damaged(self, what: str) -> RecordError:
        """Return the error of a file that is cut short or corrupt."""
        return RecordError(
            f"the file is damaged or incomplete: {what}", where=self.name, hint="copy it again, or scan again"
        )

    def refused(self, what: str, needed: str = READABLE, hint: str = PLAIN_TIFF) -> RecordError:
        """Return the error of a file that is whole, but of a kind that is not read."""
        return RecordError(what, where=self.name, needed=needed, hint=hint)


def too_large(file: Bytes, unpacked: int) -> RecordError:
    """Return the error of a picture that would have to be unpacked whole; ``unpacked`` is its size [bytes]."""
    return file.refused(
        f"its picture must be unpacked whole, and takes {unpacked / 1e6:,.0f} MB",
        needed=f"at most {MOST_AT_ONCE / 1e6:,.0f} MB, packed and unpacked together",
        hint="save it as an uncompressed TIFF, or a TIFF in tiles; those are read piece by piece at any size",
    )


def image_codecs(name: str) -> ModuleType:
    """Return the package that unpacks LZW and PNG.

    Raises:
        RecordError: it is not installed.
    """
    try:
        import imagecodecs
    except ImportError as error:
        raise RecordError(
            "unpacking this picture needs the package imagecodecs, which is not installed",
            where=name,
            hint="pip install 'stepwedge-curves[scan]', or save it as an uncompressed TIFF",
        ) from error
    module: ModuleType = imagecodecs
    return module


def inflate(packed: Iterable[bytes | memoryview]) -> Iterator[bytes]:
    """Yield what a zlib stream holds, a megabyte or less at a time, so that no stream can fill the memory.

    Args:
        packed: the stream, in parts of any size.

    Raises:
        zlib.error: the stream is corrupt, its checksum is wrong, or it ends early.
    """
    stream = zlib.decompressobj()
    for part in packed:
        for start in range(0, len(part), 1 << 20):
            rest: bytes | memoryview = part[start : start + (1 << 20)]
            while rest and not stream.eof:
                yield stream.decompress(rest, 1 << 20)
                rest = stream.unconsumed_tail
    while not stream.eof:
        last = stream.decompress(b"", 1 << 20)
        if not last:
            raise zlib.error("the stream ends early")
        yield last


def stated_dpi(across: float, down: float) -> float | None:
    """Return one resolution of the two that a file states [pixels per inch]; None if they differ or are absurd.

    That both must agree within 1 % is our own choice.
    """
    if not (0.0 < across <= MOST_DPI and 0.0 < down <= MOST_DPI) or abs(across - down) > 0.01 * across:
        return None
    return across


def in_rows(top: int, left: int, sample: int, values: Values) -> Iterator[Piece]:
    """Yield an array as pieces of at most about 16 MB, in whole rows."""
    rows = max(1, PIECE // max(1, values[:1].nbytes))
    for start in range(0, len(values), rows):
        yield Piece(top + start, left, sample, values[start : start + rows])
