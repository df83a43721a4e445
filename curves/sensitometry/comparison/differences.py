"""Differences of all numbers of two strips, each with what it says: they differ, they do not, it cannot be told yet.

Numbers are subtracted row by row of the draws, so that errors that both strips share (one wedge, one light, one reader,
one meter) cancel, and only what the strips do not share is in the interval.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.special import ndtri

from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.numbers import ComparableNumber, NumberKey, Scale, comparable_numbers
from curves.sensitometry.comparison.pairs import exposure_scatter, refuse_unlike
from curves.sensitometry.core.quantity import COVERAGE, NORMAL, Quantity
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.core.values import POSITIVE, check_fields
from curves.sensitometry.curve.posterior import FIT, READINGS
from curves.sensitometry.uncertainty.intervals import difference
from curves.sensitometry.uncertainty.results import Analysis, shared_sources

Verdict = Literal["differs", "open", "slight", "alike", "not known"]
"""What a difference says, worst news first: it is there and may matter; it cannot be told; it is there and is too small
to matter; it is too small to matter, if there is any; a number is missing."""

VERDICTS: tuple[Verdict, ...] = ("differs", "open", "slight", "alike", "not known")

Pairs = Literal["first", "all"]
"""Which pairs of several strips are compared: each with the first, or all."""

_READ = (READINGS, "patches")
"""Sources of error that more readings shrink: those of the steps and of the patches."""

_MOST = 50
"""Most readings or strips that are proposed: more are not worth the film: our own choice [unitless]."""


@dataclass(frozen=True)
class Tolerances:
    """The differences that do not matter.

    Attributes:
        stops: of indexes, speeds, points and lengths: a third of a stop is the trade's step, common practice [stops].
        density: of densities: common practice [density].
        gradient: of gradients: our own choice [unitless].

    Raises:
        StripError: a tolerance is not above 0.
    """

    stops: float = 1.0 / 3.0
    density: float = 0.05
    gradient: float = 0.05

    def __post_init__(self) -> None:
        check_fields(self, stops=POSITIVE, density=POSITIVE, gradient=POSITIVE)

    def of(self, scale: Scale) -> float:
        """Return the tolerance of one scale."""
        return {"stops": self.stops, "density": self.density, "gradient": self.gradient}[scale]


@dataclass(frozen=True, eq=False)
class NumberDifference:
    """The difference of one number between two strips.

    Attributes:
        first, second: the number on each strip.
        difference: second less first, on the number's scale.
        tolerance: the difference that does not matter, on the scale.
        verdict: what the difference says.
        readings: readings of each step that would tell, where it cannot be told yet; None where readings will not do.
        strips: strips of each kind that would tell; None where strips will not do.
    """

    first: ComparableNumber
    second: ComparableNumber
    difference: Quantity
    tolerance: float
    verdict: Verdict
    readings: int | None = None
    strips: int | None = None

    @property
    def rank(self) -> tuple[int, float]:
        """Place of the difference in a list that begins with the worst news."""
        value = self.difference.value
        size = 0.0 if value is None else abs(value) / self.tolerance
        return VERDICTS.index(self.verdict), -size


@dataclass(frozen=True, eq=False)
class StripComparison:
    """Two strips side by side.

    Attributes:
        first, second: the analyses.
        differences: one for each number that both strips have, worst news first.
        shared: names of the sources of error that the strips share and that cancel.
        again: standard uncertainty of one exposure against the other by the same light; 0 where each strip's error of
            exposure is its own [stops].
    """

    first: Analysis
    second: Analysis
    differences: tuple[NumberDifference, ...]
    shared: tuple[str, ...]
    again: float


def compare_strips(
    analyses: Sequence[Analysis], tolerances: Tolerances | None = None, pairs: Pairs = "first"
) -> tuple[StripComparison, ...]:
    """Compare strips pair by pair.

    With more than one pair the intervals are widened so that all verdicts on one number hold together in 95 % (by
    Bonferroni's inequality).

    Args:
        analyses: at least two, of one kind and one kind of density, made with the same choices.
        tolerances: the differences that do not matter; common practice if None.
        pairs: "first" to compare each strip with the first, "all" for all pairs.

    Raises:
        StripError: there are fewer than two strips, or strips cannot be compared.
    """
    if len(analyses) < 2:
        raise StripError("one strip has nothing to be compared with", needed="two strips or more")
    for other in analyses[1:]:
        refuse_incomparable(analyses[0], other)
    every = list(itertools.combinations(analyses, 2))
    chosen = every if pairs == "all" else every[: len(analyses) - 1]
    wider = float(ndtri(1.0 - 0.5 * (1.0 - COVERAGE) / len(chosen))) / NORMAL
    return tuple(_compared(first, second, tolerances or Tolerances(), wider) for first, second in chosen)


def refuse_incomparable(first: Analysis, second: Analysis) -> None:
    """Refuse two strips whose numbers do not mean the same.

    Raises:
        StripError: kinds, kinds of density, or choices differ.
    """
    refuse_unlike(first, second, "strips of one kind, read in one kind of density")
    if first.choices != second.choices:
        raise StripError("the strips were analysed under different choices", needed="the same choices, the same seed")


def _compared(first: Analysis, second: Analysis, tolerances: Tolerances, wider: float) -> StripComparison:
    """Return the comparison of two strips, its intervals ``wider`` times as wide."""
    numbers = [comparable_numbers(analysis) for analysis in (first, second)]
    same_light = first.strip.log_h_unit == second.strip.log_h_unit
    keys = [k for k in numbers[0] if k in numbers[1] and (same_light or not numbers[0][k].exposed)]
    again = exposure_scatter(first, second, first.choices.seed)
    found = [_difference(numbers[0][k], numbers[1][k], tolerances, again, wider) for k in keys]
    shared = shared_sources((first, second))
    if any(one.verdict == "open" for one in found):
        # Strips are read as often as there are; what they share of smoothing, more of them do not shrink.
        by_strips = _READ if any(source.key == FIT for source in shared) else (*_READ, FIT)
        own = [_own_part(first, second, sources) for sources in (_READ, by_strips)]
        found = [_with_remedy(one, own, again, wider) for one in found]
    return StripComparison(
        first,
        second,
        tuple(sorted(found, key=lambda d: d.rank)),
        tuple(source.name for source in shared),
        float(again.std()) / STOP,
    )


def _difference(
    first: ComparableNumber, second: ComparableNumber, tolerances: Tolerances, again: FloatArray, wider: float
) -> NumberDifference:
    """Return the difference of one number, with its verdict."""
    tolerance = tolerances.of(first.scale)
    if first.value.value is None or second.value.value is None:
        between = _bounded(first.value, second.value)
    else:
        between = difference(_scattered(second, again), first.value)
    between = _widened(between, wider)
    return NumberDifference(first, second, between, tolerance, verdict_on(between, tolerance))


def _scattered(number: ComparableNumber, again: FloatArray) -> Quantity:
    """Return a number with the scatter of its exposure, if the exposure moves it."""
    rows = number.value.rows
    if not number.exposed or rows is None or not again.any():
        return number.value
    some = min(rows.size, again.size)
    return replace(number.value, rows=rows[:some] + again[:some] / STOP)


def _bounded(first: Quantity, second: Quantity) -> Quantity:
    """Return the bound on a difference of which at least one number is only bounded, or the reason there is none."""
    why = "; ".join(
        f"{which}: {q.why}" for which, q in (("first", first), ("second", second)) if q.value is None and q.why
    )
    (low, high), (from_, to) = first.known_ends, second.known_ends
    return Quantity.within(why, from_ - high, to - low)


def _widened(quantity: Quantity, wider: float) -> Quantity:
    """Return a quantity whose interval reaches ``wider`` times as far from the value."""
    if quantity.value is None or quantity.low is None or quantity.high is None:
        return quantity
    value = quantity.value
    return replace(quantity, low=value - wider * (value - quantity.low), high=value + wider * (quantity.high - value))


def verdict_on(between: Quantity, tolerance: float) -> Verdict:
    """Return the verdict on a difference, beside the difference that does not matter."""
    if between.value is None:
        least, most = between.known_ends
        return "differs" if least > 0.0 or most < 0.0 else "not known"
    if between.low is None or between.high is None:
        return "not known"
    apart, inside = between.low > 0.0 or between.high < 0.0, max(-between.low, between.high) <= tolerance
    if apart:
        return "slight" if inside else "differs"
    return "alike" if inside else "open"


def _own_part(first: Analysis, second: Analysis, sources: Sequence[str]) -> dict[NumberKey, float]:
    """Return the variance of each difference by some sources alone, which each strip has for itself."""
    alone = [comparable_numbers(analyse_alone(a.strip, sources, a.choices)) for a in (first, second)]
    variances = {}
    for key in alone[0].keys() & alone[1].keys():
        parts = [n[key].value.rows for n in alone]
        if all(rows is not None and rows.size > 1 for rows in parts):
            variances[key] = float(sum(np.nanvar(rows[1:]) for rows in parts if rows is not None))
    return variances


def _with_remedy(
    one: NumberDifference, own: Sequence[dict[NumberKey, float]], again: FloatArray, wider: float
) -> NumberDifference:
    """Return a difference with the numbers of readings and of strips that would tell, where it cannot be told yet."""
    between, key = one.difference, one.first.key
    if one.verdict != "open" or between.value is None or between.low is None or between.high is None:
        return one
    half = max(between.value - between.low, between.high - between.value)
    # The interval must come to exclude zero, or to lie within the tolerance.
    sought = max(abs(between.value), one.tolerance - abs(between.value)) / (wider * NORMAL)
    total = (half / (wider * NORMAL)) ** 2
    scatter = float(again.var()) / STOP**2 if one.first.exposed else 0.0
    return replace(
        one,
        readings=_times(total, own[0].get(key, 0.0), sought),
        strips=_times(total, max(by.get(key, 0.0) for by in own) + scatter, sought),
    )


def _times(total: float, own: float, sought: float) -> int | None:
    """Return the number of times that a part of a variance must be averaged for the whole to reach ``sought`` squared.

    None where the rest of the variance is too large for it, or the number is beyond reason.
    """
    own = min(own, total)
    rest = total - own
    if not own > 0.0 or sought**2 <= rest:
        return None
    times = math.ceil(own / (sought**2 - rest))
    return times if times <= _MOST else None
