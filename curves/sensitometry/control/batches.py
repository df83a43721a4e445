"""Control strips of several batches: each batch is joined to the first by strips that went through side by side.

Strips of one run of the process share what the process does on that day, so that the difference of two batches in a
run is a difference of the batches. Runs and batches are fitted together by least squares (a block design with the runs
as blocks, from memory); every centre is therefore a weighted sum of values, and its error follows from the weights.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.core.units import BoolArray, FloatArray, IndexArray
from curves.sensitometry.strip.strip import Strip

_ESTIMABLE = 1e-8
"""Largest residual of a difference that the runs determine: rounding [unitless]."""


@dataclass(frozen=True, eq=False)
class Batches:
    """The batches of control strips, the runs that the strips went through in, and what joins the batches.

    Attributes:
        names: of the batches in the order of their first strips; the limits come from strips of the first.
        batch: place in `names` of each strip's batch, (n,).
        run: number of the run that each strip went through in, (n,).
        reference: True for strips that the limits come from, (n,).
        joining: True for strips that join their batch to an earlier one, and are not judged, (n,).
    """

    names: tuple[str, ...]
    batch: IndexArray
    run: IndexArray
    reference: BoolArray
    joining: BoolArray

    @classmethod
    def of(cls, strips: Sequence[Strip], reference: int) -> Batches:
        """Return the batches of strips.

        Args:
            strips: in the order of their processing.
            reference: number of strips of the first batch, from the beginning, that show the process as it should be.

        Raises:
            StripError: a batch shares no run with another.
        """
        names = tuple(dict.fromkeys(strip.batch for strip in strips))
        batch = np.array([names.index(strip.batch) for strip in strips], dtype=np.intp)
        runs = [_run_of(strip, place) for place, strip in enumerate(strips)]
        known = {one: number for number, one in enumerate(dict.fromkeys(runs))}
        run = np.array([known[one] for one in runs], dtype=np.intp)
        first = (batch == 0) & (np.cumsum(batch == 0) <= reference)
        # In each run the strip of the earliest batch speaks for the process.
        earliest = np.full(len(known), len(names))
        np.minimum.at(earliest, run, batch)
        joining = batch > earliest[run]
        found = cls(names, batch, run, first, joining)
        for number, name in enumerate(names):
            if not found.tied(number):
                own = next(strip for strip in strips if strip.batch == name)
                raise StripError(
                    f"batch {name or 'without a name'} shares no run with batch {names[0] or 'without a name'}",
                    where=own.title,
                    needed="a run in which strips of both batches went through side by side; a run is known by its"
                    " date, and by run = ... where there are several on one day",
                )
        return found

    @property
    def judged(self) -> BoolArray:
        """True for strips that are judged: neither a reference nor joining, (n,)."""
        return ~(self.reference | self.joining)

    def tied(self, number: int) -> bool:
        """Return True if a batch is the first, or is joined to it, through others or not."""
        reached = {0}
        while True:
            runs = np.unique(self.run[np.isin(self.batch, list(reached))])
            more = set(self.batch[np.isin(self.run, runs)].tolist())
            if number in more or more == reached:
                return number in more
            reached = more

    def beside(self, number: int) -> tuple[int, int, int]:
        """Return the numbers of strips of a batch and of others that went through side by side, and of their runs."""
        own = self.batch == number
        runs = [r for r in np.unique(self.run[own]) if not own[self.run == r].all()]
        there = np.isin(self.run, runs)
        return int((own & there).sum()), int((~own & there).sum()), len(runs)

    def differences(self, known: BoolArray) -> FloatArray:
        """Return the weights of the strips in the difference of each batch from the first, (batches, n).

        Args:
            known: True for strips that show the number, (n,). A batch that they do not join has weights of NaN.
        """
        weights = np.zeros((len(self.names), known.size))
        # Runs of one batch alone tell nothing of its difference.
        joint = np.unique(self.run[self.joining])
        used = np.flatnonzero(known & np.isin(self.run, joint))
        apart = self.batch[used, None] == np.arange(1, len(self.names))
        runs = self.run[used, None] == joint
        columns = np.concatenate([apart, runs], axis=1).astype(float)
        solved = np.linalg.pinv(columns)
        resolved = solved @ columns
        for number in range(1, len(self.names)):
            wanted = np.arange(columns.shape[1]) == number - 1
            estimable = bool(np.abs(resolved[number - 1] - wanted).max() < _ESTIMABLE)
            weights[number, used] = solved[number - 1]
            if not estimable:
                weights[number] = np.nan
        return weights

    def centres(self, known: BoolArray, apart: FloatArray) -> FloatArray:
        """Return the weights of the strips in the centre of each batch, (batches, n).

        The centre is the mean of the reference strips, moved by the batch's difference.

        Args:
            known: as for `differences`; at least one reference strip among them.
            apart: the weights in the differences, of `differences`.
        """
        counted = known & self.reference
        return np.asarray(apart + counted / counted.sum())

    def variance(self, weights: FloatArray) -> float:
        """Return the variance of a weighted sum of values, in the variance of one strip [unitless].

        What of a strip's scatter is its own and what its whole run shares is not known: the larger of both counts.

        Args:
            weights: of the strips, (n,).
        """
        by_run = np.bincount(self.run, weights=weights)
        return float(max(weights @ weights, by_run @ by_run))


def _run_of(strip: Strip, place: int) -> tuple[datetime.date | None, str, int]:
    """Return the key of the run of a strip: date and name; a strip without a date is a run by itself."""
    return strip.date, strip.run, -1 if strip.date else place
