"""The decision which cells of a row are the steps, and the doubts about it.

The steps are a run of cells, each even inside, whose density changes in one direction. Film beside the steps got no
light; it is like the step that got least, so a run may go on into this film, but the step that got most stands out
against it by an edge at which density turns back. Steps are counted from that edge. Without such an edge (if the film
is of the other kind, say) no steps are counted: from the other end, a strip of the other kind would be counted
backwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import BoolArray, Kind, sign_of
from curves.sensitometry.scan.ladder_fit import EdgeFit

FEWEST_EDGES = 5
"""Least number of visible edges between steps for a certain ladder: our own choice [unitless]."""

_ALIKE = 0.012
"""Change between neighbouring steps that uneven light alone may make: our own choice [density]."""

_AGAINST = 0.03
"""Least change of density against the direction of a run that ends the run: our own choice [density]."""

_TOO_MANY = 2
"""Number of edges beyond the steps that cannot be the edges of the film and of the gate [unitless]."""

_DISPLACED = 0.15
"""Share of edges that dirt may displace: our own choice [unitless]."""

_AS_FILM = 0.05
"""Share of the steps' range by which uneven light may separate film before and after the steps: our own choice."""

_ABRUPT = 0.08
"""Change at the last visible edge after which a curve cannot be level within one step: our own choice [density]."""

_LEFT_OUT = 0.2
"""Greatest change at the edges inside steps that look too long, over the change at their ends: our own choice."""

_COUNT, _CORNERS = "say how many there are", "give the corners"
_COUNT_SETTINGS, _CORNERS_SETTINGS = ("steps", "wedge"), ("corners",)


@dataclass(frozen=True)
class LadderDoubt:
    """The reason why the steps are not certain.

    Attributes:
        what: the reason, as a clause.
        hint: what to try, as an imperative clause.
        settings: the parameters of a search that carry the hint out.
    """

    what: str
    hint: str
    settings: tuple[str, ...]

    @classmethod
    def of_count(cls, what: str) -> LadderDoubt:
        """Return a doubt that the number of steps would remove."""
        return cls(what, _COUNT, _COUNT_SETTINGS)

    @classmethod
    def of_corners(cls, what: str, before: str = "") -> LadderDoubt:
        """Return a doubt that the corners would remove, after what else may be tried ``before``."""
        return cls(what, f"{before}{_CORNERS}", _CORNERS_SETTINGS)

    @classmethod
    def of_either(cls, what: str) -> LadderDoubt:
        """Return a doubt that the number of steps or the corners would remove."""
        return cls(what, f"{_COUNT}, or {_CORNERS}", (*_COUNT_SETTINGS, *_CORNERS_SETTINGS))


@dataclass(frozen=True)
class StepRun:
    """Consecutive even cells whose density changes in one direction, counted from the end that got most exposure.

    Attributes:
        cells: the row that the cells are part of.
        first, last: numbers of the run's first and last cell in the row, from 0.
        way: 1 if density grows from the first cell, as on a reversal, else -1.
    """

    cells: EdgeFit
    first: int
    last: int
    way: int

    @property
    def count(self) -> int:
        """The number of cells [unitless]."""
        return self.last - self.first + 1

    @property
    def edges(self) -> int:
        """The number of visible edges between the cells [unitless]."""
        return int(self.cells.seen[self.first + 1 : self.last + 1].sum())

    def doubt(self, steps: int, kind: Kind) -> LadderDoubt | None:
        """Return the doubt that the first ``steps`` cells are the steps; None if they are for certain."""
        return self._unseen(steps) or self._without_beginning(steps, kind) or self._contradicted(steps)

    def notes(self, steps: int) -> tuple[str, ...]:
        """Return remarks on steps that are certain, each a sentence."""
        found = []
        if self._edge_beyond(steps):
            found.append(
                f"An edge is visible one step's length beyond step {steps}: if there are {steps + 1} steps, the last is"
                f" left out; look for {steps + 1} to bring it in."
            )
        last = self._last_seen(steps)
        if last < steps - 1:
            found.append(
                f"Steps {last + 1} to {steps} look alike, and like the film beside them: the picture does not show that"
                f" there are {steps} steps."
            )
        return tuple(found)

    def _unseen(self, steps: int) -> LadderDoubt | None:
        """Return a doubt if too few edges are visible, or edges at every second, third or fourth cell only."""
        if self.edges < FEWEST_EDGES:
            return LadderDoubt.of_corners(
                f"only {self.edges} edges between steps are visible", "scan with more light if the film is dense, or "
            )
        if self.count < steps:
            return LadderDoubt.of_either(f"{self.count} cells in a row look like steps, not {steps}")
        times = self._times_too_short()
        return LadderDoubt.of_count(f"the visible edges lie {times} steps apart") if times > 1 else None

    def _without_beginning(self, steps: int, kind: Kind) -> LadderDoubt | None:
        """Return a doubt if no edge shows which cell is step 1."""
        if self._turns(self.first):
            if self.first > 0 and self.cells.seen[self.first - 1] and not self._begins_on_film(steps):
                return LadderDoubt.of_corners(
                    "an edge is visible one step's length before step 1: a step may be covered"
                )
            return None
        if self.edges - 1 > steps:
            return LadderDoubt.of_count(f"at least {self.edges - 1} steps are visible, not {steps}")
        if not self._turns(self.last + 1):
            return LadderDoubt.of_corners("neither end of the steps stands out against its surround")
        other = "reversal" if kind == "negative" else "negative"
        return LadderDoubt(
            f"the most exposed step of a {kind} does not stand out against its surround, so steps cannot be counted",
            f"if the film is a {other}, say so; else {_CORNERS}",
            ("kind", *_CORNERS_SETTINGS),
        )

    def _contradicted(self, steps: int) -> LadderDoubt | None:
        """Return a doubt if the visible edges contradict ``steps`` steps of equal length."""
        beyond = self._beyond(steps)
        over = int(beyond[:-1].sum())
        if over >= _TOO_MANY:
            return LadderDoubt.of_count(f"at least {steps + over} steps are visible, not {steps}")
        if self._edge_beyond(steps) and not self._begins_on_film(steps):
            return LadderDoubt.of_either(
                f"an edge is visible one step's length beyond step {steps}: there may be another step"
            )
        displaced = int(self.cells.displaced[self.first + 1 : self.first + steps].sum())
        if displaced > max(1, _DISPLACED * self.edges):
            return LadderDoubt.of_corners(f"{displaced} edges lie where steps of equal length have none")
        last = self._last_seen(steps)
        if last < steps - 1 and abs(float(self.cells.jump[self.first + last])) > _ABRUPT:
            return LadderDoubt.of_either(
                f"only {last} steps are visible, and the last is too distinct for those after it to look like film"
            )
        return None

    def _turns(self, edge: int) -> bool:
        """Return True if density clearly changes against the direction of the run at a visible edge."""
        return bool(self.cells.seen[edge]) and float(self.cells.jump[edge]) * self.way < -_AGAINST

    def _begins_on_film(self, steps: int) -> bool:
        """Return True if film without exposure lies before the first cell, as it does after the last cell.

        Density then rises before the steps by as much as it falls over them, or falls by as much as it rises.
        """
        over = float(self.cells.jump[self.first + 1 : self.first + steps + 1].sum())
        return abs(float(self.cells.jump[self.first]) + over) < max(_ALIKE, _AS_FILM * abs(over))

    def _beyond(self, steps: int) -> BoolArray:
        """Return True for each visible edge beyond ``steps`` steps, leaving out the outer edge of the last step."""
        return self.cells.seen[self.first + steps + 1 : self.last + 2]

    def _edge_beyond(self, steps: int) -> bool:
        beyond = self._beyond(steps)
        return bool(beyond.size and beyond[0])

    def _times_too_short(self) -> int:
        """Return the number of cells in each step: 1, or 2 to 4 if edges are visible at every second to fourth only."""
        size = np.where(self.cells.seen, np.abs(self.cells.jump), 0.0)[self.first + 1 : self.last + 1]
        last = int(np.flatnonzero(size)[-1]) + 1 if size.any() else 0
        for times in (4, 3, 2):
            by_place = [float(size[place:last:times].sum()) for place in range(times)]
            if sum(by_place) - max(by_place) <= _LEFT_OUT / times * max(by_place):
                return times
        return 1

    def _last_seen(self, steps: int) -> int:
        """Return the last of ``steps`` steps whose outer edge is visible; 0 if there is none."""
        seen = np.flatnonzero(self.cells.seen[self.first + 1 : self.first + steps + 1])
        return int(seen[-1]) + 1 if seen.size else 0


def longest_run(fit: EdgeFit, kind: Kind) -> StepRun:
    """Return the run with most visible edges, counted from the step that got most exposure.

    From this step density falls on a negative, and grows on a reversal.

    Args:
        fit: a row of cells, counted from either end.
        kind: kind of the film.
    """
    way = -int(sign_of(kind))
    return max((_longest(cells, way) for cells in (fit, fit.reversed())), key=lambda run: run.edges)


def _longest(cells: EdgeFit, way: int) -> StepRun:
    """Return the run of even cells, changing in one direction, with most visible edges."""
    best = StepRun(cells, 0, 0, way)
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
            best = max(best, StepRun(cells, first, cell - 1, way), key=lambda run: run.edges)
            first = cell
    return best


def _sound(cells: EdgeFit, way: int) -> BoolArray:
    """Return True for cells that may be steps: even cells, and a cell that dirt makes uneven between two even cells."""
    onward = cells.seen & (cells.jump * way > 0)
    turning = (cells.seen & (cells.jump * way < 0)) | (cells.displaced & (cells.jump * way < -_AGAINST))
    between = np.zeros_like(cells.even)
    between[1:-1] = cells.even[:-2] & cells.even[2:]
    goes_on = (onward[:-1] | onward[1:]) & ~turning[:-1] & ~turning[1:]
    return np.asarray(cells.even | (between & goes_on))
