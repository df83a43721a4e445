"""The working index by eye: of a bracket that was only judged, and of one whose densities were read too.

Judgements know nothing of the errors that frames share, the metering and the filter: both the eye and the curve place
the right exposure among the frames. So the judgements move each draw's place among the frames, and the shared errors
stay in the rows in which they were drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from curves.errors import StripError
from curves.sensitometry.brackets.evidence import Evidence, shares_below
from curves.sensitometry.core import streams
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import COVERAGE, ENDS, NORMAL, Quantity
from curves.sensitometry.core.units import STOP, FloatArray, dial_step, two_digits
from curves.sensitometry.curve.posterior import STEPS
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.budget import Budget, BudgetLine
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import ends_of, summarise, widest_interval
from curves.sensitometry.uncertainty.results import Analysis, ByEye, Notice, WorkingEI
from curves.sensitometry.uncertainty.sources import EYE, OF_THE_EYE, Errors, Source

_OF_EXPOSURE = ("exposure", "colour")
"""Keys of the sources that all frames share, which no judgement shrinks."""

_REACH, _PLACES = 6.0, 2001
"""Standard deviations to each side, and places, over which the curve's and the eye's knowledge are multiplied."""

NO_DENSITY = "no density was read, and judgements by eye do not show it"
"""Why a number of the curve is missing where frames were only judged."""

_FEWEST_DRAWS = 250
"""Draws that an interval by eye needs, even where the choices ask for none [unitless]."""


@dataclass(frozen=True, eq=False)
class SharedErrors:
    """The errors that an index shares with all frames of its bracket.

    Attributes:
        zero: the index at which metered mid-grey has log H zero [unitless].
        rows: error of all log H and of the index, row by row, (r,) [log10]; row 0 is 0.
        seed: of the draws.
    """

    zero: float
    rows: FloatArray
    seed: int

    def index(self, places: FloatArray) -> FloatArray:
        """Return the index of places among the frames [stops], row by row, (r,) [unitless]."""
        return np.asarray(self.zero * 10.0 ** -(STOP * places + self.rows))

    def places(self, index: FloatArray) -> FloatArray:
        """Return the places among the frames of an index, row by row, (r,) [stops]."""
        return np.asarray(-(np.log10(index / self.zero) + self.rows) / STOP)


WithJudgements = Callable[[Quantity, Ensemble], tuple[Quantity, ByEye | None]]
"""From an index and the curves that gave it to the index with the judgements of the frames, and their part in it."""


def judgements_of(strip: Strip, seed: int) -> WithJudgements:
    """Return the function that adds a strip's judgements to an index; without judgements the index stays as it is.

    Args:
        strip: the strip.
        seed: of the draws.
    """
    evidence = Evidence.of(strip)

    def added(index: Quantity, ensemble: Ensemble) -> tuple[Quantity, ByEye | None]:
        if evidence is None:
            return index, None
        error = ensemble.log_h_error + ensemble.meter_error
        return joined(index, evidence, SharedErrors(strip.metering.index_at_zero, error, seed))

    return added


def index_alone(evidence: Evidence, shared: SharedErrors) -> Quantity:
    """Return the index by the judgements alone; a bound where all frames lie on one side of the right exposure."""
    if evidence.one_sided:
        return _bound(evidence, shared)
    count = shared.rows.size - 1
    own = streams.stream(shared.seed, EYE, *evidence.labels, streams.identity(evidence.stops))
    # The taste is the eye's, not the strip's: brackets that one eye judged carry the same taste in the same row.
    taste = streams.normal(streams.stream(shared.seed, "taste", *OF_THE_EYE), count, 1)[:, 0]
    taken = evidence.quantiles_to_the_eye(streams.uniform(own, count, 1)[:, 0])
    shares = _spread_evenly(taken - evidence.eye.taste * taste)
    return summarise(shared.index(evidence.quantiles(np.concatenate([[0.5], shares]))), how="estimated")


def _spread_evenly(draws: FloatArray) -> FloatArray:
    """Return draws as shares that lie evenly within each block, in the same order, (d,) [unitless]."""
    shares = np.empty_like(draws)
    for start in range(0, draws.size, streams.BLOCK):
        block = draws[start : start + streams.BLOCK]
        shares[start : start + block.size] = (block.argsort().argsort() + 0.5) / block.size
    return shares


def _bound(evidence: Evidence, shared: SharedErrors) -> Quantity:
    """Return the bound of an index where every frame had too little exposure, or every frame too much."""
    less = evidence.one_sided < 0
    ends = shared.index(np.full_like(shared.rows, evidence.bound()))
    limit = float(np.quantile(ends, ENDS[1] if less else ENDS[0]))
    why = (
        f"every judged frame has too {'little' if less else 'much'} exposure: expose frames with"
        f" {'more' if less else 'less'}, until one has too {'much' if less else 'little'}"
    )
    return Quantity.missing(why, below=limit) if less else Quantity.missing(why, above=limit)


def joined(index: Quantity, evidence: Evidence, shared: SharedErrors) -> tuple[Quantity, ByEye]:
    """Return an index with what judgements of the same frames add to it, and the judgements' part in it.

    The curve's knowledge of the place of the right exposure is taken as normal to each side of its estimate, and
    multiplied by the chance of the judgements. Every row is then moved as the whole distribution is. Where the two
    contradict each other, the interval widens.

    Args:
        index: the index that the curve gives; left as it is where it has no value, or no draws.
        evidence: the judgements.
        shared: the errors that the index shares with all frames.
    """
    alone = index_alone(evidence, shared)
    told = ByEye(evidence.counts, alone, index, evidence.eye.uncertainty, evidence.eye.assumed)
    if index.value is None or index.rows is None or index.rows.size < 2 or not np.isfinite(index.rows).all():
        return index, told
    places = shared.places(index.rows)
    low, high = widest_interval(places, places)
    least = 1e-3
    below, above = (max(x / NORMAL, least) for x in (places[0] - low, high - places[0]))
    grid = np.linspace(places[0] - _REACH * below, places[0] + _REACH * above, _PLACES)
    z = np.where(grid < places[0], (grid - places[0]) / below, (grid - places[0]) / above)
    before = np.exp(-0.5 * z**2)
    step = float(grid[1] - grid[0])
    shares = np.interp(places, grid, shares_below(before, step))
    moved = np.interp(shares, shares_below(before * evidence.chance(grid), step), grid)
    found = _apart(evidence, float(places[0]), below, above)
    kept = float(np.var(moved[1:]) / np.var(places[1:])) if np.var(places[1:]) > 0 else 1.0
    told = replace(told, apart=found.stops, contradicts=found.times > NORMAL, kept=min(kept, 1.0))
    return _with_rows(index, shared.index(_widened(moved, found))), told


@dataclass(frozen=True)
class _Apart:
    """The distance of the eye's place from the curve's.

    Attributes:
        place: what the eye takes for the right exposure [stops].
        stops: how far the eye's index lies above the curve's [stops].
        times: that distance in the uncertainty of the two [unitless].
    """

    place: float
    stops: float
    times: float


def _apart(evidence: Evidence, place: float, below: float, above: float) -> _Apart:
    """Return the distance of the eye's place from the curve's, whose uncertainty is given for each side [stops]."""
    if evidence.one_sided:
        bound = evidence.bound()
        beyond = max((bound - place) * -evidence.one_sided, 0.0)
        return _Apart(bound, place - bound if beyond else 0.0, beyond / (above if bound > place else below))
    low, middle, high = evidence.quantiles(np.array([ENDS[0], 0.5, ENDS[1]]))
    own = (high - low) / (2.0 * NORMAL)
    times = abs(place - middle) / np.hypot(own, above if middle > place else below)
    return _Apart(float(middle), float(place - middle), float(times))


def _widened(places: FloatArray, found: _Apart) -> FloatArray:
    """Return places spread more widely about the estimate where the eye and the curve contradict each other, (r,).

    From where the two lie as far apart as their uncertainty allows, the interval grows towards the eye's place, which
    it holds from one more uncertainty on.
    """
    more = min(max(found.times - NORMAL, 0.0), 1.0)
    away = places - places[0]
    towards = away * (found.place - places[0]) > 0
    half = float(np.quantile(np.abs(away[towards]), COVERAGE)) if towards.any() else 0.0
    grown = max(1.0, abs(found.place - places[0]) / half) if half > 0 else 1.0
    return np.asarray(places[0] + away * np.where(towards, 1.0 + more * (grown - 1.0), 1.0))


def _with_rows(index: Quantity, rows: FloatArray) -> Quantity:
    """Return an index with other rows: to each side its interval is as much wider than its draws as it was before."""
    assert index.rows is not None
    was, now = np.log10(index.rows), np.log10(rows)
    plain, ends = ends_of(was[1:]), ends_of(now[1:])
    shown = [math.log10(end or index.rows[0]) for end in (index.low, index.high)]
    wider = [
        max(1.0, (shown[side] - was[0]) / (plain[side] - was[0])) if abs(plain[side] - was[0]) > 1e-6 else 1.0
        for side in (0, 1)
    ]
    low, high = (now[0] + wider[side] * (ends[side] - now[0]) for side in (0, 1))
    value = float(rows[0])
    return replace(
        index,
        value=value,
        low=min(10.0**low, value),
        high=max(10.0**high, value),
        u=value * math.log(10.0) * float(now[1:].std()),
        rows=rows,
    )


def with_eye(budget: Budget, told: ByEye | None, eye: Source | None, total: Quantity) -> Budget:
    """Return the budget of an index that judgements took part in: the eye as one more source, the others shrunk by it.

    Args:
        budget: of the index without judgements [stops].
        told: the judgements' part; None where no frame was judged.
        eye: the eye as a source; None where no frame was judged.
        total: the index with the judgements.
    """
    if told is None or eye is None or told.kept >= 1.0 or total.u is None or not total.value:
        return budget
    common = [line for line in budget.lines if line.key in _OF_EXPOSURE]
    of_place = [line for line in budget.lines if line.key not in _OF_EXPOSURE]
    before = math.sqrt(sum(line.u**2 for line in of_place))
    shrunk = [replace(line, u=line.u * told.kept) for line in of_place]
    own = _line(eye, before * math.sqrt(told.kept * (1.0 - told.kept)))
    return _budget([*common, *shrunk, own], total)


def analyse_by_eye(strip: Strip, choices: Choices) -> Analysis:
    """Find the index of a bracket whose frames were judged by eye and not read.

    Args:
        strip: a strip without readings, with judgements.
        choices: how many draws.

    Returns:
        An analysis without channels and speeds: its working index has an interval, or a bound, and a budget.

    Raises:
        StripError: no frame was judged.
    """
    evidence = Evidence.of(strip)
    if evidence is None:
        raise StripError("no frame was judged, and no density was read", where=strip.title)
    errors = Errors.of(strip, max(choices.draws, _FEWEST_DRAWS), choices.seed)
    shared = SharedErrors(strip.metering.index_at_zero, errors.log_h(*_OF_EXPOSURE), choices.seed)
    index = index_alone(evidence, shared)
    nominal = None if index.value is None else dial_step(index.value)[0]
    unknown = Quantity.missing(NO_DENSITY)
    lines = [_line(errors.sources[EYE], float(shared.places(index.rows)[1:].std()))] if index.rows is not None else []
    lines += [_line(source, source.u) for key, source in errors.sources.items() if key in _OF_EXPOSURE and source.u]
    return Analysis(
        strip=strip,
        channels={},
        speeds={},
        working_ei=WorkingEI(
            recommended=index,
            nominal=nominal,
            range=(unknown, unknown),
            range_why=(NO_DENSITY,) * 2,
            basis="eye",
            reason=_reason(evidence),
            criteria={},
            channel="visual",
            advice=tuple(_advice(evidence, index)),
            budget=None if index.value is None else _budget(lines, index),
            by_eye=ByEye(evidence.counts, index, None, evidence.eye.uncertainty, evidence.eye.assumed),
        ),
        metered_exposure=strip.metering.exposure,
        warnings=contradictions(evidence, None),
        draws=errors.count,
        sources=tuple(source for key, source in errors.sources.items() if key in (EYE, STEPS, *_OF_EXPOSURE)),
        choices=choices,
    )


def contradictions(evidence: Evidence | None, told: ByEye | None) -> tuple[Notice, ...]:
    """Return a notice for judgements that contradict each other, and for judgements that contradict the densities.

    Args:
        evidence: the judgements; None where no frame was judged.
        told: the judgements' part in the index that densities gave; None where no density was read.
    """
    if evidence is None:
        return ()
    found = [Notice("judgements-contradict", sentence) for sentence in evidence.contradictions()]
    if told is not None and told.contradicts and told.apart is not None:
        side = "above" if told.apart > 0 else "below"
        found.append(
            Notice(
                "eye-contradicts",
                f"The judgements put the index {abs(told.apart):.1f} stops {side} that of the densities, more than the"
                " uncertainty of the two allows. The interval is wider for it: look at the frames again, as they will"
                " be shown, and check what the meter was set to.",
            )
        )
    return tuple(found)


def _reason(evidence: Evidence) -> str:
    """Return the rule of the judgements in words."""
    eye = evidence.eye
    return (
        f"The frames were judged by eye: one judgement is taken to be good to {eye.uncertainty:g} stops, half of that"
        f" variance the same in every frame, and a frame within {eye.right_within:g} stops of the right exposure to"
        f" look right."
    )


def _advice(evidence: Evidence, index: Quantity) -> Iterator[str]:
    """Yield the advice, each a sentence."""
    if index.value is None:
        assert index.bound is not None
        way, ends = ("more", "below") if evidence.one_sided < 0 else ("less", "above")
        yield (
            f"The bracket is one-sided: expose frames with {way} exposure, at indexes {ends}"
            f" {two_digits(index.bound[1])}, so that the right exposure lies between frames."
        )
    yield "Read the densities of the frames, or of a strip: where the tones land, and what is lost, no judgement tells."


def _line(source: Source, u: float) -> BudgetLine:
    """Return the line of a budget for one source [stops]; its share is still to be found."""
    return BudgetLine(source.key, source.name, u, 0.0, source.assumed, source.remedy)


def _budget(lines: list[BudgetLine], total: Quantity) -> Budget:
    """Return a budget whose shares are those of the variance, the greatest first [stops]."""
    variance = sum(line.u**2 for line in lines)
    shared = [replace(line, share=line.u**2 / variance) for line in lines]
    assert total.u is not None
    assert total.value is not None
    u = total.u / (total.value * math.log(2.0))
    return Budget(tuple(sorted(shared, key=lambda line: -line.share)), u, "stops")
