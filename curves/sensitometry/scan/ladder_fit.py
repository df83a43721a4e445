"""The fit of a ladder: every visible edge is located in slices across the strip, and all edges are fitted at once."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.units import BY_MEDIAN, BoolArray, FloatArray
from curves.sensitometry.scan.ladder_search import LadderGuess, to_level, to_picture, turn_level

_MORE = 8
"""Number of cells beyond either end of the guess that the fit includes [unitless]."""

_SLICES = 7
"""Slices across the strip in which every edge is located: our own choice [unitless]."""

_ROUNDS = 4
"""Times that edges are located and fitted; two are the rule [unitless]."""

_CELL = 0.33
"""Share of a pitch on either side of an edge whose mean densities are compared."""

_CLEAR_OF_NOISE = 5.0
"""Change at an edge that noise does not make, in its standard errors: our own choice [unitless]."""

_LEAST_EDGE = 0.006
"""Least change that counts as an edge [density]."""

_CLEAR_EDGE = 0.05
"""Least change that uneven light cannot make [density]."""

_UNEVEN = 0.3
"""Change in the middle of a cell, over the typical edge, above which the cell is not a plateau [unitless]."""

_OFF = 0.08
"""Greatest distance of an edge from its fitted place [pitch]."""

_ASTRAY = 0.12
"""Distance from its fitted place at which an edge has no weight (Tukey's biweight): our own choice [pitch]."""

_FIRST_WIDTH = 5.0
"""Greatest width of the strip in the first round, which may be turned by two degrees too much or too little [pitch]."""

_SETTLED = 0.05
"""Turn of a round that is the last [degrees]."""

_REWEIGHTED = 12
"""Number of rounds of weights; fewer are enough to settle [unitless]."""

_FEWEST_PLACES = 12
"""Least number of located edges, over all slices, for a fit [unitless]."""


@dataclass(frozen=True, eq=False)
class EdgeFit:
    """A row of cells of equal length, longer than the ladder.

    Attributes:
        shape: rows and columns of the picture.
        upright, angle: direction of the row, as in `LadderGuess`.
        start, pitch: place of the first cell's outer edge, and length of a cell, along the row; the pitch is negative
            if the row is counted from its other end [pixels].
        top, bottom: the strip's two sides across the row [pixels].
        even: True if a cell is one plateau, (cells,).
        jump: change of density from the cell before into each cell, (cells + 1,); NaN outside the picture.
        seen: True if an edge is visible, above noise and in its place, (cells + 1,).
        displaced: True if density clearly changes near an edge's place but not at it, (cells + 1,).
    """

    shape: tuple[int, ...]
    upright: bool
    angle: float
    start: float
    pitch: float
    top: float
    bottom: float
    even: BoolArray
    jump: FloatArray
    seen: BoolArray
    displaced: BoolArray

    def reversed(self) -> EdgeFit:
        """Return the same row counted from its other end."""
        return replace(
            self,
            start=self.start + self.even.size * self.pitch,
            pitch=-self.pitch,
            even=self.even[::-1],
            jump=-self.jump[::-1],
            seen=self.seen[::-1],
            displaced=self.displaced[::-1],
        )

    def corners(self, first: int, count: int) -> FloatArray:
        """Return the corners in the picture of ``count`` cells from cell ``first``, going round, (4, 2) [pixels]."""
        begin, end = self.start + first * self.pitch, self.start + (first + count) * self.pitch
        points = np.array([[begin, self.top], [begin, self.bottom], [end, self.bottom], [end, self.top]])
        return to_picture(points, self.shape, self.upright, self.angle)


@dataclass(frozen=True, eq=False)
class _Row:
    """The place of a ladder in the picture turned level."""

    angle: float
    start: float
    pitch: float
    top: float
    bottom: float

    @property
    def middle(self) -> float:
        """The middle of the strip across the row [pixels]."""
        return 0.5 * (self.top + self.bottom)

    def no_wider(self, width: float) -> _Row:
        """Return the row, of its sides at most ``width`` about its middle [pixels]."""
        half = 0.5 * min(self.bottom - self.top, width)
        return replace(self, top=self.middle - half, bottom=self.middle + half)


def fit_edges(grey: FloatArray, guess: LadderGuess, steps: int) -> EdgeFit | None:
    """Fit a row of cells to every edge that is visible near a guess.

    Args:
        grey: the picture, (rows, columns) [density].
        guess: place from which the fit begins.
        steps: number of steps.

    Returns:
        The row; None if too few edges lie in the places of steps of equal length.
    """
    half = max(3.0, grey.shape[1 if guess.upright else 0] / 80.0)
    row = _Row(guess.angle, guess.start, guess.pitch, guess.across - half, guess.across + half)
    level = turn_level(grey, guess.upright, row.angle)
    widest = _FIRST_WIDTH * row.pitch
    for _ in range(_ROUNDS):
        row = _with_extent(level, row, steps).no_wider(widest)
        found = _refined(level, row, steps)
        if found is None:
            return None
        slope, start, pitch = found
        turned = _turned_row(row, grey.shape, guess.upright, slope, start, pitch, steps)
        if not 2.0 < turned.pitch * steps < 2.0 * max(grey.shape):
            return None
        settled = widest == np.inf and abs(turned.angle - row.angle) < _SETTLED
        row, widest = turned, np.inf
        level = turn_level(grey, guess.upright, row.angle)
        if settled:
            break
    row = _with_extent(level, row, steps)
    return _cells(level, row, steps, grey.shape, guess.upright)


def _with_extent(level: FloatArray, row: _Row, steps: int) -> _Row:
    """Return the row with the sides of the strip: the last lines of pixels that look like the lines in its middle."""
    columns = [
        slice(max(round(row.start + (k + 0.25) * row.pitch), 0), max(round(row.start + (k + 0.75) * row.pitch), 0))
        for k in range(steps)
    ]
    kept = [c for c in columns if 0 <= c.start < c.stop <= level.shape[1]]
    if len(kept) < 3:
        return row
    cells = np.array([np.median(level[:, c], axis=1) for c in kept]).T
    top, bottom = max(int(row.middle - 3), 0), min(int(row.middle + 4), level.shape[0])
    if bottom - top < 2:
        return row
    core = np.median(cells[top:bottom], axis=0)
    contrast = float(np.median(np.abs(core - np.median(core))))
    alike = np.median(np.abs(cells - core), axis=1) < max(0.02, 0.25 * contrast)
    at = min(max(int(row.middle), 0), level.shape[0] - 1)
    first, last = _walk(alike, at, -1), _walk(alike, at, 1)
    return replace(row, top=float(first), bottom=float(last + 1)) if last - first >= 5 else row


def _walk(alike: BoolArray, at: int, way: int) -> int:
    """Return the last line that is alike in one direction, passing over up to four lines that are not (a scratch)."""
    last, missed, place = at, 0, at
    while 0 <= place < alike.size and missed <= 4:
        if alike[place]:
            last, missed = place, 0
        else:
            missed += 1
        place += way
    return last


def _slices(level: FloatArray, row: _Row) -> tuple[FloatArray, FloatArray]:
    """Return the median profile of each slice across the strip, (slices, width), and its middle, (slices,) [pixels]."""
    edges = np.linspace(row.top, row.bottom, _SLICES + 3)[1:-1]
    whole = np.clip(np.round(edges).astype(int), 0, level.shape[0])
    found, middles = [], []
    for begin, end in itertools.pairwise(whole):
        if end > begin:
            found.append(np.median(level[begin:end], axis=0))
            middles.append(0.5 * (begin + end))
    return np.array(found), np.array(middles)


def _changes(profiles: FloatArray, places: FloatArray, cell: float) -> FloatArray:
    """Return the change of mean density across each place, over ``cell`` pixels on either side.

    Args:
        profiles: (slices, width) [density].
        places: any shape [pixels].
        cell: length that is averaged on either side [pixels].

    Returns:
        (slices, *places) [density]; NaN where a side lies outside.
    """
    width = profiles.shape[1]
    total = np.concatenate([np.zeros((len(profiles), 1)), profiles.cumsum(axis=1)], axis=1)
    lower, upper = places - cell, places + cell

    def at(x: FloatArray) -> FloatArray:
        inside = np.clip(x, 0.0, width)
        whole = np.minimum(inside.astype(int), width - 1)
        return np.asarray(total[:, whole] + (inside - whole) * (total[:, whole + 1] - total[:, whole]))

    change = (at(upper) - 2.0 * at(places) + at(lower)) / cell
    return np.asarray(np.where((lower < -0.5) | (upper > width + 0.5), np.nan, change))


def _located(profiles: FloatArray, teeth: FloatArray, pitch: float) -> tuple[FloatArray, FloatArray]:
    """Return the place near each tooth at which density changes most, and the change there, each (slices, teeth)."""
    reach: FloatArray = np.linspace(-0.35, 0.35, 57) * abs(pitch)
    change = _changes(profiles, teeth[:, None] + reach, max(2.0, _CELL * abs(pitch)))
    size = np.abs(np.nan_to_num(change))
    best = np.clip(size.argmax(axis=2), 1, reach.size - 2)
    one, two, three = (np.take_along_axis(size, (best + d)[..., None], axis=2)[..., 0] for d in (-1, 0, 1))
    # The change falls off linearly on either side of an edge, so two slopes give the place of its top.
    lower, higher = np.minimum(one, three), np.maximum(one, three)
    rise = np.maximum(two - lower, 1e-12)
    offset = 0.5 * np.sign(three - one) * (higher - lower) / rise
    found = teeth + reach[best] + offset * (reach[1] - reach[0])
    return found, np.take_along_axis(change, best[..., None], axis=2)[..., 0]


def _refined(level: FloatArray, row: _Row, steps: int) -> tuple[float, float, float] | None:
    """Return the slope of the edges, start and pitch, from all edges of the steps; None if too few are visible."""
    profiles, middles = _slices(level, row)
    if len(profiles) < 3:
        return None
    number = np.arange(steps + 1, dtype=np.float64)
    teeth: FloatArray = row.start + number * row.pitch
    places, changes = _located(profiles, teeth, row.pitch)
    middle = _changes(profiles, teeth[:-1] + 0.5 * row.pitch, max(2.0, _CELL * row.pitch))
    noise = BY_MEDIAN * float(np.nanmedian(np.abs(middle))) if np.isfinite(middle).any() else 0.0
    weight = np.minimum(np.abs(np.nan_to_num(changes)), 0.3)
    weight = np.where(weight > max(4.0 * noise, _LEAST_EDGE), weight, 0.0)
    # The two outer edges may belong to other things: by the weights below they count only if the others agree.
    x, w = places.ravel(), weight.ravel()
    design = np.column_stack(
        [np.ones(x.size), np.tile(number, len(profiles)), np.repeat(middles - row.middle, steps + 1)]
    )
    if (w > 0).sum() < _FEWEST_PLACES:
        return None
    use = w
    answer = np.zeros(3)
    for _ in range(_REWEIGHTED):
        root = np.sqrt(use)[:, None]
        answer, *_ = np.linalg.lstsq(design * root, x * root[:, 0], rcond=None)
        away = (x - design @ answer) / (_ASTRAY * row.pitch)
        use = w * np.where(np.abs(away) < 1.0, (1.0 - away**2) ** 2, 0.0)
        if (use > 0).sum() < _FEWEST_PLACES:
            return None
    return float(answer[2]), float(answer[0]), float(answer[1])


def _turned_row(
    row: _Row, shape: tuple[int, ...], upright: bool, slope: float, start: float, pitch: float, steps: int
) -> _Row:
    """Return the row turned so that its edges are perpendicular to it."""
    line = np.array([[start, row.middle], [start + steps * pitch, row.middle]])
    angle = row.angle - float(np.degrees(np.arctan(slope)))
    centre = to_level(to_picture(line, shape, upright, row.angle), shape, upright, angle)
    # The strip turns about its own middle.
    middle = float(centre[:, 1].mean())
    half = 0.5 * (row.bottom - row.top)
    mid = float(centre[:, 0].mean())
    return _Row(angle, mid - 0.5 * steps * pitch, pitch, middle - half, middle + half)


def _cells(level: FloatArray, row: _Row, steps: int, shape: tuple[int, ...], upright: bool) -> EdgeFit | None:
    """Return the row of cells with their edges and plateaus, extended by `_MORE` cells at either end."""
    profiles, _ = _slices(level, row)
    if len(profiles) < 3:
        return None
    start, count = row.start - _MORE * row.pitch, steps + 2 * _MORE
    teeth: FloatArray = start + np.arange(count + 1, dtype=np.float64) * row.pitch
    cell = max(2.0, _CELL * row.pitch)
    change = _changes(profiles, teeth, cell)
    jump, error = _mean(change)
    middle, middle_error = _mean(_changes(profiles, teeth[:-1] + 0.5 * row.pitch, cell))
    # An edge of the whole strip is located better than an edge of a slice.
    places, _ = _located(profiles.mean(axis=0, keepdims=True), teeth, row.pitch)
    in_place = np.abs(places[0] - teeth) < _OFF * row.pitch
    size = np.abs(jump)
    seen = np.isfinite(jump) & in_place & (size > np.maximum(_CLEAR_OF_NOISE * error, _LEAST_EDGE))
    displaced = np.isfinite(jump) & ~in_place & (size > np.maximum(2.0 * _CLEAR_OF_NOISE * error, _CLEAR_EDGE))
    inner = seen[_MORE + 1 : _MORE + steps]
    typical = float(np.median(size[_MORE + 1 : _MORE + steps][inner])) if inner.any() else 0.0
    allowed = np.maximum(_CLEAR_OF_NOISE * middle_error, max(_UNEVEN * typical, 0.01))
    even = np.isfinite(middle) & (np.abs(middle) < allowed)
    return EdgeFit(
        shape, upright, row.angle, start, row.pitch, row.top, row.bottom, even, jump, seen, displaced
    )  # fmt: skip


def _mean(change: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the median over slices, and its standard error from their scatter; NaN where a slice has no value."""
    middle = np.median(change, axis=0)
    spread = BY_MEDIAN * np.median(np.abs(change - middle), axis=0)
    return np.asarray(middle), np.asarray(np.maximum(spread, 5e-4) * 1.25 / np.sqrt(len(change)))
