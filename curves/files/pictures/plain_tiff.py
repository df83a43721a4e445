"""Pictures written as TIFF of 16 bits, some rows at a time, so that a picture of any size takes little memory."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from curves.errors import OutputError, RecordError
from curves.files.base.writing import write_atomically
from curves.files.pictures.image import open_image

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
    """Write a picture of 16 bits that is not there yet, or that a killed run left with the same pixels.

    At any moment no file or the whole file exists.

    Args:
        path: the file.
        header: what it says of the picture.
        strips: the picture's rows from the top, as many at a time as a strip has, (rows, width, samples).

    Raises:
        OutputError: the file is there with other contents, or could not be written.
    """
    if os.path.lexists(path):
        if not path.is_file() or not _holds(path, header, strips):
            raise OutputError(
                "there is already such a file", where=str(path), hint="give another name", settings=("into",)
            )
        return
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


def _holds(path: Path, header: TiffHeader, strips: Iterator[NDArray[np.uint16]]) -> bool:
    """Return True if a file is this picture, to the last pixel."""
    try:
        with open_image(path) as image:
            facts, top = image.facts, 0
            if (facts.width, facts.height, facts.samples, facts.bits) != (
                header.width, header.height, header.samples, 16
            ) or facts.profile != header.profile:  # fmt: skip
                return False
            for strip in strips:
                if not np.array_equal(image.region(top, 0, top + len(strip), facts.width), strip):
                    return False
                top += len(strip)
    except RecordError:
        return False
    return True
