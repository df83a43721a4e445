"""The light of a scan's patch, with its uncertainty, and remarks on the patch.

Light is averaged, not density: a densitometer, too, lets all of a patch's light fall on one cell. The mean of the
densities of single pixels is greater, by half the variance of the light times ln 10 and more, so that a grainy patch
would read darker than it is; and a pixel without light has no density.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from curves.sensitometry.core.units import BY_MEDIAN, BoolArray, Channel, FloatArray, IndexArray
from curves.sensitometry.strip.origin import Flag

FEWEST_PIXELS = 64
"""Least number of pixels of a patch: our own choice [unitless]."""

CLIPPED = 0.001
"""Share of pixels at an end of the scale from which there is a remark on a patch [unitless]."""

DUSTY = 0.05
"""Share of a patch left out as dust or scratches from which there is a remark [unitless]."""

UNEVEN = 0.03
"""Change of density across a patch from which there is a remark [density]."""

_OUTLYING = 4.5
"""Distance from the median, over the scatter, from which a pixel is dust: of normal pixels one in 150 000 lies beyond:
our own choice [unitless]."""


_SMOOTH = 5
"""Side of the squares whose means are searched for faint dust: our own choice [pixels]."""

_TILT = 5.0 * math.sqrt(12.0)
"""Change from side to side that is certain, over the error of the mean: the slope of a line through n even places has,
over the whole length, an error of the mean's times the root of 12 [unitless]."""

_BLOCKS = 6
"""Parts of a patch in either direction, whose means give the error: our own choice [unitless]."""

_FILLED = 0.3
"""Least share of the pixels of the fullest part that a part must have to count: our own choice [unitless]."""


@dataclass(frozen=True)
class PatchLight:
    """The light of one patch in one channel.

    Attributes:
        light: robust mean [of full scale].
        error: standard error of the mean, from the differences between parts of the patch [of full scale].
        unevenness: change of density across the patch, by a fitted plane [density]; NaN without light.
        clipped_low, clipped_high: share of pixels at either end of the scale [unitless].
        dust: share of pixels left out as dust or scratches [unitless].
        pixels: number of pixels that count [unitless].
    """

    light: float
    error: float
    unevenness: float
    clipped_low: float
    clipped_high: float
    dust: float
    pixels: int


@dataclass(frozen=True, eq=False)
class FilmPiece:
    """A single piece of film beside the strip.

    Attributes:
        name: key in the record: "base", "unexposed" or "fully_exposed".
        corners: corners of the measured area, going round, (4, 2) [pixels].
        densities: density by channel [density], without channels that could not be read.
    """

    name: str
    corners: FloatArray
    densities: Mapping[Channel, float]

    @property
    def label(self) -> str:
        """The name in words."""
        return self.name.replace("_", " ")


def remarks_on(patch: int, flags: Iterable[Flag]) -> dict[str, tuple[Channel, ...]]:
    """Return the remarks on a patch, each once, with its channels; without channels a remark is on all of them.

    Args:
        patch: number of the patch, from 1.
        flags: remarks on all patches.
    """
    found: dict[str, tuple[Channel, ...]] = {}
    for flag in flags:
        if flag.patch == patch:
            found[flag.message] = (*found.get(flag.message, ()), *([] if flag.channel is None else [flag.channel]))
    return found


def pixels_inside(corners: FloatArray, rows: int, columns: int) -> BoolArray:
    """Return True for the pixels of a picture whose middles lie inside a convex area, (rows, columns).

    Args:
        corners: x and y of the corners, going round in either direction, (n, 2) [pixels].
        rows, columns: size of the picture [pixels].
    """
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    sides = [
        (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ]
    return np.asarray(np.all([s >= 0 for s in sides], axis=0) | np.all([s <= 0 for s in sides], axis=0))


def patch_light(light: FloatArray, raw: FloatArray, within: BoolArray) -> PatchLight:
    """Return the light of one patch in one channel.

    Args:
        light: the picture around the patch, in proportion to light, (rows, columns) [of full scale].
        raw: the same picture as recorded, which shows clipped pixels [of full scale].
        within: True for the pixels of the patch.
    """
    # 1. Pixels at an end of the scale are clipped: their light is only known to be less or more.
    low, high = float((raw[within] <= 0.0).mean()), float((raw[within] >= 1.0).mean())
    # 2. Dust and scratches: single pixels, and means of small areas, far from the rest.
    one = _one_number(light, within)
    kept = within & ~_outlying(light, within, one)
    kept &= ~_outlying(_smoothed(light, within), within, one)
    # 3. The mean of the rest, and the scatter of parts of the patch about a plane.
    y, x = np.nonzero(kept)
    values = light[kept]
    mean = float(values.mean())
    design = np.column_stack([np.ones(x.size), x - x.mean(), y - y.mean()])
    plane, *_ = np.linalg.lstsq(design, values, rcond=None)
    slope = abs(plane[1]) * np.ptp(x) + abs(plane[2]) * np.ptp(y)
    return PatchLight(
        light=mean,
        error=_error(x, y, values - design @ plane),
        unevenness=float(slope) / (mean * math.log(10.0)) if mean > 0 else math.nan,
        clipped_low=low,
        clipped_high=high,
        dust=1.0 - float(kept.sum() / within.sum()),
        pixels=int(kept.sum()),
    )


def _outlying(values: FloatArray, within: BoolArray, one: float) -> BoolArray:
    """Return True for pixels whose distance from a patch's median is large against the scatter and several codes."""
    middle = np.median(values[within])
    spread = BY_MEDIAN * np.median(np.abs(values[within] - middle))
    return np.asarray(np.abs(values - middle) > _OUTLYING * max(float(spread), one))


def _one_number(light: FloatArray, within: BoolArray) -> float:
    """Return the least difference of a patch's numbers, one code [of full scale]: in dark patches most are equal."""
    gaps = np.diff(np.unique(light[within]))
    return float(gaps.min()) if gaps.size else 1e-9


def _smoothed(light: FloatArray, within: BoolArray) -> FloatArray:
    """Return means over small squares, which only pixels of the patch enter."""
    inner = np.where(within, light, 0.0)
    share = ndimage.uniform_filter(within.astype(np.float64), _SMOOTH, mode="constant")
    return np.asarray(ndimage.uniform_filter(inner, _SMOOTH, mode="constant") / np.maximum(share, 1e-6))


def _error(x: IndexArray, y: IndexArray, rest: FloatArray) -> float:
    """Return the standard error of a patch's mean, from the means of its parts: grain is not independent by pixel."""
    column = np.minimum((x - x.min()) * _BLOCKS // (np.ptp(x) + 1), _BLOCKS - 1)
    row = np.minimum((y - y.min()) * _BLOCKS // (np.ptp(y) + 1), _BLOCKS - 1)
    part = (row * _BLOCKS + column).astype(np.intp)
    count = np.bincount(part, minlength=_BLOCKS**2)
    total = np.bincount(part, weights=rest, minlength=_BLOCKS**2)
    filled = count > _FILLED * count.max()
    means = total[filled] / count[filled]
    return float(means.std(ddof=1) / math.sqrt(means.size)) if means.size > 1 else math.nan


def patch_flags(patch: int, channel: Channel, found: PatchLight) -> list[Flag]:
    """Return the remarks on a patch in one channel."""
    flags = []
    if found.clipped_high > CLIPPED:
        flags.append(
            Flag(patch, "clipped-clear", f"{found.clipped_high:.0%} of it is at the scale's bright end: the scan was"
                 " exposed too long", channel)
        )  # fmt: skip
    if found.clipped_low > CLIPPED:
        flags.append(
            Flag(patch, "clipped-dark", f"{found.clipped_low:.0%} of it is at the scale's dark end: denser than the"
                 " scan can show", channel)
        )  # fmt: skip
    if found.dust > DUSTY:
        flags.append(Flag(patch, "dust", f"{found.dust:.0%} of it is left out as dust or scratches", channel))
    certain = _TILT * found.error / (max(found.light, 1e-9) * math.log(10.0))
    if found.unevenness > max(UNEVEN, certain):
        flags.append(
            Flag(patch, "uneven", f"its density changes by {found.unevenness:.2f} from side to side: uneven light, or"
                 " not one step", channel)
        )  # fmt: skip
    return flags


_CELLS, _SMALLEST = 48, 0.2
"""Cells along a picture's longer side, and least side of an area against the picture's, in a search for an even area:
our own choice [unitless]."""

_EVEN, _BRIGHTEST_FILM = 0.04, 0.96
"""Range of density within an even area [density], and the share of clear light from which a place is the open gate:
our own choice."""


def largest_even_area(transmittance: FloatArray) -> FloatArray | None:
    """Return the corners of the largest even rectangle of film in a picture, going round, (4, 2) [pixels]; or None.

    Rectangles of many sizes, all of the picture's shape, are tried from the largest down; of those of one size the most
    even counts. The open gate is not film. The rectangle is returned without its outer eighth on each side.

    Args:
        transmittance: of the picture, (rows, columns, samples) [unitless].
    """
    rows, columns, samples = transmittance.shape
    block = max(1, -(-max(rows, columns) // _CELLS))
    high, wide = rows // block, columns // block
    if min(high, wide) < 5:
        return None
    cut = transmittance[: high * block, : wide * block].reshape(high, block, wide, block, samples)
    cells = np.maximum(np.median(cut, axis=(1, 3)), 1e-5)
    level = -np.log10(cells)
    for share in np.arange(1.0, _SMALLEST - 0.01, -0.05):
        h, w = max(3, int(share * high)), max(3, int(share * wide))
        best: tuple[float, int, int] | None = None
        for top in range(high - h + 1):
            for left in range(wide - w + 1):
                part = level[top : top + h, left : left + w]
                low, most = np.quantile(part, (0.05, 0.95), axis=(0, 1))
                spread = float((most - low).max())
                bright = float(np.median(cells[top : top + h, left : left + w], axis=(0, 1)).min())
                if bright < _BRIGHTEST_FILM and spread <= _EVEN and (best is None or spread < best[0]):
                    best = spread, top, left
        if best is not None:
            _, top, left = best
            x0, x1 = (left + w / 8.0) * block, (left + w * 7.0 / 8.0) * block
            y0, y1 = (top + h / 8.0) * block, (top + h * 7.0 / 8.0) * block
            return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    return None
