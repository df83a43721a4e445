"""Small pictures inside a page: PNG as a data URI, by the standard library alone."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY, _COLOUR = 0, 2


def png_uri(pixels: NDArray[np.uint8]) -> str:
    """Return a picture as a data URI that a page shows without asking for a file.

    Every pixel is kept as it is: nothing is resampled, and the page must be told not to smooth it.

    Args:
        pixels: (rows, columns) grey, or (rows, columns, 3) red, green, blue; 0 black to 255 full [unitless].
    """
    return "data:image/png;base64," + base64.b64encode(png(pixels)).decode("ascii")


def png(pixels: NDArray[np.uint8]) -> bytes:
    """Return a picture as PNG, 8 bits a sample (ISO/IEC 15948): a header, the rows without filters, an end.

    Args:
        pixels: as for `png_uri`.

    Raises:
        ValueError: the array is no picture.
    """
    if pixels.dtype != np.uint8 or not (pixels.ndim == 2 or (pixels.ndim == 3 and pixels.shape[2] == 3)):
        raise ValueError(f"not a picture of 8 bits: {pixels.dtype} {pixels.shape}")
    if pixels.size == 0:
        raise ValueError("a picture without pixels")
    rows, columns = pixels.shape[:2]
    header = struct.pack(">IIBBBBB", columns, rows, 8, _GREY if pixels.ndim == 2 else _COLOUR, 0, 0, 0)
    # Each row begins with the number of its filter; 0 is none.
    lines = np.zeros((rows, 1 + pixels.size // rows), dtype=np.uint8)
    lines[:, 1:] = pixels.reshape(rows, -1)
    body = zlib.compress(lines.tobytes(), 6)
    return _SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
