"""Pictures made by hand, byte by byte, for what no writer of pictures would write."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

Field = tuple[str, Iterable[int]]
Chunk = tuple[bytes, bytes]

_KINDS = {"B": 1, "H": 3, "I": 4, "5": 5, "7": 7}
# First column, first row, step across, step down of the passes of an interlaced PNG (its specification).
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


def grey_fields(width: int = 4, height: int = 3, bits: int = 16, size: int | None = None) -> dict[int, Field]:
    """Return the tags of an uncompressed grey picture in one strip at byte 8, right behind the header."""
    return {
        256: ("I", [width]),
        257: ("I", [height]),
        258: ("H", [bits]),
        259: ("H", [1]),
        262: ("H", [1]),
        273: ("I", [8]),
        277: ("H", [1]),
        278: ("I", [height]),
        279: ("I", [width * height * bits // 8 if size is None else size]),
    }


def directory(fields: Mapping[int, Field], start: int, following: int = 0, order: str = "<") -> bytes:
    """Return a directory that stands at ``start``, the values that do not fit into it behind it."""
    packed = []
    for tag, (code, values) in sorted(fields.items()):
        numbers = list(values)
        raw = struct.pack(f"{order}{len(numbers)}{ {'5': 'I', '7': 'B'}.get(code, code) }", *numbers)
        packed.append((tag, _KINDS[code], len(numbers) // (2 if code == "5" else 1), raw))
    place = start + 2 + 12 * len(packed) + 4
    table, behind = struct.pack(f"{order}H", len(packed)), b""
    for tag, kind, count, raw in packed:
        if len(raw) > 4:
            table += struct.pack(f"{order}HHII", tag, kind, count, place + len(behind))
            behind += raw
        else:
            table += struct.pack(f"{order}HHI", tag, kind, count) + raw.ljust(4, b"\0")
    return table + struct.pack(f"{order}I", following) + behind


def tiff(fields: Mapping[int, Field], data: bytes = bytes(24), following: int = 0, order: str = "<") -> bytes:
    """Return a TIFF file: header, data from byte 8 on, directory."""
    start = 8 + len(data)
    head = b"II*\0" if order == "<" else b"MM\0*"
    return head + struct.pack(f"{order}I", start) + data + directory(fields, start, following, order)


def png_chunk(name: bytes, body: bytes, checksum: int | None = None) -> bytes:
    """Return a chunk of a PNG file, with its right checksum or another."""
    found = zlib.crc32(name + body) if checksum is None else checksum
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", found)


def png_header(width: int, height: int, bits: int, colour: int, interlaced: bool = False) -> bytes:
    """Return the chunk IHDR."""
    return png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, interlaced))


def png_file(header: bytes, packed: bytes, aside: Iterable[Chunk] = ()) -> bytes:
    """Return a PNG file of a header, other chunks and a zlib stream."""
    others = b"".join(png_chunk(name, body) for name, body in aside)
    return b"\x89PNG\r\n\x1a\n" + header + others + png_chunk(b"IDAT", packed) + png_chunk(b"IEND", b"")


def png(values: NDArray[np.generic], *, interlaced: bool = False, aside: Iterable[Chunk] = ()) -> bytes:
    """Return values, (rows, columns, samples), as a PNG file whose rows are not filtered."""
    rows, columns, samples = values.shape
    stored = values.astype(values.dtype.newbyteorder(">"))
    stream = b""
    for left, top, across, down in _PASSES if interlaced else ((0, 0, 1, 1),):
        part = stored[top::down, left::across]
        if part.size:
            stream += b"".join(b"\0" + row.tobytes() for row in part)
    colour = {1: 0, 2: 4, 3: 2, 4: 6}[samples]
    header = png_header(columns, rows, 8 * values.itemsize, colour, interlaced)
    return png_file(header, zlib.compress(stream), aside)


def profile(curve: bytes, name: str = "a scanner") -> bytes:
    """Return a colour profile with one tone curve for all colours, as ICC.1 lays it out."""
    text = name.encode("ascii") + b"\0"
    described = b"desc" + bytes(4) + struct.pack(">I", len(text)) + text + bytes(79)
    tags = {b"desc": described, b"rTRC": curve, b"gTRC": curve, b"bTRC": curve}
    place = 132 + 12 * len(tags)
    table, behind = struct.pack(">I", len(tags)), b""
    for signature, body in tags.items():
        table += struct.pack(">4sII", signature, place + len(behind), len(body))
        behind += body
    return bytes(36) + b"acsp" + bytes(88) + table + behind


def curv(*values: int) -> bytes:
    """Return a tone curve of type 'curv': none is linear, one an exponent in 1/256, more a table."""
    return b"curv" + bytes(4) + struct.pack(f">I{len(values)}H", len(values), *values)


def para(kind: int, *values: float) -> bytes:
    """Return a tone curve of type 'para'."""
    return b"para" + bytes(4) + struct.pack(f">HH{len(values)}i", kind, 0, *(round(65536 * v) for v in values))
