"""The ladder of steps in a picture: the place of each step, from given corners or from a fit to all steps at once.

Coordinates are x to the right and y down, counted in pixels from the outer corner of the first pixel, whose middle is
therefore at 0.5, 0.5.

    whole picture ── as_density ──► grey picture ── ladder_search ──► Guess (direction, place, pitch)
                                                                        │ ladder_fit: every edge located, all fitted
                                                                        ▼
                   EdgeFit (a row of cells) ── ladder_run: which cells are the steps ──► Search (Ladder, or a doubt)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.core.units import FloatArray, Kind
from curves.sensitometry.scan.ladder_fit import EdgeFit, fit_edges
from curves.sensitometry.scan.ladder_run import FEWEST_EDGES, longest_run
from curves.sensitometry.scan.ladder_search import LadderGuess, distinct_guesses, grey_density, ladder_guesses

MIDDLE = 0.6
"""Share of a step's length and width that is measured: its middle, clear of edges and of light from neighbours."""

_OTHERS = 3
"""Number of other places that are searched for a second ladder [unitless]."""

_AS_GOOD = 0.5
"""Share of a ladder's edges from which another row is as likely [unitless]."""

_BESIDE = 0.15
"""Share of a ladder's width by which its blurred sides extend beyond it [unitless]."""


@dataclass(frozen=True, eq=False)
class Ladder:
    """Steps in a row in a picture.

    Attributes:
        corners: x and y of the corners of the whole ladder: both corners of step 1's outer edge, then both of the last
            step's, going round, (4, 2) [pixels].
        steps: number of steps [unitless].
    """

    corners: FloatArray
    steps: int

    def patch(self, step: int) -> FloatArray:
        """Return the corners of the middle part of a step, numbered from 1, going round, (4, 2) [pixels]."""
        half = 0.5 * MIDDLE
        along = (step - 0.5 + np.array([-half, -half, half, half])) / self.steps
        across = 0.5 + np.array([-half, half, half, -half])
        return self._at(along, across)

    def _at(self, along: FloatArray, across: FloatArray) -> FloatArray:
        """Return points between the corners, by shares of length and width; the error of a slanted view is small."""
        one, two, three, four = self.corners
        a, b = along[:, None], across[:, None]
        return np.asarray((1 - a) * ((1 - b) * one + b * two) + a * ((1 - b) * four + b * three))

    def holds(self, point: FloatArray) -> bool:
        """Return True if a point, x and y [pixels], lies inside the ladder, or a little outside its ends and sides."""
        beyond, beside = 0.5 / self.steps, _BESIDE
        a, b, c, d = self._at(
            np.array([-beyond, -beyond, 1 + beyond, 1 + beyond]), np.array([-beside, 1 + beside, 1 + beside, -beside])
        )
        sides = np.array([b - a, c - b, d - c, a - d])
        away = point - np.array([a, b, c, d])
        turns = sides[:, 0] * away[:, 1] - sides[:, 1] * away[:, 0]
        return bool((turns >= 0).all() or (turns <= 0).all())

    def overlaps(self, other: Ladder) -> bool:
        """Return True if the middle of one ladder lies inside the other."""
        return self.holds(other.corners.mean(axis=0)) or other.holds(self.corners.mean(axis=0))

    def reversed(self) -> Ladder:
        """Return the same steps counted from the other end."""
        return Ladder(np.roll(self.corners, 2, axis=0), self.steps)

    def scaled(self, factor: float) -> Ladder:
        """Return the ladder in a picture ``factor`` times as large."""
        return Ladder(self.corners * factor, self.steps)


@dataclass(frozen=True, eq=False)
class LadderSearch:
    """The result of a search for a ladder.

    Attributes:
        ladder: the ladder; None if it is not certain.
        looked: the likeliest place, where the search ended; None if no place looked like steps.
        doubt: the reason why the ladder is not certain, as a clause; empty if it is certain.
        hint: what to try if the ladder is not certain, as an imperative clause.
        edges: number of edges between steps that were seen [unitless].
        notes: remarks on a ladder that was found, each a sentence.
        settings: the parameters of a search that carry the hint out.
    """

    ladder: Ladder | None
    looked: Ladder | None
    doubt: str = ""
    hint: str = ""
    edges: int = 0
    notes: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()


def ladder_of_corners(corners: ArrayLike, steps: int) -> Ladder:
    """Return the ladder between four corners.

    Args:
        corners: x and y, going round from one corner of step 1's outer edge to the other, (4, 2) [pixels].
        steps: number of steps between the corners.

    Raises:
        StripError: the corners do not go round an area.
    """
    points = np.asarray(corners, dtype=np.float64)
    edges = np.roll(points, -1, axis=0) - points
    following = np.roll(edges, -1, axis=0)
    turns = edges[:, 0] * following[:, 1] - edges[:, 1] * following[:, 0]
    if not (turns > 0).all() and not (turns < 0).all():
        raise StripError(
            "the corners do not go round the steps",
            needed="four corners in order: both of step 1's outer edge, then both of the last step's",
            hint="give them clockwise from a corner of step 1",
        )
    return Ladder(points, steps)


def find_ladder(picture: FloatArray, steps: int, kind: Kind) -> LadderSearch:
    """Find a number of steps of equal pitch in a picture, at any angle up to ten degrees to either of its sides.

    Args:
        picture: light in proportion, (rows, columns, samples) [of full scale]; a thousand pixels along the longer side
            are enough.
        steps: number of steps to find.
        kind: "negative" if step 1, which got most exposure, is the densest; "reversal" if it is the thinnest.

    Returns:
        The ladder, or the reason why it is not certain. A ladder is certain only if visible edges show where it begins,
        and no more steps follow beyond its ends.
    """
    grey = grey_density(picture)
    nearest = LadderSearch(
        None,
        None,
        f"nothing in the picture looks like {steps} steps of equal length",
        "crop the picture to the strip, or give the corners",
        settings=("corners",),
    )
    all_guesses = ladder_guesses(grey, steps)
    for guess in distinct_guesses(all_guesses, steps):
        fit = fit_edges(grey, guess, steps)
        if fit is None:
            continue
        search = _decided(fit, steps, kind)
        if search.ladder is not None:
            elsewhere = [g for g in all_guesses if not search.ladder.holds(g.middle(grey.shape, steps))]
            return _alone(search, grey, elsewhere, steps, kind)
        if search.edges > nearest.edges:
            nearest = search
    return nearest


def _alone(
    search: LadderSearch, grey: FloatArray, elsewhere: Iterable[LadderGuess], steps: int, kind: Kind
) -> LadderSearch:
    """Return a search that found a ladder, or a doubt where there is another ladder elsewhere in the picture."""
    for guess in distinct_guesses(elsewhere, steps, _OTHERS):
        fit = fit_edges(grey, guess, steps)
        if fit is None:
            continue
        other = _decided(fit, steps, kind)
        if other.looked is None or search.ladder is None or search.ladder.overlaps(other.looked):
            continue
        if other.edges >= max(FEWEST_EDGES, _AS_GOOD * search.edges):
            return LadderSearch(
                None,
                search.ladder,
                "two rows of steps are visible",
                "crop the picture to one strip, say where to look, or give the corners",
                search.edges,
                settings=("area", "corners"),
            )
    return search


def _decided(fit: EdgeFit, steps: int, kind: Kind) -> LadderSearch:
    """Return the ladder in a row of cells, or the reason why it is not certain."""
    run = longest_run(fit, kind)
    doubt = run.doubt(steps, kind)
    if doubt is not None:
        seen = min(run.count, steps)
        looked = Ladder(run.cells.corners(run.first, seen), seen)
        return LadderSearch(None, looked, doubt.what, doubt.hint, run.edges, settings=doubt.settings)
    ladder = Ladder(run.cells.corners(run.first, steps), steps)
    return LadderSearch(ladder, ladder, edges=run.edges, notes=run.notes(steps))
