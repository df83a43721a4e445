"""Every stack that a drawer allows: what cast it leaves and what it costs, and those that no other beats in both."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.errors import RecordError
from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray, nominal_speed
from curves.sensitometry.filters.behind import BareStrip, Prediction, compared, grey_places, index_of, predict
from curves.sensitometry.filters.cast import amounts, left
from curves.sensitometry.filters.densities import Filter
from curves.sensitometry.uncertainty.intervals import summarise

MOST_STACKS = 1_000_000
SHOWN = 12
STOP_WORTH = 0.02
"""Cast that a stop of exposure is worth: about what can just be seen in a grey, our own choice [density per stop]."""

ADDING = (0.007, 0.004)
"""Standard uncertainty of taking the densities of a stack to add, which broad layers do not quite let them: common to
the layers, and of each layer besides. Found on simulated stacks of two and three filters (`tests.spectral`) [density].
"""

Members = tuple[int, ...]
Indexes = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class FilterRows:
    """The filters of a drawer with their errors: the same filter has the same error in every stack.

    Attributes:
        filters: as given.
        densities: to the layers, (filter, r, 3); row 0 as given [density].
        visual: to the eye or the meter, (filter, r) [density].
        adding: error of adding the densities of several filters, (r, 3) [density].
    """

    filters: tuple[Filter, ...]
    densities: FloatArray
    visual: FloatArray
    adding: FloatArray

    @classmethod
    def of(cls, filters: Sequence[Filter], rows: int, seed: int) -> FilterRows:
        """Draw every filter's error: each density's by itself, the estimate (row 0) without.

        Args:
            filters: the drawer.
            rows: how many rows the strip's ensembles have.
            seed: seed of the draws.
        """
        layers, visual = [], []
        for number, one in enumerate(filters):
            noise = streams.beside_estimate(streams.stream(seed, "filter", str(number), one.name), rows, 4)
            layers.append(one.densities + one.uncertainty * noise[:, :3])
            visual.append(one.visual + one.visual_uncertainty * noise[:, 3])
        noise = streams.beside_estimate(streams.stream(seed, "adding"), rows, 4)
        adding = ADDING[0] * noise[:, 3:] + ADDING[1] * noise[:, :3]
        return cls(tuple(filters), np.array(layers).reshape(-1, rows, 3), np.array(visual).reshape(-1, rows), adding)

    def stack(self, members: Members) -> tuple[FloatArray, FloatArray]:
        """Return a stack's density to the layers, (r, 3), and to the meter, (r,) [density]."""
        at = list(members)
        shifts = self.densities[at].sum(axis=0)
        return shifts + self.adding if len(at) > 1 else shifts, self.visual[at].sum(axis=0)


@dataclass(frozen=True, eq=False)
class Stack:
    """One stack and what it does.

    Attributes:
        names: its filters; empty for none.
        prediction: casts, cost and the index for a meter that does not see the filters.
        nominal: that index on the dial, or None.
        ei_through: the index for a meter that looks through them [unitless].
        nominal_through: the same on the dial, or None.
        factor: the stack's factor for the meter [unitless].
        worse_than_before: how much more cast it leaves than the stack listed before it [density]; None for the first.
        told_apart: True if that is more than its uncertainty.
        warnings: what to know about its filters, each a sentence.
    """

    names: tuple[str, ...]
    prediction: Prediction
    nominal: float | None
    ei_through: Quantity
    nominal_through: float | None
    factor: Quantity
    worse_than_before: Quantity | None = None
    told_apart: bool = False
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Stacks:
    """The stacks worth looking at, from the least cast to the least cost.

    The best of them weighs one against the other: a stop is worth `STOP_WORTH` of cast.

    Attributes:
        bare: what the film does without any filter.
        counted: how many stacks the drawer allows.
        too_dear: how many of them cost more than the limit.
        listed: those that no other beats in both cast and cost, thinned to `SHOWN`.
        best: the one to use.
    """

    bare: Stack
    counted: int
    too_dear: int
    listed: tuple[Stack, ...]
    best: Stack


def find_stacks(bare: BareStrip, filters: Sequence[Filter], *, most: int = 3, max_stops: float = 5.0) -> Stacks:
    """Return the stacks of up to ``most`` filters that no other beats in both cast and cost.

    All of them are ranked by the estimate; those listed get their intervals.

    Args:
        bare: the strip without filters.
        filters: the drawer; each may be used as often as its count says.
        most: how many filters a stack may have.
        max_stops: the most exposure a stack may cost [stops].

    Raises:
        RecordError: there would be too many stacks to look at.
    """
    members = enumerate_stacks([f.count for f in filters], most)
    drawn = FilterRows.of(filters, bare.rows, bare.choices.seed)
    shifts = stack_densities(np.array([f.densities for f in filters]).reshape(-1, 3), members)
    cast_left, cost = rank(bare, shifts)
    allowed = np.flatnonzero(cost <= max_stops + 1e-9)
    front = allowed[thinned(cast_left[allowed], cost[allowed], SHOWN)]
    best = int((cast_left + STOP_WORTH * cost)[front].argmin())
    flat = [m for group in members for m in group]
    listed: list[Stack] = []
    for number in front:
        one = look_at(bare, drawn, tuple(int(m) for m in flat[number]))
        listed.append(_beside(one, listed[-1]) if listed else one)
    return Stacks(look_at(bare, drawn, ()), len(flat) - 1, len(flat) - allowed.size, tuple(listed), listed[best])


def look_at(bare: BareStrip, drawn: FilterRows, members: Members) -> Stack:
    """Return what one stack does, with intervals.

    Args:
        bare: the strip without filters.
        drawn: the drawer.
        members: positions of the stack's filters in it.
    """
    shifts, visual = drawn.stack(members) if members else (bare.none, np.zeros(bare.rows))
    prediction = predict(bare, shifts)
    used = [drawn.filters[m] for m in members]
    through = prediction.grey - visual
    ei = prediction.ei
    ei_through = index_of(bare, through) if ei.value is not None else Quantity.missing(ei.why or "")
    return Stack(
        names=tuple(f.name for f in used),
        prediction=prediction,
        nominal=None if ei.value is None else nominal_speed(ei.value),
        ei_through=ei_through,
        nominal_through=None if ei_through.value is None else nominal_speed(ei_through.value),
        factor=summarise(10.0**visual),
        warnings=tuple(dict.fromkeys(f.warning for f in used if f.warning)),
    )


def _beside(one: Stack, before: Stack) -> Stack:
    """Return the stack with what it leaves more than the one listed before it."""
    rows = one.prediction.cast_rows - before.prediction.cast_rows
    if not np.isfinite(rows[0]):
        return one
    more = summarise(rows)
    apart = more.low is not None and more.low > 0.0
    return Stack(**{**one.__dict__, "worse_than_before": more, "told_apart": apart})


def enumerate_stacks(counts: Sequence[int], most: int) -> list[Indexes]:
    """Return every stack of up to ``most`` filters, each filter used at most as often as it is there.

    Args:
        counts: how many of each filter there are.
        most: the greatest number of filters in a stack.

    Returns:
        One array for each size from 0, (stacks, size), of positions in ``counts``.

    Raises:
        RecordError: there are more than `MOST_STACKS`.
    """
    total = _how_many(counts, most) - 1
    if total > MOST_STACKS:
        raise RecordError(
            f"the drawer allows {total:,} stacks of up to {most} filters",
            needed=f"at most {MOST_STACKS:,}",
            hint=f"look at smaller stacks: --most {most - 1}",
        )
    if all(count == 1 for count in counts):
        sizes = range(min(most, len(counts)) + 1)
        return [_as_array(itertools.combinations(range(len(counts)), size), size) for size in sizes]
    found = []
    for size in range(min(most, sum(counts)) + 1):
        every = itertools.combinations_with_replacement(range(len(counts)), size)
        found.append(_as_array((m for m in every if all(m.count(i) <= counts[i] for i in set(m))), size))
    return found


def _as_array(stacks: Iterable[tuple[int, ...]], size: int) -> Indexes:
    listed = list(stacks)
    return np.array(listed, dtype=np.intp).reshape(len(listed), size)


def _how_many(counts: Sequence[int], most: int) -> int:
    """Return how many stacks there are, the one of none among them.

    They are the coefficients of the product of (1 + x + ... + x^count) over the filters, summed up to x^most.
    """
    ways = [1] + [0] * most
    for count in counts:
        ways = [sum(ways[size - used] for used in range(min(count, size) + 1)) for size in range(most + 1)]
    return sum(ways)


def stack_densities(densities: FloatArray, members: Sequence[Indexes]) -> FloatArray:
    """Return the density of every stack to each layer, the sum of its filters', (stack, 3) [density].

    Args:
        densities: of the filters, (filter, 3) [density].
        members: as from `enumerate_stacks`.
    """
    return np.vstack([densities[group].sum(axis=1) for group in members])


def rank(bare: BareStrip, shifts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the cast that many stacks leave [density] and what they cost [stops], from the estimate alone.

    A tone that falls off the strip is ranked as if the curve went on level; `predict` says so of those listed.

    Args:
        bare: the strip without filters.
        shifts: densities of the stacks to the layers, (stack, 3) [density].
    """
    grey = grey_places(bare, shifts)
    densities = np.empty((len(shifts), 3, 3))
    for i, layer in enumerate(bare.layers):
        x = grey[:, None] + bare.tones() - shifts[:, i, None]
        densities[:, :, i] = np.interp(x, layer.grid, layer.density[0])
    cast_left = left(amounts(_compared(bare, densities)))
    return cast_left, (grey - bare.grey[0]) / STOP


def _compared(bare: BareStrip, densities: FloatArray) -> FloatArray:
    """Return densities of the estimate as they are compared, whatever their number."""
    zero = compared(bare, np.zeros((bare.rows, 3)))[0]
    return np.asarray(densities + zero)


def thinned(cast_left: FloatArray, cost: FloatArray, most: int) -> Indexes:
    """Return the stacks that no other beats in both cast and cost, from least cast to least cost.

    Of more than ``most``, those go first that mend least compared with a neighbour; the ends stay, and so does the one
    that is best when a stop is worth `STOP_WORTH`.

    Args:
        cast_left: (stack,) [density].
        cost: (stack,) [stops].
        most: how many to keep.
    """
    order = np.lexsort((cost, np.round(cast_left, 6)))
    costs = np.round(cost[order], 6)
    cheapest_before = np.concatenate([[np.inf], np.minimum.accumulate(costs)[:-1]])
    front = order[costs < cheapest_before]
    best = front[int((cast_left + STOP_WORTH * cost)[front].argmin())]
    while front.size > most:
        gap = np.diff(cast_left[front])[:-1]
        front = np.delete(front, 1 + int(np.where(front[1:-1] == best, np.inf, gap).argmin()))
    return np.asarray(front)
