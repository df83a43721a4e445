"""How the picture of a TIFF file lies in it: which pictures are read, and where each strip or tile is.

Tags and their numbers are those of TIFF, revision 6.0 (1992). All that the file claims is held against its size here,
before anything is unpacked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.files.pictures.pixels import (
    DEFLATE_RATIO,
    MOST_AT_ONCE,
    PLAIN_TIFF,
    RAW_ADVICE,
    Bytes,
    image_codecs,
    too_large,
)
from curves.files.pictures.tiff_directory import Directories, Directory, is_raw

UNCOMPRESSED, LZW, DEFLATE = 1, 5, 8
_PACKINGS = {1: UNCOMPRESSED, 5: LZW, 8: DEFLATE, 32946: DEFLATE}
# An LZW code has at most 12 bits and stands for at most 3839 bytes.
_TIGHTEST = {LZW: 2560, DEFLATE: DEFLATE_RATIO}
_LOSSY = {6: "JPEG", 7: "JPEG", 34712: "JPEG 2000", 50001: "WebP", 50002: "JPEG XL", 52546: "JPEG XL"}
_COLOURS = {3: "a palette", 4: "a mask", 5: "inks (CMYK)", 6: "luma and chroma (YCbCr)", 8: "Lab", 9: "Lab", 10: "Lab"}
# Our own choices: a scan has fewer segments, a packed one unpacks to less [bytes], samples, and pixels a side.
_MOST_SEGMENTS = 4_000_000
_MOST_UNPACKED = 2_000_000_000
_MOST_STORED = 16
_MOST_SIDE = 1_000_000


@dataclass(frozen=True)
class Layout:
    """Where the values of a picture are.

    Attributes:
        width, height: of the picture [pixels].
        samples: colours a pixel, 1 or 3.
        stored: samples a pixel as stored, alpha and others among them; the colours come first.
        premultiplied: which stored sample is an alpha that the colours were multiplied with; None if none is.
        dtype: of a stored value, with its byte order.
        packing: UNCOMPRESSED, LZW or DEFLATE.
        differences: each value is stored as its difference from its neighbour on the left.
        planar: each sample has a plane of its own.
        tiled: the segments are tiles, all of full size; otherwise strips, the last of which may be shorter.
        across, down: how many segments a plane has, side by side and one below the other.
        segment_width, segment_height: [pixels].
        offsets, counts: of the segments, row by row, plane by plane [bytes].
    """

    width: int
    height: int
    samples: int
    stored: int
    premultiplied: int | None
    dtype: np.dtype[np.uint8] | np.dtype[np.uint16]
    packing: int
    differences: bool
    planar: bool
    tiled: bool
    segment_width: int
    segment_height: int
    offsets: NDArray[np.int64]
    counts: NDArray[np.int64]

    @property
    def across(self) -> int:
        """How many segments stand side by side."""
        return -(-self.width // self.segment_width)

    @property
    def down(self) -> int:
        """How many segments stand one below the other."""
        return -(-self.height // self.segment_height)

    @property
    def together(self) -> int:
        """How many samples of a pixel stand together in a segment."""
        return 1 if self.planar else self.stored

    @property
    def row_bytes(self) -> int:
        """Size of a segment's row, unpacked [bytes]."""
        return self.segment_width * self.together * self.dtype.itemsize

    def rows_in(self, row: int) -> int:
        """Return how many rows a segment of a row of segments has; the last strip ends with the picture."""
        return self.segment_height if self.tiled else min(self.segment_height, self.height - row * self.segment_height)


def the_picture(directories: Directories, file: Bytes) -> Directory:
    """Return the directory of the one picture of full size.

    Others may be reduced copies or masks, by their own word (tag 254) or by their size: at most half as wide and half
    as high, which is our own choice.

    Raises:
        RecordError: the file is a camera's raw file, or holds several pictures.
    """
    pages = directories.chain()
    if any(map(is_raw, pages)) or any(is_raw(part) for page in pages for part in directories.below(page, 330)):
        raise file.refused("the file is a raw file of a camera", hint=RAW_ADVICE)
    full = [page for page in pages if not page.integer(254, 0) & 5] or pages
    sizes = [(page.integer(256), page.integer(257)) for page in full]
    largest = max(range(len(full)), key=lambda index: sizes[index][0] * sizes[index][1])
    width, height = sizes.pop(largest)
    others = [size for size in sizes if 2 * size[0] > width or 2 * size[1] > height]
    if others:
        raise file.refused(
            f"the file holds {len(others) + 1} pictures",
            needed="one picture; reduced copies of it may stand beside it",
            hint="save each picture as a file of its own",
        )
    return full[largest]


def layout_of(page: Directory) -> Layout:
    """Return where the values of a picture are.

    Raises:
        RecordError: the picture is of a kind that is not read, or the file cannot hold what it claims.
    """
    file = page.file
    width, height = page.integer(256), page.integer(257)
    if not (width and height):
        raise file.damaged(f"its picture is {width} x {height} pixels")
    samples = _colours(page)
    stored = page.integer(277, 1)
    if not samples <= stored <= _MOST_STORED:
        raise file.refused(f"its pixels have {stored} samples for {samples} colours")
    extra = page.integers(338, _MOST_STORED)
    premultiplied = [] if extra is None else [i for i, kind in enumerate(extra.tolist()) if kind == 1]
    planes = page.integer(284, 1)
    if planes not in (1, 2):
        raise file.damaged(f"its planar configuration is {planes}, not 1 or 2")
    packing, differences = _packing(page)
    tiled = 322 in page
    across, down = (page.integer(322), page.integer(323)) if tiled else (width, min(page.integer(278, height), height))
    if not (across and down):
        raise file.damaged(f"its strips or tiles are {across} x {down} pixels")
    if max(width, height, across, down) > _MOST_SIDE:
        raise file.damaged(f"a picture of {width} x {height} pixels, in parts of {across} x {down}, is no scan")
    count = -(-width // across) * -(-height // down) * (stored if planes == 2 else 1)
    if count > _MOST_SEGMENTS:
        raise file.damaged(f"a picture of {width} x {height} pixels in {count} parts is no scan")
    layout = Layout(
        width=width,
        height=height,
        samples=samples,
        stored=stored,
        premultiplied=samples + premultiplied[0] if premultiplied else None,
        dtype=_dtype(page, stored),
        packing=packing,
        differences=differences,
        planar=planes == 2,
        tiled=tiled,
        segment_width=across,
        segment_height=down,
        offsets=_places(page, 324 if tiled else 273, count),
        counts=_places(page, 325 if tiled else 279, count),
    )
    if layout.premultiplied is not None and layout.premultiplied >= stored:
        raise file.damaged("it describes more extra samples than its pixels have")
    _check_sizes(layout, file)
    _check_places(layout, page)
    return layout


def _colours(page: Directory) -> int:
    """Return how many colours a pixel has."""
    colour = page.integer(262)
    if colour == 0:
        # Whether such numbers follow the light or the density is not said by anyone; turning them round would be a
        # guess, and a wrong one turns the curve round.
        raise page.file.refused(
            "its grey runs from white at 0 to black",
            needed="grey with black at 0",
            hint="save it again with black at 0 (as most programs do), and look whether the light parts are light",
        )
    if colour not in (1, 2):
        raise page.file.refused(f"its pixels are {_COLOURS.get(colour, f'of an unknown kind, {colour}')}")
    return 1 if colour == 1 else 3


def _dtype(page: Directory, stored: int) -> np.dtype[np.uint8] | np.dtype[np.uint16]:
    """Return the type of a stored value, with its byte order."""
    bits = page.integers(258, _MOST_STORED)
    kinds = {1} if bits is None else set(bits.tolist())
    forms = page.integers(339, _MOST_STORED)
    for values in (bits, forms):
        if values is not None and len(values) not in (1, stored):
            raise page.file.damaged(f"it describes {len(values)} samples, and a pixel has {stored}")
    if forms is not None and set(forms.tolist()) != {1}:
        names = {2: "signed integers", 3: "floating-point numbers"}
        raise page.file.refused(f"its values are {names.get(int(forms.max()), 'of an unknown form')}")
    if kinds not in ({8}, {16}):
        raise page.file.refused(f"its values have {' and '.join(map(str, sorted(kinds)))} bit")
    if page.integer(266, 1) != 1:
        raise page.file.refused("the bits of its bytes run backwards")
    return np.dtype(np.uint8) if kinds == {8} else np.dtype(np.uint16).newbyteorder("<" if page.order == "<" else ">")


def _packing(page: Directory) -> tuple[int, bool]:
    """Return how the values are packed, and whether they are differences."""
    number = page.integer(259, 1)
    if number in _LOSSY:
        raise page.file.refused(f"its values are packed as {_LOSSY[number]}, which may change them")
    if number not in _PACKINGS:
        raise page.file.refused(
            f"its values are packed in a way that is not read (compression {number})",
            needed="an uncompressed TIFF, or LZW or deflate (also called ZIP)",
            hint=PLAIN_TIFF,
        )
    predictor = page.integer(317, 1)
    if predictor not in (1, 2):
        raise page.file.refused(f"its values are packed with predictor {predictor}", needed="none, or the horizontal")
    return _PACKINGS[number], predictor == 2 and number != 1


def _places(page: Directory, tag: int, count: int) -> NDArray[np.int64]:
    """Return offsets or sizes of the segments, after looking that each is a place in the file [bytes]."""
    values = page.integers(tag, _MOST_SEGMENTS)
    if values is None or len(values) != count:
        found = 0 if values is None else len(values)
        raise page.file.damaged(f"its picture needs {count} strips or tiles, and tag {tag} has {found}")
    if values.max() > page.file.size:
        raise page.file.damaged(f"part of its picture lies beyond the end of the file (tag {tag})")
    return values.astype(np.int64)


def _check_sizes(layout: Layout, file: Bytes) -> None:
    """Raise if a segment is too small for what it must hold, or too large to unpack."""
    full = layout.row_bytes * layout.rows_in(0)
    last = layout.row_bytes * layout.rows_in(layout.down - 1)
    tightest = _TIGHTEST.get(layout.packing, 1)
    if max(full, layout.row_bytes * layout.height) > file.size * tightest:
        raise file.damaged(f"a picture of {layout.width} x {layout.height} pixels does not fit into its size")
    grid = np.full((layout.stored if layout.planar else 1, layout.down, layout.across), full, dtype=np.int64)
    grid[:, -1] = last
    needed = grid.ravel()
    if np.any(layout.counts * tightest < needed):
        raise file.damaged("a strip or tile has fewer bytes than its pixels need")
    if layout.packing == UNCOMPRESSED:
        return
    if np.any(needed + layout.counts > MOST_AT_ONCE):
        raise too_large(file, full)
    if needed.sum() > _MOST_UNPACKED:
        raise file.refused(
            f"its picture unpacks to {needed.sum() / 1e6:,.0f} MB",
            needed=f"at most {_MOST_UNPACKED / 1e6:,.0f} MB",
            hint="cut the picture to the strip, or save it uncompressed; then any size is read",
        )
    if layout.packing == LZW:
        image_codecs(file.name)


def _check_places(layout: Layout, page: Directory) -> None:
    """Raise if a segment is empty, leaves the file, or lies on another one or on the directory."""
    file = page.file
    starts = np.append(layout.offsets, page.start)
    ends = starts + np.append(layout.counts, page.end - page.start)
    if not layout.counts.all() or ends.max() > file.size or starts.min() < 8:
        raise file.damaged("part of its picture is missing")
    order = np.argsort(starts, kind="stable")
    if np.any(ends[order][:-1] > starts[order][1:]):
        raise file.damaged("parts of its picture lie on each other")
