"""A scan as it lies on the disk: 8 or 16 bit, grey or RGB, TIFF, PNG or JPEG, or the raw file of a camera.

Any part of it is read, or all of it made small. Bit depth is never lowered and values are not changed. A picture is
taken as stored: an orientation that the file states for display is not applied, because densities do not depend on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Self

import numpy as np

from curves.errors import RecordError
from curves.files.pictures.camera_raw import open_raw
from curves.files.pictures.gate import PNG_SIGNATURE, Raster, Values, open_png, open_tiff
from curves.files.pictures.jpeg import open_jpeg
from curves.files.pictures.picture_file import PictureFile
from curves.files.pictures.statements import Facts
from curves.sensitometry.core.units import FloatArray

__all__ = ["Facts", "Image", "open_image"]

JPEG_SIGNATURE = b"\xff\xd8\xff"
_TIFF_NAMES = (".tif", ".tiff", ".btf")
# Blocks are handed on in rows of about this size: our own choice [bytes].
_BLOCK = 16_000_000


class Image:
    """A picture whose values are read when they are asked for, made by `open_image`. A context manager.

    Attributes:
        facts: size, depth, resolution and encoding as the file states them.
    """

    def __init__(self, raster: Raster, file: PictureFile) -> None:
        self.facts = raster.facts
        self._raster = raster
        self._file = file

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def region(self, top: int, left: int, bottom: int, right: int) -> Values:
        """Return the values of a half-open rectangle, (rows, columns, samples), in native byte order.

        Args:
            top, left, bottom, right: the rectangle [pixels]; it must lie inside the picture.

        Raises:
            ValueError: the rectangle is not inside the picture.
            RecordError: the file is damaged there.
        """
        facts = self.facts
        if not (0 <= top <= bottom <= facts.height and 0 <= left <= right <= facts.width):
            raise ValueError(
                f"rows {top} to {bottom}, columns {left} to {right} are not inside {facts.height} x {facts.width}"
            )
        shape = (bottom - top, right - left, facts.samples)
        found: Values = np.empty(shape, np.uint8) if facts.bits == 8 else np.empty(shape, np.uint16)
        for row, column, values in self._blocks(top, left, bottom, right):
            assert values.dtype == found.dtype, "a reader changed the bit depth"
            down, across = row - top, column - left
            found[down : down + values.shape[0], across : across + values.shape[1]] = values
        return found

    def reduced(self, longest: int = 1200) -> tuple[FloatArray, int]:
        """Return the whole picture made small, (rows, columns, samples) [0 to 1 of full scale], and the factor.

        Each value is the mean of a block of factor x factor raw values; blocks at the right and lower edge are cut
        off by the picture and hold fewer. The picture is read part by part, each once.

        Args:
            longest: the longer side at most [pixels].

        Raises:
            ValueError: ``longest`` is below 1.
            RecordError: the file is damaged.
        """
        if longest < 1:
            raise ValueError(f"the longer side must be 1 or more, not {longest}")
        height, width = self.facts.height, self.facts.width
        factor = -(-max(height, width) // longest)
        sums = np.zeros((-(-height // factor), -(-width // factor), self.facts.samples))
        for row, column, values in self._blocks(0, 0, height, width):
            part = _block_sums(values, row, column, factor)
            down, across = row // factor, column // factor
            sums[down : down + part.shape[0], across : across + part.shape[1]] += part
        counts = np.outer(*(np.diff([*_block_starts(0, side, factor), side]) for side in (height, width)))
        full_scale = float(2**self.facts.bits - 1)
        return sums / (counts[..., None] * full_scale), factor

    def _blocks(self, top: int, left: int, bottom: int, right: int) -> Iterator[tuple[int, int, Values]]:
        """Yield blocks that cover a rectangle, each value once: the first row and column, and the values."""
        _, high, wide, read = self._raster
        step = max(1, _BLOCK // (wide * self.facts.samples * self.facts.bits // 8))
        for row in range(top - top % high, bottom, high):
            for column in range(left - left % wide, right, wide):
                part = row // high * -(-self.facts.width // wide) + column // wide
                first, last = max(left, column), min(right, column + wide)
                for start in range(max(top, row), min(bottom, row + high), step):
                    stop = min(start + step, bottom, row + high)
                    yield start, first, read(part, start - row, stop - row)[:, first - column : last - column]


def open_image(path: Path | str) -> Image:
    """Open a scan, of a kind that its content tells, not its name.

    Args:
        path: a TIFF file (classic or Big; strips or tiles; uncompressed, LZW or deflate), a PNG or JPEG file, or the
            raw file of a camera, whose cells become pixels.

    Returns:
        The picture; close it, or use it in a ``with`` statement.

    Raises:
        RecordError: there is no such file, it is damaged, or it is of a kind that is not read; the error says why, and
            what to do instead.
    """
    path = Path(path)
    try:
        if path.is_dir():
            raise RecordError("this is a folder", where=str(path), needed="a picture file")
        if not path.exists():
            raise RecordError("there is no such file", where=str(path), hint="check the name")
        if not path.is_file():  # a pipe, say, on which reading would wait for ever
            raise RecordError("this is not an ordinary file", where=str(path), needed="a picture file")
        file = PictureFile(path)
    except OSError as error:
        raise RecordError(f"the file cannot be opened: {error.strerror}", where=str(path)) from error
    try:
        return Image(_raster(file), file)
    except BaseException:
        file.close()
        raise


def _raster(file: PictureFile) -> Raster:
    """Return the picture in a file, of the kind that its first bytes tell."""
    start = file.at(0, min(16, file.size))
    if not start:
        raise file.refused("the file is empty", hint="copy the file again, or scan again")
    if start.startswith(PNG_SIGNATURE):
        return open_png(file)
    if start[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        # Raw files of many cameras are built like a TIFF, and only their names differ.
        return open_tiff(file) if file.path.suffix.lower() in _TIFF_NAMES else open_raw(file)
    if start.startswith(JPEG_SIGNATURE):
        return open_jpeg(file)
    if file.size < 8 or PNG_SIGNATURE.startswith(start[:2]):
        raise file.damaged("the file begins as neither a TIFF, a PNG nor a JPEG does")
    return open_raw(file)


def _block_sums(values: Values, top: int, left: int, factor: int) -> FloatArray:
    """Return the sums of the values that fall into each block of the whole picture's grid that they touch."""
    wide = np.uint32 if factor <= 1 << 16 else np.uint64  # 2^16 sums of 16 bit have room in 32
    edges = [*_block_starts(top, values.shape[0], factor), values.shape[0]]
    # one sum a block: np.add.reduceat along the rows takes more than ten times as long
    by_row = np.stack([values[first:end].sum(axis=0, dtype=wide) for first, end in pairwise(edges)])
    return np.add.reduceat(by_row, _block_starts(left, values.shape[1], factor), axis=1, dtype=np.float64)


def _block_starts(first: int, count: int, factor: int) -> list[int]:
    """Return the places, among ``count`` values from ``first`` on, at which a block begins; 0 is one of them."""
    return [0, *range(factor - first % factor, count, factor)]
