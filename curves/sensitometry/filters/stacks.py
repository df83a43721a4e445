"""Every stack of a drawer's filters: its cast and its cost, and the stacks that no other stack beats in both."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from curves.errors import RecordError
from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray, IndexArray, nominal_speed
from curves.sensitometry.filters.behind import BareStrip, grey_places
from curves.sensitometry.filters.cast import amounts, total_cast
from curves.sensitometry.filters.densities import Filter
from curves.sensitometry.filters.prediction import Prediction, comparable, index_of, predict
from curves.sensitometry.uncertainty.intervals import summarise

MOST_STACKS = 1_000_000
"""Most stacks that are ranked, which takes seconds: our own choice [unitless]."""

SHOWN = 12
"""Stacks that are listed at most: our own choice [unitless]."""

STOP_WORTH = 0.02
"""Cast that weighs as much as a stop of exposure: about the least visible in a grey, our own choice [density/stop]."""

ADDING = (0.007, 0.004)
"""Standard uncertainty from adding the densities of a stack, which add only roughly in broad layers: the part common to
the layers, and the part of each layer. Found on simulated stacks of two and three filters (`tests.spectral`) [density].
"""

Members = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class FilterRows:
    """The filters of a drawer with their errors, row by row: a filter has the same error in every stack.

    Attributes:
        filters: the filters.
        densities: density to the layers, (filter, r, 3); row 0 as given [density].
        visual: density to the eye or the meter, (filter, r) [density].
        adding: error from adding the densities of several filters, (r, 3) [density].
    """

    filters: tuple[Filter, ...]
    densities: FloatArray
    visual: FloatArray
    adding: FloatArray

    @classmethod
    def of(cls, filters: Sequence[Filter], rows: int, seed: int) -> FilterRows:
        """Draw the error of every density of every filter; row 0, the estimate, has no error.

        Args:
            filters: the drawer.
            rows: number of rows of the strip's ensembles.
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
    """One stack and the prediction behind it.

    Attributes:
        names: names of its filters; empty without filters.
        prediction: casts, cost and the index for a meter that does not see the filters.
        nominal: the index for a meter that does not see the filters, on the dial, or None.
        ei_through: the index for a meter that looks through the filters [unitless].
        nominal_through: the index for a meter that looks through the filters, on the dial, or None.
        factor: the stack's factor for the meter [unitless].
        worse_than_before: cast that the stack leaves beyond that of the stack listed before it [density]; None for the
            first.
        told_apart: True if this difference is more than its uncertainty.
        warnings: warnings about the filters, each a sentence.
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

    The best stack has the least sum of cast and cost, where a stop counts as `STOP_WORTH` of cast.

    Attributes:
        bare: the prediction without any filter.
        counted: number of stacks that the drawer allows.
        too_dear: number of stacks that cost more than the limit.
        listed: the stacks that no other stack beats in both cast and cost, thinned to `SHOWN`.
        best: the stack to use.
    """

    bare: Stack
    counted: int
    too_dear: int
    listed: tuple[Stack, ...]
    best: Stack


def find_stacks(bare: BareStrip, filters: Sequence[Filter], *, most: int = 3, max_stops: float = 5.0) -> Stacks:
    """Return the stacks of up to ``most`` filters that no other stack beats in both cast and cost.

    All stacks are ranked by the estimate; the listed stacks get intervals.

    Args:
        bare: the strip without filters.
        filters: the drawer; each filter may be used as often as its count says.
        most: greatest number of filters in a stack.
        max_stops: greatest exposure that a stack may cost [stops].

    Raises:
        RecordError: the drawer allows too many stacks.
    """
    members = enumerate_stacks([f.count for f in filters], most)
    drawn = FilterRows.of(filters, bare.rows, bare.choices.seed)
    shifts = stack_densities(np.array([f.densities for f in filters]).reshape(-1, 3), members)
    cast_left, cost = rank_stacks(bare, shifts)
    allowed = np.flatnonzero(cost <= max_stops + 1e-9)
    front = allowed[best_stacks(cast_left[allowed], cost[allowed], SHOWN)]
    best = int((cast_left + STOP_WORTH * cost)[front].argmin())
    flat = [m for group in members for m in group]
    listed: list[Stack] = []
    for number in front:
        one = predict_stack(bare, drawn, tuple(int(m) for m in flat[number]))
        listed.append(_beside(one, listed[-1]) if listed else one)
    return Stacks(predict_stack(bare, drawn, ()), len(flat) - 1, len(flat) - allowed.size, tuple(listed), listed[best])


def predict_stack(bare: BareStrip, drawn: FilterRows, members: Members) -> Stack:
    """Return the prediction behind one stack, with intervals.

    Args:
        bare: the strip without filters.
        drawn: the drawer, its errors drawn.
        members: positions of the stack's filters in the drawer.
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
    """Return a stack with the cast that it leaves beyond that of the stack listed before it."""
    rows = one.prediction.cast_rows - before.prediction.cast_rows
    if not np.isfinite(rows[0]):
        return one
    more = summarise(rows)
    apart = more.low is not None and more.low > 0.0
    return Stack(**{**one.__dict__, "worse_than_before": more, "told_apart": apart})


def enumerate_stacks(counts: Sequence[int], most: int) -> list[IndexArray]:
    """Return every stack of up to ``most`` filters, each filter used at most as often as the drawer holds it.

    Args:
        counts: number of filters of each kind in the drawer.
        most: greatest number of filters in a stack.

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
            hint="look at smaller stacks",
            settings=(f"most={most - 1}",),
        )
    if all(count == 1 for count in counts):
        sizes = range(min(most, len(counts)) + 1)
        return [_as_array(itertools.combinations(range(len(counts)), size), size) for size in sizes]
    found = []
    for size in range(min(most, sum(counts)) + 1):
        every = itertools.combinations_with_replacement(range(len(counts)), size)
        found.append(_as_array((m for m in every if all(m.count(i) <= counts[i] for i in set(m))), size))
    return found


def _as_array(stacks: Iterable[tuple[int, ...]], size: int) -> IndexArray:
    listed = list(stacks)
    return np.array(listed, dtype=np.intp).reshape(len(listed), size)


def _how_many(counts: Sequence[int], most: int) -> int:
    """Return the number of stacks, the stack without filters among them.

    The numbers by size are the coefficients of the product of (1 + x + ... + x^count) over the filters.
    """
    ways = [1] + [0] * most
    for count in counts:
        ways = [sum(ways[size - used] for used in range(min(count, size) + 1)) for size in range(most + 1)]
    return sum(ways)


def stack_densities(densities: FloatArray, members: Sequence[IndexArray]) -> FloatArray:
    """Return the density of every stack to each layer, the sum of its filters' densities, (stack, 3) [density].

    Args:
        densities: densities of the filters, (filter, 3) [density].
        members: the stacks, as `enumerate_stacks` returns them.
    """
    return np.vstack([densities[group].sum(axis=1) for group in members])


def rank_stacks(bare: BareStrip, shifts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the cast [density] and the cost [stops] of many stacks, from the estimate alone.

    A tone that falls off the strip is ranked as if the curve went on level; `predict` reports it for listed stacks.

    Args:
        bare: the strip without filters.
        shifts: densities of the stacks to the layers, (stack, 3) [density].
    """
    grey = grey_places(bare, shifts)
    densities = np.empty((len(shifts), 3, 3))
    for i, layer in enumerate(bare.layers):
        x = grey[:, None] + bare.tones() - shifts[:, i, None]
        densities[:, :, i] = np.interp(x, layer.grid, layer.density[0])
    cast_left = total_cast(amounts(_compared(bare, densities)))
    return cast_left, (grey - bare.grey[0]) / STOP


def _compared(bare: BareStrip, densities: FloatArray) -> FloatArray:
    """Return densities of the estimate for comparison, as `prediction.comparable` does, in any number."""
    zero = comparable(bare, np.zeros((bare.rows, 3)))[0]
    return np.asarray(densities + zero)


def best_stacks(cast_left: FloatArray, cost: FloatArray, most: int) -> IndexArray:
    """Return the stacks that no other stack beats in both cast and cost, from least cast to least cost.

    If there are more than ``most``, stacks are dropped that reduce the cast least against a neighbour; the two ends and
    the best stack, a stop counting as `STOP_WORTH`, are kept.

    Args:
        cast_left: (stack,) [density].
        cost: (stack,) [stops].
        most: number of stacks to keep.
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
