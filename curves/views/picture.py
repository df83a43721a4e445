"""Pictures inside a page: PNG (ISO/IEC 15948) of 8 bits as a data URI, written with the standard library alone."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_GREY, _RGB = 0, 2


def png_uri(picture: NDArray[np.uint8]) -> str:
    """Return a picture as a data URI.

    Args:
        picture: (rows, columns) grey, or (rows, columns, 3) red, green and blue.
    """
    rows, columns = picture.shape[:2]
    colour = _RGB if picture.ndim == 3 else _GREY
    # Every row begins with a byte that says how it is filtered: 0, not at all.
    plain = np.zeros((rows, 1 + picture.reshape(rows, -1).shape[1]), dtype=np.uint8)
    plain[:, 1:] = picture.reshape(rows, -1)
    header = struct.pack(">IIBBBBB", columns, rows, 8, colour, 0, 0, 0)
    parts = [(b"IHDR", header), (b"IDAT", zlib.compress(plain.tobytes(), 6)), (b"IEND", b"")]
    content = _SIGNATURE + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in parts
    )
    return "data:image/png;base64," + base64.b64encode(content).decode("ascii")
