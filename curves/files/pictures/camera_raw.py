"""Raw files of cameras: the sensor's own numbers, in proportion to light, one value of each colour for a mosaic's cell.

rawpy reads the file and unpacks the numbers. Nothing is developed: no white balance, no tone curve, no colour matrix,
no sharpening, and no value is made up between cells. The black level that the file states is the dark of every sample.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.files.pictures.gate import Raster, Values
from curves.files.pictures.picture_file import RAW_ADVICE, PictureFile
from curves.files.pictures.statements import Facts
from curves.sensitometry.core.units import FloatArray

_FULL = 65535.0
_MOST_BYTES, _MOST_PIXELS = 500_000_000, 250_000_000
"""No camera writes more: our own choice [bytes], [unitless]."""

_COLOURS = (0, 1, 2)
_NEEDED = "a raw file whose mosaic repeats every 2 x 2 pixels: one red, two green, one blue"


def open_raw(file: PictureFile) -> Raster:
    """Return the cells of a camera's raw file as a picture of 16 bits, or raise the fault of the file.

    Numbers are those of the sensor, its white level at full scale; the black level stays in, and is `Facts.dark`.
    """
    if file.size > _MOST_BYTES:
        raise file.refused(f"a raw file of {file.size / 1e6:,.0f} MB is not that of a camera", hint=RAW_ADVICE)
    try:
        rawpy = file.package("rawpy", extra="raw")
    except RecordError as error:
        raise RecordError(
            "this seems to be the raw file of a camera, and the package rawpy, which reads it, is not installed",
            where=file.path.name,
            needed=error.needed,
            hint=f"{error.hint}; or {RAW_ADVICE}",
        ) from error
    try:
        with rawpy.imread(str(file.path)) as raw:
            cells, dark, white = _cells(file, raw, flat=rawpy.RawType.Flat)
    except RecordError:
        raise
    except Exception as error:  # whatever the package stumbles over
        raise file.refused(
            "the file is neither TIFF, PNG nor JPEG, nor a raw file that can be read",
            hint=f"{RAW_ADVICE}; if this is an ordinary TIFF, rename it to .tif",
        ) from error
    height, width, _ = cells.shape
    # The sensor's own steps: numbers are stretched so that its white level is full scale.
    facts = Facts(file.path, width, height, 3, 16, None, "", step=max(1.0, _FULL / white), dark=dark)

    def read(_: int, top: int, bottom: int) -> Values:
        return cells[top:bottom]

    return Raster(facts, height, width, read)


def _cells(file: PictureFile, raw: Any, flat: object) -> tuple[NDArray[np.uint16], tuple[float, ...], float]:
    """Return one value a colour and full cell, the black level of each colour [of full scale], and the white level.

    A cell with a clipped pixel has full scale in that colour.
    """
    if raw.raw_type != flat or raw.raw_pattern is None or raw.num_colors != 3:
        raise file.refused(
            "the raw file holds colours that a camera or a program has mixed already", _NEEDED, RAW_ADVICE
        )
    numbers = raw.raw_image_visible
    if numbers.ndim != 2 or not 4 <= numbers.size <= _MOST_PIXELS:
        raise file.refused("the raw file holds no mosaic of a usual size", _NEEDED, RAW_ADVICE)
    names = [{"R": 0, "G": 1, "B": 2}.get(chr(c), -1) for c in raw.color_desc]
    pattern = np.array(raw.raw_colors_visible[:2, :2])
    colours = [names[int(n)] if int(n) < len(names) else -1 for n in pattern.ravel()]
    if raw.raw_pattern.shape != (2, 2) or sorted(colours) != [0, 1, 1, 2]:
        raise file.refused("the sensor's mosaic is of another kind", _NEEDED, RAW_ADVICE)
    white = float(raw.white_level)
    black = [float(raw.black_level_per_channel[int(n)]) for n in pattern.ravel()]
    if not white > max(black) >= 0.0:
        raise file.damaged(f"its white level {white:g} is not above its black level {max(black):g}")
    rows, columns = numbers.shape[0] // 2, numbers.shape[1] // 2
    found = np.empty((rows, columns, 3), np.uint16)
    dark = []
    for colour in _COLOURS:
        places = [n for n in range(4) if colours[n] == colour]
        level = float(np.mean([black[n] for n in places]))
        dark.append(level / white)
        found[..., colour] = _mean(numbers, places, [black[n] - level for n in places], white, (rows, columns))
    return found, tuple(dark), white


def _mean(
    numbers: NDArray[np.uint16], places: list[int], off: list[float], white: float, shape: tuple[int, int]
) -> NDArray[np.uint16]:
    """Return the mean of one colour's pixels in each cell [65535 at the white level]; full scale if one is clipped.

    Args:
        numbers: the mosaic.
        places: of the colour in a cell, 0 to 3 row by row.
        off: black level of each place less the colour's.
        white: number at which the sensor is full.
        shape: rows and columns of cells.
    """
    rows, columns = shape
    parts: list[FloatArray] = []
    clipped = np.zeros(shape, np.bool_)
    for place, more in zip(places, off, strict=True):
        part = numbers[place // 2 : 2 * rows : 2, place % 2 : 2 * columns : 2]
        clipped |= part >= white
        parts.append(part.astype(np.float64) - more)
    mean = functools.reduce(np.add, parts) / len(parts)
    return np.where(clipped, _FULL, np.clip(np.rint(mean * (_FULL / white)), 0, _FULL - 1.0)).astype(np.uint16)
