"""The ladder of steps in a picture: where each step lies, given by its corners or found by fitting all steps at once.

Coordinates are x to the right and y down, counted in pixels from the outer corner of the first pixel, whose middle is
therefore at 0.5, 0.5.

    whole picture ── as_density ──► grey picture ── ladder_search ──► Guess (direction, place, pitch)
                                                                        │ ladder_fit: every edge located, all fitted
                                                                        ▼
                                    Fit (a row of cells) ── decided here ──► Search (Ladder, or why not)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.ladder_fit import BoolArray, Fit, fitted
from curves.sensitometry.ladder_search import Guess, as_density, guesses, likeliest
from curves.sensitometry.units import FloatArray, Kind

MIDDLE = 0.6
"""Share of a step's length and width that is measured: its middle, clear of edges and of light from the neighbours."""

FEWEST_EDGES = 5
"""Edges between steps that must be seen before a ladder is believed: our own choice [unitless]."""

_ALIKE = 0.012
"""Change between neighbouring steps that uneven light alone may make [density]."""

_AGAINST = 0.03
"""Change at the end of a run that turns it back [density]."""

_TOO_MANY = 2
"""Edges beyond the last step's and a cell on that cannot be those of the film and the gate."""

_DISPLACED = 0.15
"""Share of edges that dirt may move out of their place."""

_OTHERS = 3
"""Places beside a ladder that are looked at for a second one."""

_AS_GOOD = 0.5
"""Share of a ladder's edges that make another row as likely."""

_MORE_STEPS = (
    "An edge is seen one step's length beyond step {steps}: if there are {more} steps, the last is left out, and"
    " --steps brings it in."
)

_BESIDE = 0.15
"""Share of its width by which a ladder's blurred sides reach beyond it."""

_AS_FILM = 0.05
"""Share of the steps' range by which film before them may differ from film after them: uneven light."""

_ABRUPT = 0.08
"""Change at the last edge that is seen from which a curve does not come to rest within a step [density]."""

_LEFT_OUT = 0.2
"""Change at the edges between those of steps that look too long, against theirs."""


@dataclass(frozen=True, eq=False)
class Ladder:
    """Steps in a row in a picture.

    Attributes:
        corners: x and y of the corners of the whole ladder: both corners of step 1's outer edge, then both of the last
            step's, going round, (4, 2) [pixels].
        steps: how many there are [unitless].
    """

    corners: FloatArray
    steps: int

    def patch(self, step: int, part: float = MIDDLE) -> FloatArray:
        """Return the corners of the middle part of a step, going round, (4, 2) [pixels].

        Args:
            step: its number, from 1.
            part: share of its length and of its width.
        """
        half = 0.5 * part
        along = (step - 0.5 + np.array([-half, -half, half, half])) / self.steps
        across = 0.5 + np.array([-half, half, half, -half])
        return self._at(along, across)

    def _at(self, along: FloatArray, across: FloatArray) -> FloatArray:
        """Return points between the corners; a ladder seen a little from the side is still divided evenly enough."""
        one, two, three, four = self.corners
        a, b = along[:, None], across[:, None]
        return np.asarray((1 - a) * ((1 - b) * one + b * two) + a * ((1 - b) * four + b * three))

    def holds(self, point: FloatArray) -> bool:
        """Return whether a point, x and y [pixels], lies inside the ladder, or a little outside its ends and sides."""
        beyond, beside = 0.5 / self.steps, _BESIDE
        a, b, c, d = self._at(
            np.array([-beyond, -beyond, 1 + beyond, 1 + beyond]), np.array([-beside, 1 + beside, 1 + beside, -beside])
        )
        sides = np.array([b - a, c - b, d - c, a - d])
        away = point - np.array([a, b, c, d])
        turns = sides[:, 0] * away[:, 1] - sides[:, 1] * away[:, 0]
        return bool((turns >= 0).all() or (turns <= 0).all())

    def overlaps(self, other: Ladder) -> bool:
        """Return whether the middle of one ladder lies inside the other."""
        return self.holds(other.corners.mean(axis=0)) or other.holds(self.corners.mean(axis=0))

    def reversed(self) -> Ladder:
        """Return the same steps counted from the other end."""
        return Ladder(np.roll(self.corners, 2, axis=0), self.steps)

    def scaled(self, factor: float) -> Ladder:
        """Return the ladder in a picture ``factor`` times as large."""
        return Ladder(self.corners * factor, self.steps)


@dataclass(frozen=True, eq=False)
class Search:
    """What a search for a ladder came to.

    Attributes:
        ladder: the ladder; None if it is not certain.
        looked: the likeliest place, where the search ended; None if nothing looked like steps at all.
        doubt: why the ladder is not certain, as a clause; empty if it is.
        hint: what to try then.
        edges: how many edges between steps were seen [unitless].
        notes: what to mind of a ladder that was found, each a sentence.
    """

    ladder: Ladder | None
    looked: Ladder | None
    doubt: str = ""
    hint: str = ""
    edges: int = 0
    notes: tuple[str, ...] = ()


def ladder_of_corners(corners: ArrayLike, steps: int) -> Ladder:
    """Return the ladder between four corners.

    Args:
        corners: x and y, going round from one corner of step 1's outer edge to the other, (4, 2) [pixels].
        steps: how many steps lie between them.

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


def find_ladder(picture: FloatArray, steps: int, kind: Kind) -> Search:
    """Find so many steps of equal pitch in a picture, at any angle up to ten degrees to either of its sides.

    Args:
        picture: light in proportion, (rows, columns, samples) [of full scale]; a thousand pixels along the longer side
            are enough.
        steps: how many steps to find.
        kind: "negative" if step 1, which got most exposure, is the densest; "reversal" if it is the thinnest.

    Returns:
        The ladder, or why it is not certain. A ladder is believed only if edges that are seen say where it begins, and
        nothing beyond its ends goes on like it.
    """
    grey = as_density(picture)
    nearest = Search(
        None,
        None,
        f"nothing in the picture looks like {steps} steps of equal length",
        "crop the picture to the strip, or give the corners with --corners",
    )
    all_guesses = guesses(grey, steps)
    for guess in likeliest(all_guesses, steps):
        fit = fitted(grey, guess, steps)
        if fit is None:
            continue
        search = _decided(fit, steps, kind)
        if search.ladder is not None:
            elsewhere = [g for g in all_guesses if not search.ladder.holds(g.middle(grey.shape, steps))]
            return _alone(search, grey, elsewhere, steps, kind)
        if search.edges > nearest.edges:
            nearest = search
    return nearest


def _alone(search: Search, grey: FloatArray, elsewhere: Iterable[Guess], steps: int, kind: Kind) -> Search:
    """Return a search that found a ladder, or the doubt that there is another one elsewhere in the picture."""
    for guess in likeliest(elsewhere, steps, _OTHERS):
        fit = fitted(grey, guess, steps)
        if fit is None:
            continue
        other = _decided(fit, steps, kind)
        if other.looked is None or search.ladder is None or search.ladder.overlaps(other.looked):
            continue
        if other.edges >= max(FEWEST_EDGES, _AS_GOOD * search.edges):
            return Search(
                None,
                search.ladder,
                "two rows of steps are seen",
                "crop the picture to one strip, say where to look with --area, or give the corners with --corners",
                search.edges,
            )
    return search


@dataclass(frozen=True)
class _Run:
    """Cells first to last, all even, that move one way; looked at from the end that got most exposure."""

    cells: Fit
    first: int
    last: int

    @property
    def count(self) -> int:
        return self.last - self.first + 1

    @property
    def edges(self) -> int:
        """How many edges between its cells are seen."""
        return int(self.cells.seen[self.first + 1 : self.last + 1].sum())

    def turns(self, edge: int, way: int) -> bool:
        """Return whether density is seen to go against the run across an edge, and clearly."""
        return bool(self.cells.seen[edge]) and float(self.cells.jump[edge]) * way < -_AGAINST

    def begins_on_film(self, steps: int) -> bool:
        """Return whether what lies before the first cell is film that got no light, as what lies after the last is.

        Density that falls over the steps has then risen by as much before them.
        """
        over = float(self.cells.jump[self.first + 1 : self.first + steps + 1].sum())
        return abs(float(self.cells.jump[self.first]) + over) < max(_ALIKE, _AS_FILM * abs(over))

    def times_too_short(self) -> int:
        """Return of how many cells the steps seem to consist: 1, or more if edges are seen at every so many only."""
        size = np.where(self.cells.seen, np.abs(self.cells.jump), 0.0)[self.first + 1 : self.last + 1]
        last = int(np.flatnonzero(size)[-1]) + 1 if size.any() else 0
        for times in (4, 3, 2):
            by_place = [float(size[place:last:times].sum()) for place in range(times)]
            if sum(by_place) - max(by_place) <= _LEFT_OUT / times * max(by_place):
                return times
        return 1

    def last_seen(self, first: int, steps: int) -> int:
        """Return the last step, counted from cell ``first``, whose outer edge is seen; 0 if none is."""
        seen = np.flatnonzero(self.cells.seen[first + 1 : first + steps + 1])
        return int(seen[-1]) + 1 if seen.size else 0

    def ladder(self, first: int, count: int) -> Ladder:
        return Ladder(self.cells.corners(first, count), count)


def _decided(fit: Fit, steps: int, kind: Kind) -> Search:
    """Decide which cells are the steps, and whether that is certain.

    The steps are a run of cells, each even inside, whose density moves one way. Beyond them lies something else. Film
    beside the steps got no light; it is like the step that got least, so a run may go on into it, but the step that got
    most stands against it with an edge that turns back. From that edge steps are counted. Where there is none (the film
    is of the other kind, say), nothing is: from the other end a strip of the other kind would be counted backwards.
    """
    # 1. Look from the step that got most exposure: density falls from there on a negative, and grows on a reversal.
    way = -1 if kind == "negative" else 1
    runs = [_longest(cells, way) for cells in (fit, fit.reversed())]
    run = max(runs, key=lambda r: r.edges)
    looked = run.ladder(run.first, min(run.count, steps))
    if run.edges < FEWEST_EDGES:
        return _doubt(looked, run, f"only {run.edges} edges between steps can be seen",
                      "scan with more light if the film is dense, or give the corners with --corners")  # fmt: skip
    if run.count < steps:
        return _doubt(looked, run, f"{run.count} cells in a row look like steps, not {steps}",
                      "say how many there are with --steps or --wedge, or give the corners with --corners")  # fmt: skip
    times = run.times_too_short()
    if times > 1:
        return _doubt(looked, run, f"the edges that are seen lie {times} steps apart",
                      "say how many there are with --steps or --wedge")  # fmt: skip
    # 2. Count from the edge that turns back.
    if not run.turns(run.first, way):
        if run.edges - 1 > steps:
            return _doubt(looked, run, f"at least {run.edges - 1} steps are seen, not {steps}",
                          "say how many there are with --steps or --wedge")  # fmt: skip
        if not run.turns(run.last + 1, way):
            return _doubt(looked, run, "neither end of the steps stands out against what lies beside it",
                          "give the corners with --corners")  # fmt: skip
        other = "reversal" if kind == "negative" else "negative"
        return _doubt(looked, run, f"at the end that a {kind} exposes most, the steps run into what lies beside them,"
                      " uncounted", f"if the film is a {other}, say so with --kind; else give the corners with"
                      " --corners")  # fmt: skip
    first = run.first
    on_film = run.begins_on_film(steps)
    if first > 0 and run.cells.seen[first - 1] and not on_film:
        return _doubt(looked, run, "an edge is seen one step's length before the first step, which may be of a step"
                      " that is covered", "give the corners with --corners")  # fmt: skip
    # 3. Look whether the count agrees with what is seen.
    beyond = run.cells.seen[first + steps + 1 : run.last + 2]
    over = int(beyond[:-1].sum())
    if over >= _TOO_MANY:
        return _doubt(looked, run, f"at least {steps + over} steps are seen, not {steps}",
                      "say how many there are with --steps or --wedge")  # fmt: skip
    if beyond.size and beyond[0] and not on_film:
        return _doubt(looked, run, f"an edge is seen one step's length beyond step {steps}, which may be of a step"
                      " more",
                      "say how many there are with --steps or --wedge, or give the corners with --corners")  # fmt: skip
    more = (_MORE_STEPS.format(steps=steps, more=steps + 1),) if beyond.size and beyond[0] else ()
    displaced = int(run.cells.displaced[first + 1 : first + steps].sum())
    if displaced > max(1, _DISPLACED * run.edges):
        return _doubt(looked, run, f"{displaced} edges lie where steps of equal length have none",
                      "give the corners with --corners")  # fmt: skip
    last = run.last_seen(first, steps)
    if last < steps - 1 and abs(float(run.cells.jump[first + last])) > _ABRUPT:
        return _doubt(looked, run, f"only {last} steps are seen, and the last stands out too clearly for those after it"
                      " to look like film",
                      "say how many there are with --steps or --wedge, or give the corners with --corners")  # fmt: skip
    ladder = run.ladder(first, steps)
    return Search(ladder, ladder, edges=run.edges, notes=(*more, *_notes(run, first, steps)))


def _longest(cells: Fit, way: int) -> _Run:
    """Return the run of even cells, moving one way, in which most edges are seen."""
    best = _Run(cells, 0, 0)
    sound = _sound(cells, way)
    first = 0
    for cell in range(1, sound.size + 1):
        goes_on = (
            cell < sound.size
            and sound[cell]
            and sound[cell - 1]
            and not (cells.jump[cell] * way < -_ALIKE and cells.seen[cell])
        )
        if not goes_on:
            run = _Run(cells, first, cell - 1)
            best = max(best, run, key=lambda r: r.edges)
            first = cell
    return best


def _sound(cells: Fit, way: int) -> BoolArray:
    """Return which cells may be steps: even ones, and one that dirt makes uneven, if its neighbours are and go on."""
    onward = cells.seen & (cells.jump * way > 0)
    turning = (cells.seen & (cells.jump * way < 0)) | (cells.displaced & (cells.jump * way < -_AGAINST))
    between = np.zeros_like(cells.even)
    between[1:-1] = cells.even[:-2] & cells.even[2:]
    goes_on = (onward[:-1] | onward[1:]) & ~turning[:-1] & ~turning[1:]
    return np.asarray(cells.even | (between & goes_on))


def _doubt(looked: Ladder, run: _Run, doubt: str, hint: str) -> Search:
    return Search(None, looked, doubt, hint, run.edges)


def _notes(run: _Run, first: int, steps: int) -> tuple[str, ...]:
    """Return how many of the last steps rest on the count alone."""
    last = run.last_seen(first, steps)
    if last >= steps - 1:
        return ()
    return (
        f"Steps {last + 1} to {steps} look alike, and like the film beside them: that there are {steps} steps is"
        " taken on your word.",
    )
