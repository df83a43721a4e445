"""Pictures written as TIFF of 16 bits, some rows at a time, so that a picture of any size takes little memory."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from curves.files.base.writing import write_atomically

_STRIP = 4_000_000
"""Size of the strips that pictures are written in: our own choice [bytes]."""

_CLASSIC = 4_000_000_000
"""Size of the values from which a file is a BigTIFF, as other TIFF files end at 4 GiB [bytes]."""


@dataclass(frozen=True)
class TiffHeader:
    """The facts of a picture to be written.

    Attributes:
        width, height: of the picture [pixels].
        samples: 1 (grey) or 3 (red, green, blue).
        dpi: resolution [pixels per inch]; None if it is not known.
        profile: a colour profile (ICC.1), as the picture came with it; empty if it came without.
    """

    width: int
    height: int
    samples: int
    dpi: float | None
    profile: bytes

    @property
    def rows(self) -> int:
        """The rows of a strip [pixels]."""
        return min(self.height, max(1, _STRIP // (2 * self.width * self.samples)))


def write_tiff(path: Path, header: TiffHeader, strips: Iterator[NDArray[np.uint16]]) -> None:
    """Write a picture of 16 bits; at any moment the old file or the whole new file exists.

    Args:
        path: the file.
        header: what it says of the picture.
        strips: the picture's rows from the top, as many at a time as a strip has, (rows, width, samples).

    Raises:
        OutputError: the file could not be written; what was there before is unchanged.
    """
    # An extra's package: it is there, for it has read the picture whose rows these are.
    import tifffile

    shape = (header.height, header.width, *((3,) if header.samples == 3 else ()))

    def fill(file: BinaryIO) -> None:
        with tifffile.TiffWriter(file, bigtiff=2 * math.prod(shape) > _CLASSIC, byteorder="<") as tiff:
            tiff.write(
                (np.ascontiguousarray(strip, "<u2").tobytes() for strip in strips),
                shape=shape,
                dtype=np.uint16,
                photometric="minisblack" if header.samples == 1 else "rgb",
                rowsperstrip=header.rows,
                resolution=None if header.dpi is None else (header.dpi, header.dpi),
                resolutionunit=None if header.dpi is None else "inch",
                iccprofile=header.profile or None,
                metadata=None,
                software=False,
            )

    write_atomically(path, fill)
