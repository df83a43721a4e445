"""JPEG pictures (ISO/IEC 10918-1, 8 bits), unpacked whole: their segments are checked before anything is decoded.

What a JPEG loses: its values have 8 bits, and the mean of each block of 8 x 8 is rounded to a step that its table of
quantisation states. A patch cannot be known better than that step, and its error says so.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from curves.files.pictures.gate import Raster, Values, check_memory, decode
from curves.files.pictures.picture_file import PictureFile
from curves.files.pictures.statements import Facts, jpeg_statements

_FRAMES = {0xC0: "baseline", 0xC1: "extended", 0xC2: "progressive"}
"""Frame headers of the kinds that are read: in sequence or progressive, packed by Huffman codes."""

_OTHER_FRAMES = frozenset({0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_ASIDE = {0xE0: "resolution", 0xE2: "profile"}
_MOST_SEGMENTS, _MOST_SIDE = 10_000, 65_500
_MOST_BEHIND = 1 << 20
"""Bytes that a camera may write behind the end of a picture: our own choice."""


def open_jpeg(file: PictureFile) -> Raster:
    """Return the picture in a JPEG file, which is unpacked whole, or raise the fault of the file."""
    frame, tables, aside = _segments(file)
    bits, height, width, stored = struct.unpack(">BHHB", frame[:6].ljust(6, b"\0"))
    if not 0 < min(width, height) <= max(width, height) <= _MOST_SIDE:
        raise file.damaged(f"a picture of {width} x {height} pixels is not one")
    if bits != 8 or stored not in (1, 3):
        raise file.refused(f"the pixels have {stored} samples of {bits} bit")
    check_memory(file, file.size, width * height * stored)
    file.package("imagecodecs")

    @lru_cache(1)
    def whole() -> Values:
        values = decode(file, "jpeg8_decode", file.at(0, file.size))
        if values.dtype != np.uint8 or values.size != width * height * stored:
            raise file.damaged("the values are not those of the header")
        return values.reshape(height, width, stored)

    # The mean of a block is its first coefficient over 8.
    step = max(1.0, max(tables.values(), default=8) / 8.0)
    facts = Facts(file.path, width, height, stored, 8, *jpeg_statements(aside), step=step, lossy=True)
    return Raster(facts, height, width, lambda _, top, bottom: whole()[top:bottom])


def _segments(file: PictureFile) -> tuple[bytes, Mapping[int, int], dict[str, bytes]]:
    """Return the frame header, the first entry of each table of quantisation, and what segments state of the values."""
    frame, tables, aside = b"", dict[int, int](), dict[str, bytes]()
    offset = 2
    for _ in range(_MOST_SEGMENTS):
        mark, kind = file.at(offset, 2)
        if mark != 0xFF:
            raise file.damaged(f"no segment begins at byte {offset}")
        if kind == 0xFF:  # a byte that fills up
            offset += 1
            continue
        if kind == 0xDA:
            break
        length = int.from_bytes(file.at(offset + 2, 2), "big")
        if length < 2:
            raise file.damaged(f"the segment at byte {offset} has no length")
        body = file.at(offset + 4, length - 2)
        if kind in _OTHER_FRAMES:
            raise file.refused("the JPEG is packed in a way that is not read: lossless, or by arithmetic codes")
        if kind in _FRAMES:
            if frame:
                raise file.damaged("the header comes twice")
            frame = body
        elif kind == 0xDB:
            tables |= _first_steps(file, body)
        elif kind in _ASIDE:
            name = _ASIDE[kind]
            aside[name] = aside.get(name, b"") + body if name == "profile" else aside.get(name, body)
        offset += 2 + length
    else:
        raise file.damaged(f"the file has more than {_MOST_SEGMENTS} segments")
    if not frame:
        raise file.damaged("the file holds no header of a picture")
    behind = file.at(max(offset, file.size - _MOST_BEHIND), file.size - max(offset, file.size - _MOST_BEHIND))
    if b"\xff\xd9" not in behind:
        raise file.damaged("the picture does not end")
    return frame, tables, aside


def _first_steps(file: PictureFile, body: bytes) -> dict[int, int]:
    """Return the first entry of each table in a segment of quantisation tables, by the table's number."""
    found, at = dict[int, int](), 0
    while at < len(body):
        wide, number = body[at] >> 4, body[at] & 15
        size = 64 * (wide + 1)
        if wide > 1 or at + 1 + size > len(body):
            raise file.damaged("a table of quantisation is cut short")
        found[number] = int.from_bytes(body[at + 1 : at + 2 + wide], "big")
        at += 1 + size
    return found
