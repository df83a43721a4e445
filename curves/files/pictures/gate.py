"""The gate in front of the packages that decode pictures: all that a file states is checked before it is decoded.

tifffile reads the directories of a TIFF file, imagecodecs unpacks values. Both read much that is not a scan, pass over
what they cannot read, and believe sizes. What passes here is of a kind that is read, lies wholly in the file, and takes
limited time and memory. Tags are those of TIFF, revision 6.0 (1992), and of BigTIFF; chunks those of ISO/IEC 15948.
"""

from __future__ import annotations

import logging
import math
import struct
import zlib
from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.files.pictures.picture_file import PLAIN_TIFF, RAW_ADVICE, PictureFile
from curves.files.pictures.statements import PNG_STATEMENTS, TIFF_STATEMENTS, Facts, png_statements, tiff_statements

Values = NDArray[np.uint8] | NDArray[np.uint16]

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"

# Our own choices: a scan has no more [bytes, or a count]. Of what can only be unpacked whole, packed and unpacked bytes
# count together; unpacked parts are kept, since patches lie beside each other.
_MOST_AT_ONCE, _MOST_UNPACKED, _KEPT = 300_000_000, 2_000_000_000, 32_000_000
_MOST_DIRECTORIES, _MOST_CHUNKS, _MOST_PARTS, _MOST_SAMPLES, _MOST_SIDE = 32, 200_000, 300_000, 16, 1_000_000
# What unpacks values, and how tight they can be packed: deflate by zlib's own documentation; an LZW code has at most 12
# bits and stands for at most 3839 bytes.
_DEFLATE, _LZW = ("zlib_decode", 1032), ("lzw_decode", 2560)
_PACKINGS = {1: ("", 1), 5: _LZW, 8: _DEFLATE, 32946: _DEFLATE}
_LOSSY = {6: "JPEG", 7: "JPEG", 34712: "JPEG 2000"}
# Tag: its value where it is missing, the values that are read, and the words for others.
_KINDS: dict[int, tuple[int | None, tuple[int, ...], str, dict[int, str]]] = {
    339: (1, (1,), "the values are", {2: "signed integers", 3: "floating-point numbers"}),
    262: (None, (1, 2), "the pixels are", {
        0: "grey from white at 0 to black", 3: "a palette", 4: "a mask", 5: "inks (CMYK)",
        6: "luma and chroma (YCbCr)", 8: "Lab", 9: "Lab", 10: "Lab"}),
    258: (1, (8, 16), "the values have", {bits: f"{bits} bit" for bits in range(129)}),
    259: (1, tuple(_PACKINGS), "the packing is", {n: f"{name}, which may change values" for n, name in _LOSSY.items()}),
    266: (1, (1,), "the order of bits is", {2: "backwards"}),
    284: (1, (1, 2), "the arrangement of samples is", {}),
    317: (1, (1, 2), "the predictor is", {}),
}  # fmt: skip
_BLACK_AT_0 = "save the picture with black at 0 (as most programs do), and look whether the light parts are light"
_NEEDED = {254, 256, 257, 273, 277, 278, 279, 296, 322, 323, 324, 325, 330, 338, 50706, *_KINDS, *TIFF_STATEMENTS}
_UNSIGNED = {1: 1, 3: 2, 4: 4, 13: 4, 16: 8, 18: 8}  # field types BYTE, SHORT, LONG, IFD, LONG8, IFD8 [bytes]
# Adam7 of PNG: first column, first row, step across, step down of each pass.
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
_SILENT = logging.NullHandler()


class Raster(NamedTuple):
    """A picture that passed: the facts, and height and width of a part (a strip, a tile, or all of it) [pixels].

    ``read`` returns rows of a part, (rows, columns, samples) in native byte order, given the number of the part (row
    by row), the first row and the row after the last, both inside the picture; the columns may go on beyond its edge.
    """

    facts: Facts
    height: int
    width: int
    read: Callable[[int, int, int], Values]


def decode(file: PictureFile, codec: str, packed: bytes, room: NDArray[np.uint8] | None = None) -> NDArray[Any]:
    """Return packed bytes as imagecodecs unpacks them; if there is a ``room``, the part of it that they fill."""
    decode = getattr(file.package("imagecodecs"), codec)
    try:
        return np.asarray(decode(packed, out=room))
    except Exception as error:  # whatever a damaged file makes the package stumble over
        raise file.damaged("packed values are corrupt, cut short, or more than the pixels need") from error


def check_memory(file: PictureFile, packed: int, unpacked: int) -> None:
    """Raise if what can only be unpacked whole takes too much memory [bytes]."""
    if packed + unpacked > _MOST_AT_ONCE:
        raise file.refused(
            f"the picture must be unpacked whole, and takes {unpacked / 1e6:,.0f} MB",
            needed=f"at most {_MOST_AT_ONCE / 1e6:,.0f} MB, packed and unpacked together",
            hint="save the picture as an uncompressed TIFF, or a TIFF in tiles; those are read at any size",
        )


class _Directory:
    """The tags of a picture as tifffile found them, with values read exactly."""

    def __init__(self, file: PictureFile, page: Any) -> None:
        self.file, self.tags, tiff = file, page.tags, page.parent.tiff
        self.order, table = tiff.byteorder, page.offset + tiff.tagnosize
        count = int.from_bytes(file.at(page.offset, tiff.tagnosize), "little" if self.order == "<" else "big")
        self.start, self.end = page.offset, table + count * tiff.tagsize + tiff.offsetsize
        stated = np.ndarray(count, f"{self.order}u2", file.at(table, self.end - table), strides=(tiff.tagsize,))
        lost = _NEEDED.intersection(stated.tolist()).difference(self.tags.keys())
        if lost or not count:
            which = f"lacks the values of tag {min(lost)}" if lost else "has 0 tags"
            raise file.damaged(f"the directory at byte {page.offset} {which}")

    def values(self, tag: int, most: int = 1, default: int | None = None) -> NDArray[np.uint64]:
        """Return the values of a tag, unsigned integers, 1-D; the default if there is no such tag."""
        found = self.tags.get(tag)
        if found is None and default is not None:
            return np.array([default], np.uint64)
        count = 0 if found is None else found.count
        if not 0 < count <= most:
            raise self.file.damaged(f"tag {tag} has {count} values, not {f'1 to {most}' if most > 1 else '1'}")
        size = _UNSIGNED.get(found.dtype)
        if size is None:
            raise self.file.damaged(f"tag {tag} does not hold unsigned integers")
        return np.frombuffer(self.file.at(found.valueoffset, count * size), f"{self.order}u{size}").astype(np.uint64)

    def value(self, tag: int, default: int | None = None) -> int:
        """Return the one value of a tag, or the default if there is no such tag."""
        return int(self.values(tag, 1, default)[0])


def _picture_in(file: PictureFile) -> _Directory:
    """Return the directory of the one picture of full size.

    Others may be reduced copies or masks, as tag 254 or their size tells: at most half as wide and half as high, which
    is our own choice. Tag 50706 and the pixels 32803 (colour filter array; also ISO 12234-2) and 34892 (linear raw)
    are those of the open raw format built on TIFF.
    """
    logging.getLogger("tifffile").addHandler(_SILENT)
    # tifffile would follow what makers built on TIFF further than a scan needs
    tiff = file.package("tifffile").TiffFile(file, offset=0, is_lsm=False, is_ndpi=False, is_scanimage=False)
    seen: set[int] = set()
    pages = []
    for page, part in ((top, part) for top in tiff.pages for part in (top, *(top.pages or ()))):
        if part.offset in seen or len(seen) == _MOST_DIRECTORIES:
            raise file.damaged(f"the directories run in a circle, or are more than {_MOST_DIRECTORIES}")
        seen.add(part.offset)
        directory = _Directory(file, part)
        if 50706 in directory.tags or directory.tags.valueof(262) in (32803, 34892):
            raise file.refused("the file is a raw file of a camera", hint=RAW_ADVICE)
        pages += [directory] if part is page else []
    if not pages or any(file.at(tiff.pages.next_page_offset, tiff.tiff.offsetsize)):
        raise file.damaged("a directory is missing, so no picture can be found")
    full = [page for page in pages if not page.value(254, 0) & 5] or pages
    largest = max(full, key=lambda page: page.value(256) * page.value(257))
    beside = [page for page in full if any(2 * page.value(side) > largest.value(side) for side in (256, 257))]
    if len(beside) > 1:
        needed = "one picture; reduced copies of it may stand beside it"
        raise file.refused(f"the file holds {len(beside)} pictures", needed, "save each picture as a file of its own")
    return largest


def _check_kind(page: _Directory, stored: int) -> None:
    """Raise if a picture is of a kind that is not read."""
    for tag, (default, read, subject, names) in _KINDS.items():
        found = page.values(tag, _MOST_SAMPLES if tag in (258, 339) else 1, default).tolist()
        if len(found) not in (1, stored):
            raise page.file.damaged(f"tag {tag} describes {len(found)} samples, and a pixel has {stored}")
        if len({*found}) > 1 or found[0] not in read:
            words = " and ".join(names.get(kind, f"of a kind that is not read ({kind})") for kind in sorted({*found}))
            hint = _BLACK_AT_0 if (tag, found) == (262, [0]) else PLAIN_TIFF
            raise page.file.refused(f"{subject} {words}", hint=hint)


def open_tiff(file: PictureFile) -> Raster:
    """Return the picture in a TIFF file, or raise the fault of the file."""
    try:
        page = _picture_in(file)
        stated = {tag: page.tags.valueof(tag) for tag in TIFF_STATEMENTS}
    except RecordError:
        raise
    except Exception as error:  # whatever a damaged file makes the package stumble over
        raise file.damaged("the directories cannot be read") from error
    width, height, stored = page.value(256), page.value(257), page.value(277, 1)
    _check_kind(page, stored)
    samples, bits = (1, 3)[page.value(262) - 1], int(page.values(258, _MOST_SAMPLES)[0])
    others = page.tags[338].count if 338 in page.tags else 0
    if not samples + others <= stored <= _MOST_SAMPLES:
        raise file.refused(f"the pixels have {stored} samples for {samples} colours and {others} others")
    profile = stated[34675] if isinstance(stated[34675], bytes) else b""
    statements = tiff_statements(stated, page.value(296, 2), bits)
    facts = Facts(file.path, width, height, samples, bits, *statements, profile=profile)
    tiled, planes = 322 in page.tags, (1, stored)[page.value(284, 1) - 1]
    columns, rows = (page.value(322), page.value(323)) if tiled else (width, min(page.value(278, height), height))
    across, down = -(-width // max(columns, 1)), -(-height // max(rows, 1))
    sides = (width, height, columns, rows)
    if not 0 < min(sides) <= max(sides) <= _MOST_SIDE or across * down * planes > _MOST_PARTS:
        raise file.damaged(f"a picture of {width} x {height} pixels, in parts of {columns} x {rows}, is not a scan")
    row = columns * (stored // planes) * bits // 8
    if max(rows, height) * row > file.size * _PACKINGS[page.value(259, 1)][1]:
        raise file.damaged(f"a picture of {width} x {height} pixels does not fit into the file's size")
    heights = np.full(down, rows) if tiled else np.minimum(rows, height - rows * np.arange(down))
    needed = np.tile(np.repeat(heights, across), planes) * row
    return Raster(facts, rows, columns, _Parts(page, facts, needed, (rows, columns, stored // planes)).read)


def _places(page: _Directory, needed: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the offsets and sizes of all parts [bytes], or raise if one lies or is packed as it cannot be."""
    file, (codec, tightest) = page.file, _PACKINGS[page.value(259, 1)]
    stated = [page.values(tag, _MOST_PARTS) for tag in ((324, 325) if 322 in page.tags else (273, 279))]
    if {*map(len, stated)} != {len(needed)}:
        raise file.damaged(f"the picture needs {len(needed)} strips or tiles, and the file states {len(stated[0])}")
    offsets, sizes = (np.minimum(values, file.size + 1).astype(np.int64) for values in stated)
    starts, ends = np.append(offsets, page.start), np.append(offsets + sizes, page.end)
    if not sizes.all() or starts.min() < 8 or ends.max() > file.size:
        raise file.damaged("part of the picture is empty, or lies beyond the end of the file")
    order = np.argsort(starts, kind="stable")
    if (ends[order][:-1] > starts[order][1:]).any():
        raise file.damaged("parts of the picture lie on each other")
    if (sizes * tightest < needed).any():
        raise file.damaged("a strip or tile has fewer bytes than its pixels need")
    if codec and needed.sum() > _MOST_UNPACKED:
        what, most = (f"{number / 1e6:,.0f} MB" for number in (needed.sum(), _MOST_UNPACKED))
        hint = "cut the picture to the strip, or save it uncompressed; then any size is read"
        raise file.refused(f"the picture unpacks to {what}", f"at most {most}", hint)
    return offsets, sizes


class _Parts:
    """The strips or tiles of a TIFF picture.

    Args:
        page: the tags of the picture.
        facts: what the file states.
        needed: the unpacked size of each part, plane by plane [bytes].
        shape: rows, columns and samples of a part of a plane.
    """

    def __init__(self, page: _Directory, facts: Facts, needed: NDArray[np.int64], shape: tuple[int, int, int]) -> None:
        self._file, (self._offsets, self._sizes) = page.file, _places(page, needed)
        self._samples, self._needed, self._shape = facts.samples, needed, shape
        self._planes = page.value(277, 1) // shape[2]
        self._dtype = np.dtype(f"{page.order}u{facts.bits // 8}")
        self._row, self._full = (math.prod(sides) * self._dtype.itemsize for sides in (shape[1:], shape))
        self._codec, self._differences = _PACKINGS[page.value(259, 1)][0], page.value(317, 1) == 2
        alphas = page.values(338, _MOST_SAMPLES, 0).tolist()
        self._alpha = facts.samples + alphas.index(1) if 1 in alphas else None
        self._kept: dict[int, Values] = {}
        if self._codec:
            self._file.package("imagecodecs")
            planes = self._planes + (self._planes > 1)  # one is copied
            check_memory(self._file, int(self._sizes.max()), int(needed.max()) * planes)

    def read(self, part: int, top: int, bottom: int) -> Values:
        """Return rows of a part, (rows, columns, samples)."""
        if not self._codec:
            values = self._together(part, top, bottom)
        else:
            if part not in self._kept:
                while self._kept and (len(self._kept) + 1) * self._full * self._planes > _KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[part] = self._together(part, 0, int(self._needed[part]) // self._row)
            values = self._kept[part][top:bottom]
        if self._alpha is not None and values[..., self._alpha].min() != np.iinfo(values.dtype).max:
            raise self._file.refused("the picture is partly transparent, and its colours were changed for that")
        return values[..., : self._samples]

    def _together(self, part: int, top: int, bottom: int) -> Values:
        """Return rows of a part of all planes."""
        if self._planes == 1:
            return self._plane(part, top, bottom)
        found = np.empty((bottom - top, self._shape[1], self._planes), self._dtype.newbyteorder("="))
        for plane in range(self._planes):
            found[..., plane] = self._plane(plane * len(self._needed) // self._planes + part, top, bottom)[..., 0]
        return found

    def _plane(self, index: int, top: int, bottom: int) -> Values:
        """Return rows of a part of one plane; of a packed one, all."""
        offset = int(self._offsets[index])
        if self._codec:
            raw = self._unpacked(self._file.at(offset, int(self._sizes[index])), int(self._needed[index]))
        else:
            raw = np.frombuffer(self._file.at(offset + top * self._row, (bottom - top) * self._row), np.uint8)
        values: Values = raw.view(self._dtype.newbyteorder("=")).reshape(-1, *self._shape[1:])
        if not self._dtype.isnative:
            values = values.byteswap(inplace=raw.flags.writeable)
        if self._codec and self._differences:
            np.cumsum(values, axis=1, dtype=values.dtype, out=values)
        return values

    def _unpacked(self, packed: bytes, needed: int) -> NDArray[np.uint8]:
        """Return the bytes of a part; some programs pack the last strip as if it went on below the picture."""
        found = decode(self._file, self._codec, packed, np.empty(self._full + 1, np.uint8))
        if len(found) not in (needed, self._full):
            raise self._file.damaged(f"a strip or tile unpacks to {len(found)} bytes or more, not {needed}")
        return found[:needed]


def open_png(file: PictureFile) -> Raster:
    """Return the picture in a PNG file, which is unpacked whole, or raise the fault of the file."""
    length, name, width, height, bits, colour, *ways = struct.unpack(">I4sIIBBBBB", file.at(8, 21))
    sound = (length, name) == (13, b"IHDR") and 0 < min(width, height) <= max(width, height) < 1 << 31
    if not sound or colour not in (0, 2, 3, 4, 6) or ways not in ([0, 0, 0], [0, 0, 1]):
        raise file.damaged("the header makes no sense")
    if colour == 3 or bits not in (8, 16):
        raise file.refused("the pixels are a palette" if colour == 3 else f"the values have {bits} bit")
    samples = 3 if colour & 2 else 1
    stored = samples + (colour >> 2)
    passes = _PASSES if ways[2] else ((0, 0, 1, 1),)
    sides = [(-(-(height - y) // down), -(-(width - x) // along)) for x, y, along, down in passes]
    size = sum(rows * (1 + columns * stored * bits // 8) for rows, columns in sides if min(rows, columns) > 0)
    if size > file.size * _DEFLATE[1]:
        raise file.damaged(f"a picture of {width} x {height} pixels does not fit into the file's size")
    check_memory(file, file.size, size)
    packed, aside = _chunks(file)
    file.package("imagecodecs")

    @lru_cache(1)
    def whole() -> Values:
        data = b"".join(file.at(*place) for place in packed)
        stream = decode(file, "zlib_decode", data, np.empty(size + 1, np.uint8))
        if len(stream) != size or zlib.adler32(stream.data) != int.from_bytes(data[-4:], "big"):
            raise file.damaged(f"the values unpack to {len(stream)} bytes, not {size}, or others follow")
        del stream
        # the header and the values alone: other chunks might change values, and make the decoder complain
        data = b"".join((file.at(0, 33), *_chunk(b"IDAT", data), *_chunk(b"IEND", b"")))
        values = decode(file, "png_decode", data)
        if values.dtype != f"u{bits // 8}" or values.size != height * width * stored:
            raise file.damaged("the values are not those of the header")
        return values.reshape(height, width, stored)[..., :samples]

    facts = Facts(file.path, width, height, samples, bits, *png_statements(aside))
    return Raster(facts, height, width, lambda _, top, bottom: whole()[top:bottom])


def _chunk(name: bytes, body: bytes) -> tuple[bytes, bytes, bytes, bytes]:
    """Return the parts of a PNG chunk: length, name, body, checksum."""
    return struct.pack(">I", len(body)), name, body, struct.pack(">I", zlib.crc32(body, zlib.crc32(name)))


def _chunks(file: PictureFile) -> tuple[list[tuple[int, int]], dict[bytes, bytes]]:
    """Return the places of the packed values in a PNG file, and the chunks that state something of them."""
    packed: list[tuple[int, int]] = []
    aside: dict[bytes, bytes] = {}
    offset, name = len(PNG_SIGNATURE), b""
    for _ in range(_MOST_CHUNKS):
        before, (length, name) = name, struct.unpack(">I4s", file.at(offset, 8))
        body = file.at(offset + 8, length)
        if file.at(offset + 8 + length, 4) != _chunk(name, body)[3]:
            raise file.damaged(f"the checksum of the chunk at byte {offset} is wrong")
        if (name == b"IHDR" and before) or (name == b"IDAT" and packed and before != name):
            raise file.damaged("the header comes twice, or the values are interrupted")
        if name == b"IDAT":
            packed.append((offset + 8, length))
        elif name == b"IEND":
            break
        elif name in PNG_STATEMENTS:
            aside.setdefault(name, body)
        offset += length + 12
    if not packed or name != b"IEND":
        raise file.damaged(f"the file holds no values, or more than {_MOST_CHUNKS} chunks")
    return packed, aside
