"""A camera's raw file for tests, in the open format built on TIFF (DNG): a mosaic, its pattern, its black and white."""

from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

RGGB = (0, 1, 1, 2)


def write_dng(
    path: Path,
    mosaic: NDArray[np.uint16],
    black: tuple[int, int, int, int] = (256, 256, 256, 256),
    white: int = 4095,
    pattern: tuple[int, int, int, int] = RGGB,
) -> Path:
    """Write a mosaic as a raw file; return its path.

    Args:
        path: the file.
        mosaic: numbers of the sensor, (rows, columns).
        black: number without light at each place of a cell, row by row.
        white: number at which the sensor is full.
        pattern: colour at each place of a cell: 0 red, 1 green, 2 blue.
    """
    matrix = (10000, 10000, 0, 1, 0, 1, 0, 1, 10000, 10000, 0, 1, 0, 1, 0, 1, 10000, 10000)
    tags = [
        (33421, "H", 2, (2, 2), True),
        (33422, "B", 4, pattern, True),
        (50706, "B", 4, (1, 4, 0, 0), True),
        (50708, "s", 0, "Heron test camera", True),
        (50713, "H", 2, (2, 2), True),
        (50714, "H", 4, black, True),
        (50717, "I", 1, white, True),
        (50721, "2i", 9, matrix, True),
        (50728, "2I", 3, (1, 2, 1, 1, 2, 3), True),
        (50778, "H", 1, 21, True),
    ]
    tifffile.imwrite(path, mosaic, photometric=32803, planarconfig=1, subfiletype=0, extratags=tags, metadata=None)
    return path
