"""Which cells of a row are the steps, and whether that is certain.

The steps are a run of cells, each even inside, whose density moves one way. Beyond them lies something else. Film
beside the steps got no light; it is like the step that got least, so a run may go on into it, but the step that got
most stands against it with an edge that turns back. From that edge steps are counted. Where there is none (the film is
of the other kind, say), nothing is: from the other end a strip of the other kind would be counted backwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import Kind
from curves.sensitometry.scan.ladder_fit import BoolArray, EdgeFit

FEWEST_EDGES = 5
"""Edges between steps that must be seen before a ladder is believed: our own choice [unitless]."""

_ALIKE = 0.012
"""Change between neighbouring steps that uneven light alone may make: our own choice [density]."""

_AGAINST = 0.03
"""Change at the end of a run that turns it back: our own choice [density]."""

_TOO_MANY = 2
"""Edges beyond the last step's and a cell on that cannot be those of the film and the gate."""

_DISPLACED = 0.15
"""Share of edges that dirt may move out of their place: our own choice."""

_AS_FILM = 0.05
"""Share of the steps' range by which film before them may differ from film after them: uneven light, our own choice."""

_ABRUPT = 0.08
"""Change at the last edge that is seen from which a curve does not come to rest within a step: our own choice
[density]."""

_LEFT_OUT = 0.2
"""Change at the edges between those of steps that look too long, against theirs: our own choice."""

_COUNT, _CORNERS = "say how many there are", "give the corners"
_COUNT_SETTINGS, _CORNERS_SETTINGS = ("steps", "wedge"), ("corners",)


@dataclass(frozen=True)
class Doubt:
    """Why the steps are not certain.

    Attributes:
        what: the reason, as a clause.
        hint: what to try, as an imperative clause.
        settings: the parameters of a search that carry the hint out.
    """

    what: str
    hint: str
    settings: tuple[str, ...]

    @classmethod
    def of_count(cls, what: str) -> Doubt:
        """Return a doubt that the number of steps would remove."""
        return cls(what, _COUNT, _COUNT_SETTINGS)

    @classmethod
    def of_corners(cls, what: str, before: str = "") -> Doubt:
        """Return a doubt that the corners would remove, after what else may be tried ``before``."""
        return cls(what, f"{before}{_CORNERS}", _CORNERS_SETTINGS)

    @classmethod
    def of_either(cls, what: str) -> Doubt:
        """Return a doubt that the number of steps or the corners would remove."""
        return cls(what, f"{_COUNT}, or {_CORNERS}", (*_COUNT_SETTINGS, *_CORNERS_SETTINGS))


@dataclass(frozen=True)
class Run:
    """Cells first to last, all even, that move one way; looked at from the end that got most exposure.

    Attributes:
        cells: the row that they are part of.
        first, last: numbers of the run's cells in it, from 0.
        way: 1 if density grows from the first, as on a reversal, else -1.
    """

    cells: EdgeFit
    first: int
    last: int
    way: int

    @property
    def count(self) -> int:
        """How many cells it has [unitless]."""
        return self.last - self.first + 1

    @property
    def edges(self) -> int:
        """How many edges between its cells are seen [unitless]."""
        return int(self.cells.seen[self.first + 1 : self.last + 1].sum())

    def doubt(self, steps: int, kind: Kind) -> Doubt | None:
        """Return why its first cells are not so many steps for certain; None if they are."""
        return self._unseen(steps) or self._without_beginning(steps, kind) or self._contradicted(steps)

    def notes(self, steps: int) -> tuple[str, ...]:
        """Return what to mind of steps that are certain, each a sentence."""
        found = []
        if self._edge_beyond(steps):
            found.append(
                f"An edge is seen one step's length beyond step {steps}: if there are {steps + 1} steps, the last is"
                f" left out; look for {steps + 1} to bring it in."
            )
        last = self._last_seen(steps)
        if last < steps - 1:
            found.append(
                f"Steps {last + 1} to {steps} look alike, and like the film beside them: that there are {steps} steps"
                " is taken on your word."
            )
        return tuple(found)

    def _unseen(self, steps: int) -> Doubt | None:
        """Doubt where too little is seen, or edges only at every so many of the cells."""
        if self.edges < FEWEST_EDGES:
            return Doubt.of_corners(
                f"only {self.edges} edges between steps can be seen", "scan with more light if the film is dense, or "
            )
        if self.count < steps:
            return Doubt.of_either(f"{self.count} cells in a row look like steps, not {steps}")
        times = self._times_too_short()
        return Doubt.of_count(f"the edges that are seen lie {times} steps apart") if times > 1 else None

    def _without_beginning(self, steps: int, kind: Kind) -> Doubt | None:
        """Doubt where no edge says which cell is the first step."""
        if self._turns(self.first):
            if self.first > 0 and self.cells.seen[self.first - 1] and not self._begins_on_film(steps):
                return Doubt.of_corners(
                    "an edge is seen one step's length before the first step, which may be of a step that is covered"
                )
            return None
        if self.edges - 1 > steps:
            return Doubt.of_count(f"at least {self.edges - 1} steps are seen, not {steps}")
        if not self._turns(self.last + 1):
            return Doubt.of_corners("neither end of the steps stands out against what lies beside it")
        other = "reversal" if kind == "negative" else "negative"
        return Doubt(
            f"at the end that a {kind} exposes most, the steps run into what lies beside them, uncounted",
            f"if the film is a {other}, say so; else {_CORNERS}",
            ("kind", *_CORNERS_SETTINGS),
        )

    def _contradicted(self, steps: int) -> Doubt | None:
        """Doubt where what is seen speaks against so many steps of equal length."""
        beyond = self._beyond(steps)
        over = int(beyond[:-1].sum())
        if over >= _TOO_MANY:
            return Doubt.of_count(f"at least {steps + over} steps are seen, not {steps}")
        if self._edge_beyond(steps) and not self._begins_on_film(steps):
            return Doubt.of_either(
                f"an edge is seen one step's length beyond step {steps}, which may be of a step more"
            )
        displaced = int(self.cells.displaced[self.first + 1 : self.first + steps].sum())
        if displaced > max(1, _DISPLACED * self.edges):
            return Doubt.of_corners(f"{displaced} edges lie where steps of equal length have none")
        last = self._last_seen(steps)
        if last < steps - 1 and abs(float(self.cells.jump[self.first + last])) > _ABRUPT:
            return Doubt.of_either(
                f"only {last} steps are seen, and the last stands out too clearly for those after it to look like film"
            )
        return None

    def _turns(self, edge: int) -> bool:
        """Return whether density is seen to go against the run across an edge, and clearly."""
        return bool(self.cells.seen[edge]) and float(self.cells.jump[edge]) * self.way < -_AGAINST

    def _begins_on_film(self, steps: int) -> bool:
        """Return whether what lies before the first cell is film that got no light, as what lies after the last is.

        Density that falls over the steps has then risen by as much before them.
        """
        over = float(self.cells.jump[self.first + 1 : self.first + steps + 1].sum())
        return abs(float(self.cells.jump[self.first]) + over) < max(_ALIKE, _AS_FILM * abs(over))

    def _beyond(self, steps: int) -> BoolArray:
        """Return which edges are seen beyond so many steps, the last one's own left out."""
        return self.cells.seen[self.first + steps + 1 : self.last + 2]

    def _edge_beyond(self, steps: int) -> bool:
        beyond = self._beyond(steps)
        return bool(beyond.size and beyond[0])

    def _times_too_short(self) -> int:
        """Return of how many cells the steps seem to consist: 1, or more if edges are seen at every so many only."""
        size = np.where(self.cells.seen, np.abs(self.cells.jump), 0.0)[self.first + 1 : self.last + 1]
        last = int(np.flatnonzero(size)[-1]) + 1 if size.any() else 0
        for times in (4, 3, 2):
            by_place = [float(size[place:last:times].sum()) for place in range(times)]
            if sum(by_place) - max(by_place) <= _LEFT_OUT / times * max(by_place):
                return times
        return 1

    def _last_seen(self, steps: int) -> int:
        """Return the last of so many steps whose outer edge is seen; 0 if none is."""
        seen = np.flatnonzero(self.cells.seen[self.first + 1 : self.first + steps + 1])
        return int(seen[-1]) + 1 if seen.size else 0


def run_of(fit: EdgeFit, kind: Kind) -> Run:
    """Return the run in which most edges are seen, looked at from the step that got most exposure.

    Density falls from there on a negative, and grows on a reversal.

    Args:
        fit: a row of cells, looked at from either end.
        kind: of the film.
    """
    way = -1 if kind == "negative" else 1
    return max((_longest(cells, way) for cells in (fit, fit.reversed())), key=lambda run: run.edges)


def _longest(cells: EdgeFit, way: int) -> Run:
    """Return the run of even cells, moving one way, in which most edges are seen."""
    best = Run(cells, 0, 0, way)
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
            best = max(best, Run(cells, first, cell - 1, way), key=lambda run: run.edges)
            first = cell
    return best


def _sound(cells: EdgeFit, way: int) -> BoolArray:
    """Return which cells may be steps: even ones, and one that dirt makes uneven, if its neighbours are and go on."""
    onward = cells.seen & (cells.jump * way > 0)
    turning = (cells.seen & (cells.jump * way < 0)) | (cells.displaced & (cells.jump * way < -_AGAINST))
    between = np.zeros_like(cells.even)
    between[1:-1] = cells.even[:-2] & cells.even[2:]
    goes_on = (onward[:-1] | onward[1:]) & ~turning[:-1] & ~turning[1:]
    return np.asarray(cells.even | (between & goes_on))
