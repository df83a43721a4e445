"""The first search for a ladder of steps: every direction, place and pitch, scored by its edges.

A ladder of steps is a run of plateaus of equal length. At its edges density changes, always in one direction; in the
middle of each plateau it does not change. A direction, place and pitch are therefore scored by the changes at the edges
less the changes at the middles. Each change counts at most one, so that the edge of a holder counts no more than the
edge of a step.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from curves.sensitometry.core.units import FloatArray, density

Float32Array = NDArray[np.float32]

STEEPEST = 10.0
"""Greatest angle between a strip and the side of the picture that is searched [degrees]."""

_ANGLE_STEP = 2.0
_CELL = 0.35
"""Share of a pitch on either side of an edge whose mean densities are compared."""

_PLAIN = 0.05
"""Change of density that counts as a whole edge [density]."""

_SHORTEST = 6.0
"""Shortest pitch in the search [pixels]."""

_LONGEST_SIDE = 640
_DARKEST = 10.0**-3.8
_BANDS = 40
_TRIES = 6


@dataclass(frozen=True)
class LadderGuess:
    """A place where a ladder may lie: a line along the steps, in the picture turned so that the strip is level.

    Attributes:
        upright: True if the strip runs along the picture's y axis, False if along its x axis.
        angle: angle of the strip to its axis [degrees].
        start: place of the first edge along the line [pixels].
        pitch: length of a step [pixels].
        across: place of the line's middle across the strip [pixels].
        sign: 1 if density grows along the line, else -1.
        score: sum of the changes at edges less those at middles, each at most one [unitless].
    """

    upright: bool
    angle: float
    start: float
    pitch: float
    across: float
    sign: int
    score: float

    def middle(self, shape: tuple[int, ...], steps: int) -> FloatArray:
        """Return x and y of the middle of ``steps`` steps in a picture of ``shape``, (2,) [pixels]."""
        point = np.array([[self.start + 0.5 * steps * self.pitch, self.across]])
        return np.asarray(to_picture(point, shape, self.upright, self.angle)[0])


def grey_density(picture: FloatArray) -> FloatArray:
    """Return a grey picture in density, (rows, columns), from light, (rows, columns, samples) [of full scale]."""
    return np.asarray(density(np.maximum(picture, _DARKEST)).mean(axis=2))


def turn_level(grey: FloatArray, upright: bool, angle: float) -> FloatArray:
    """Return the picture turned so that a strip at ``angle`` is level, in the same size, its edge pixels repeated.

    `to_picture` turns points back.
    """
    standing = grey.T if upright else grey
    centre = np.array(standing.shape) / 2.0 - 0.5
    turn = np.radians(angle)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(
        ndimage.affine_transform(standing, matrix, centre - matrix @ centre, order=1, mode="nearest", output=np.float64)
    )


def to_picture(points: FloatArray, shape: tuple[int, ...], upright: bool, angle: float) -> FloatArray:
    """Return the places in the picture of points in the turned picture, x and y (n, 2) [pixels].

    Args:
        points: points of the turned picture, (n, 2) [pixels].
        shape: rows and columns of the picture.
        upright, angle: as for `turn_level`.
    """
    rows, columns = shape[::-1] if upright else shape
    centre = np.array([columns, rows]) / 2.0
    turn = np.radians(angle)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    found = (points - centre) @ matrix.T + centre
    return np.asarray(found[:, ::-1] if upright else found)


def to_level(points: FloatArray, shape: tuple[int, ...], upright: bool, angle: float) -> FloatArray:
    """Return the places in the turned picture of points in the picture, (n, 2): the inverse of `to_picture` [pixels].

    Args:
        points: points of the picture, (n, 2) [pixels].
        shape: rows and columns of the picture.
        upright, angle: as for `turn_level`.
    """
    rows, columns = shape[::-1] if upright else shape
    centre = np.array([columns, rows]) / 2.0
    turn = np.radians(angle)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    standing = points[:, ::-1] if upright else points
    return np.asarray((standing - centre) @ matrix.T + centre)


def ladder_guesses(grey: FloatArray, steps: int) -> list[LadderGuess]:
    """Return places where the steps may lie, best first; many of them are nearly the same place.

    Args:
        grey: the picture, (rows, columns) [density].
        steps: number of steps to find.
    """
    factor = max(1, -(-max(grey.shape) // _LONGEST_SIDE))
    small = _smaller(grey, factor)
    found: list[LadderGuess] = []
    for upright in (False, True):
        for angle in np.arange(-STEEPEST, STEEPEST + 0.5 * _ANGLE_STEP, _ANGLE_STEP):
            found += _level_guesses(turn_level(small, upright, float(angle)), steps, upright, float(angle))
    found.sort(key=lambda g: -g.score)
    return [
        replace(g, start=g.start * factor, pitch=g.pitch * factor, across=g.across * factor) for g in found
    ]  # fmt: skip


def distinct_guesses(found: Iterable[LadderGuess], steps: int, most: int = _TRIES) -> list[LadderGuess]:
    """Return the first ``most`` guesses that differ from each other."""
    kept: list[LadderGuess] = []
    for guess in found:
        if len(kept) == most:
            break
        if not any(_alike(guess, other, steps) for other in kept):
            kept.append(guess)
    return kept


def _smaller(grey: FloatArray, factor: int) -> FloatArray:
    """Return means over blocks of factor x factor pixels; pixels left over at the far sides are cut off."""
    rows, columns = (size // factor * factor for size in grey.shape)
    blocks = grey[:rows, :columns].reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.mean(axis=(1, 3)))


def _alike(one: LadderGuess, other: LadderGuess, steps: int) -> bool:
    near = abs(one.start - other.start) < 0.3 * other.pitch and abs(one.pitch - other.pitch) * steps < 0.5 * other.pitch
    return one.upright == other.upright and one.sign == other.sign and near


def _level_guesses(level: FloatArray, steps: int, upright: bool, angle: float) -> list[LadderGuess]:
    """Return the best place in each band of a picture in which the strip, if any, is level.

    A picture that is thinner than a band gives an empty list.
    """
    height = max(4, level.shape[0] // _BANDS)
    tops = np.arange(0, level.shape[0] - height + 1, max(1, height // 2))
    if tops.size == 0:
        return []
    bands = np.array([np.median(level[top : top + height], axis=0) for top in tops])
    total = np.concatenate([np.zeros((len(tops), 1)), bands.cumsum(axis=1)], axis=1)
    width = level.shape[1]
    best = np.full(len(tops), -np.inf)
    where = np.zeros((len(tops), 3))
    pitch, cell = _SHORTEST, 0
    while pitch * steps <= width + 1e-9:
        # Neighbouring pitches share their changes, which depend only on a cell's length in whole pixels.
        if cell != max(2, round(_CELL * pitch)):
            cell = max(2, round(_CELL * pitch))
            change = _changes(total, cell)
            size = np.abs(change)
        edges, middles = _sums(change, size, pitch, steps)
        for sign in (1, -1):
            score = sign * edges - middles
            at = score.argmax(axis=1)
            top = score[np.arange(len(tops)), at]
            better = top > best
            best[better] = top[better]
            where[better] = np.column_stack([at[better], np.full(better.sum(), pitch), np.full(better.sum(), sign)])
        pitch *= 1.0 + 0.3 / steps
    return [
        LadderGuess(upright, angle, float(start), float(p), float(top + height / 2), int(sign), float(value))
        for value, (start, p, sign), top in zip(best, where, tops, strict=True)
        if value > 3.0
    ]


def _changes(total: FloatArray, cell: int) -> Float32Array:
    """Return the change of mean density at every place, limited to -1 to 1, (bands, width + 1) [whole edges].

    Args:
        total: running sums of density along each band, (bands, width + 1).
        cell: length on either side that is compared [pixels].
    """
    width = total.shape[1] - 1
    here = np.arange(width + 1)
    ahead, behind = np.minimum(here + cell, width), np.maximum(here - cell, 0)
    after = (total[:, ahead] - total[:, here]) / np.maximum(ahead - here, 1)
    before = (total[:, here] - total[:, behind]) / np.maximum(here - behind, 1)
    return np.asarray(np.clip((after - before) / _PLAIN, -1.0, 1.0), dtype=np.float32)


def _sums(change: Float32Array, size: Float32Array, pitch: float, steps: int) -> tuple[Float32Array, Float32Array]:
    """Return sums of the changes at the edges and of their sizes at the middles, for every place, (bands, places).

    Args:
        change, size: change of density at every place, and its absolute value, (bands, width + 1).
        pitch: length of a step [pixels].
        steps: number of steps.
    """
    places = int(change.shape[1] - 1 - pitch * steps) + 1
    edges = np.zeros((change.shape[0], places), dtype=np.float32)
    middles = np.zeros_like(edges)
    for k in range(steps):
        at = round((k + 0.5) * pitch)
        middles += size[:, at : at + places]
        if k:
            at = round(k * pitch)
            edges += change[:, at : at + places]
    return edges, middles
