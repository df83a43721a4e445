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

from curves.sensitometry.core.units import FloatArray, IndexArray, density

Int16Array = NDArray[np.int16]

STEEPEST = 10.0
"""Greatest angle between a strip and the side of the picture that is searched [degrees]."""

_ANGLES = (-8.0, -4.0, 0.0, 4.0, 8.0)
"""Angles that are looked at: none that is searched lies more than two away [degrees]."""

_CELL = 0.35
"""Share of a pitch on either side of an edge whose mean densities are compared."""

_PLAIN = 0.05
"""Change of density that counts as a whole edge [density]."""

_SHORTEST = 6.0
"""Shortest pitch in the search [pixels]."""

_LONGEST_SIDE = 640
"""Longest side of the picture that is searched; a larger one is reduced: our own choice [pixels]."""

_DARKEST = 10.0**-3.8
"""Least light whose density is told from black, that of a density of 3.8: our own choice [of the open gate]."""

_BANDS = 40
"""Bands, side by side, in which steps are looked for: our own choice [unitless]."""

_LEAST_SCORE = 3.0
"""Least score of a place that is worth a fit [unitless]."""

_LARGEST = 32767
"""Largest score in 16 bits: a quarter of the time that 32 bits take."""

_TRIES = 6
"""Most guesses that are fitted: our own choice [unitless]."""


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
        for angle in _ANGLES:
            found += _level_guesses(turn_level(small, upright, angle), steps, upright, angle)
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
    third = max(4, level.shape[0] // _BANDS) // 3
    tops = np.arange(0, level.shape[0] - 3 * third + 1, max(1, 3 * third // 2))
    if tops.size == 0:
        return []
    total = _running_sums(_band_profiles(level, tops, third))
    width = len(total) - 1
    looks = []
    pitch, cell = _SHORTEST, 0
    while pitch * steps <= width + 1e-9:
        # Neighbouring pitches share their changes, which depend only on a cell's length in whole pixels.
        if cell != max(2, round(_CELL * pitch)):
            cell = max(2, round(_CELL * pitch))
            change = _changes(total, cell, _LARGEST // steps)
            size = np.abs(change)
        looks.append((pitch, *_best_starts(change, size, pitch, steps)))
        pitch *= 1.0 + 0.3 / steps
    if not looks:
        return []
    pitches, starts, scores, edges = (np.array(part) for part in zip(*looks, strict=True))
    best = scores.argmax(axis=0)
    half = 1.5 * third
    return [
        LadderGuess(
            upright, angle, float(starts[p, b]), float(pitches[p]), float(tops[b] + half),
            1 if edges[p, b] >= 0 else -1, float(scores[p, b]) / (_LARGEST // steps),
        )
        for b, p in enumerate(best)
        if scores[p, b] > _LEAST_SCORE * (_LARGEST // steps)
    ]  # fmt: skip


def _band_profiles(level: FloatArray, tops: IndexArray, third: int) -> FloatArray:
    """Return the density along each band, (width, bands): of each place the median of the means of the band's thirds.

    Dust and scratches lie in one third.

    Args:
        level: the picture turned level, (rows, columns) [density].
        tops: first row of each band, (bands,).
        third: rows of a third [rows].
    """
    total = _running_sums(level)
    one, two, three = ((total[tops + k + third] - total[tops + k]).T / third for k in (0, third, 2 * third))
    return np.maximum(np.minimum(one, two), np.minimum(np.maximum(one, two), three))


def _running_sums(values: FloatArray) -> FloatArray:
    """Return the running sums over rows, beginning at nothing, (rows + 1, columns)."""
    return np.concatenate([np.zeros((1, values.shape[1])), values.cumsum(axis=0)])


def _changes(total: FloatArray, cell: int, whole: int) -> Int16Array:
    """Return the change of mean density at every place, limited to a whole edge either way, (width + 1, bands).

    Args:
        total: running sums of density along each band, (width + 1, bands).
        cell: length on either side that is compared [pixels].
        whole: number that stands for a whole edge; sums over all steps stay within 16 bits.
    """
    width = len(total) - 1
    here = np.arange(width + 1)
    ahead, behind = np.minimum(here + cell, width), np.maximum(here - cell, 0)
    after = (total[ahead] - total) / np.maximum(ahead - here, 1)[:, None]
    before = (total - total[behind]) / np.maximum(here - behind, 1)[:, None]
    return np.asarray(np.clip((after - before) * (whole / _PLAIN), -whole, whole), dtype=np.int16)


def _best_starts(
    change: Int16Array, size: Int16Array, pitch: float, steps: int
) -> tuple[IndexArray, Int16Array, Int16Array]:
    """Return the places at which the steps begin, the scores and the changes at the edges there, each (bands,).

    Args:
        change, size: change of density at every place, and its absolute value, (width + 1, bands).
        pitch: length of a step [pixels].
        steps: number of steps.
    """
    places = int(len(change) - 1 - pitch * steps) + 1
    edges = _comb(change, pitch, pitch, steps - 1, places)
    score = np.maximum(edges, -edges) - _comb(size, 0.5 * pitch, pitch, steps, places)
    best = score.argmax(axis=0)
    bands = np.arange(best.size)
    return best, score[best, bands], edges[best, bands]


def _comb(values: Int16Array, first: float, pitch: float, teeth: int, places: int) -> Int16Array:
    """Return sums over the teeth of a comb, for every place of the comb, (places, bands).

    Teeth are added up in fours, so that one tooth costs a third of an addition; it lies within a pixel of its place.

    Args:
        values: what is added up, (width + 1, bands).
        first: distance of the first tooth from the comb's place [pixels].
        pitch: distance between teeth [pixels].
        teeth: number of teeth.
        places: number of places.
    """
    found = np.zeros((places, values.shape[1]), dtype=np.int16)
    fours = teeth // 4 * 4
    if fours:
        reach = round(first + (fours - 4) * pitch) + places
        four = values[:reach].copy()
        for k in range(1, 4):
            at = round(k * pitch)
            four += values[at : at + reach]
        for k in range(0, fours, 4):
            at = round(first + k * pitch)
            found += four[at : at + places]
    for k in range(fours, teeth):
        at = round(first + k * pitch)
        found += values[at : at + places]
    return found
