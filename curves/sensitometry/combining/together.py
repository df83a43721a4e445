"""Several strips of one film and process as one exposure index.

The indexes are combined row by row of their draws, so that an error which strips share (a meter, a wedge, a reader) is
counted once. Whether the strips agree is told beside the combination, and widens its interval where they do not. A
strip that shows only a bound takes no part in the combination, and is held against it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_for_index
from curves.sensitometry.checks.kept_plan import KeptNumber
from curves.sensitometry.combining.agreement import Agreement, Offsets, combine
from curves.sensitometry.combining.likeness import refuse_other_film, refuse_twice
from curves.sensitometry.combining.overlap import exposed_again, linked, overlap
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import NORMAL, Quantity
from curves.sensitometry.core.streams import BLOCK, stream
from curves.sensitometry.core.units import STOP, FloatArray, dial_step
from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.strip.origin import PlannedNumber
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.intervals import ends_of, summarise, widest_interval
from curves.sensitometry.uncertainty.results import Analysis, shared_sources
from curves.sensitometry.uncertainty.sources import Source

Fit = Literal["agrees", "contradicts", "not known"]
"""What a strip that takes no part says beside the combination."""


@dataclass(frozen=True, eq=False)
class StripShare:
    """One of several strips, and its part in their index.

    Attributes:
        analysis: results of the strip.
        index: its own index [unitless].
        weight: its share in the common index; None where it shows only a bound, or nothing [unitless].
        apart: its index against that of the others together, in stops, positive where it is the faster; without a
            value where it takes no part, or where it is the only strip that does [stops].
        fit: whether a strip that takes no part agrees with the common index; None for one that takes part.
    """

    analysis: Analysis
    index: Quantity
    weight: float | None
    apart: Quantity
    fit: Fit | None = None


@dataclass(frozen=True, eq=False)
class ExposureOffset:
    """The exposure of one strip against another beyond what is stated of both, as their curves show where they overlap.

    Attributes:
        strip, against: the strips.
        more: how much more exposure the strip got [stops].
    """

    strip: Strip
    against: Strip
    more: Quantity

    @property
    def is_there(self) -> bool:
        """True if the curves contradict what is stated of the exposures."""
        low, high = self.more.known_ends
        return not low <= 0.0 <= high


@dataclass(frozen=True, eq=False)
class CommonIndex:
    """The exposure index of several strips of one film.

    Attributes:
        strips: each with its share, in the order given.
        recommended: the index before rounding [unitless].
        nominal: the number to set on the meter's dial.
        range: lowest and highest index worth using, each a bound where no strip shows it [unitless].
        agreement: whether the strips agree; None where only one shows an index.
        offsets: what the curves of strips that take part show of their exposures.
        scatter: scatter from strip to strip beyond their errors, a standard deviation [stops]; without a value where
            only one strip shows an index.
        shared: the sources of error that all strips which take part share: more strips do not shrink them.
        shared_error: standard uncertainty of the index by what the strips share [stops].
    """

    strips: tuple[StripShare, ...]
    recommended: Quantity
    nominal: float
    range: tuple[Quantity, Quantity]
    agreement: Agreement | None
    offsets: tuple[ExposureOffset, ...]
    scatter: Quantity
    shared: tuple[Source, ...]
    shared_error: float

    def __repr__(self) -> str:
        return f"CommonIndex({self.nominal:g}, of {len(self.strips)} strips)"

    @property
    def odd(self) -> StripShare | None:
        """The strip that alone contradicts the others; None where there is not one, or nothing tells which it is."""
        if self.agreement is None or self.agreement.odd is None:
            return None
        return self.taking_part[self.agreement.odd]

    @property
    def kept_plans(self) -> tuple[KeptNumber, ...]:
        """The index beside the one expected, where of two strips the one was planned after the other."""
        strips = [share.analysis.strip for share in self.taking_part]
        if len(strips) != 2:
            return ()
        return tuple(
            KeptNumber(strip.planned, strip.planned.both, self.recommended, 2)
            for strip, other in (strips, strips[::-1])
            if isinstance(strip.planned, PlannedNumber)
            and strip.planned.number == "ei"
            and strip.planned.after == other.title
        )

    @property
    def taking_part(self) -> tuple[StripShare, ...]:
        """The strips that show an index."""
        return tuple(share for share in self.strips if share.weight is not None)


def together(*strips: Strip | Analysis, choices: Choices | None = None) -> CommonIndex:
    """Combine several strips of one film and process into one exposure index.

    Args:
        strips: two or more, exposed in any way that gives an index, or their analyses, made with the same choices.
        choices: the choices of the analyses of strips; the defaults if None.

    Returns:
        The index with its interval, the test of their agreement, and the share of each strip.

    Raises:
        StripError: there are fewer than two strips, or two that are one; they are not of one film; none shows an index.
    """
    analyses = [one if isinstance(one, Analysis) else analyse_for_index(one, choices) for one in strips]
    _check(analyses)
    shown = [a for a in analyses if a.working_ei.recommended.rows is not None]
    if not shown:
        raise StripError(
            "no strip shows an index",
            where=", ".join(a.strip.title for a in analyses),
            needed="at least one strip that reaches far enough for an index",
            hint=next((sentence.rstrip(".") for a in analyses for sentence in a.working_ei.advice), ""),
        )
    found = _combined([a.working_ei.recommended for a in shown], shown)
    ends = [_end([a.working_ei.range[place] for a in analyses], analyses) for place in (0, 1)]
    value = found.index.value
    assert value is not None
    shares = [_share(a, found, shown) for a in analyses]
    return CommonIndex(
        strips=tuple(shares),
        recommended=found.index,
        nominal=dial_step(value, ends[0].value, ends[1].value)[0],
        range=(ends[0], ends[1]),
        agreement=found.agreement,
        offsets=tuple(_shown_offsets(found.offsets, shown)),
        scatter=found.scatter,
        shared=shared_sources(shown) if len(shown) > 1 else (),
        shared_error=found.shared,
    )


def common_value(*analyses: Analysis) -> Quantity:
    """Return the index of several strips of one film, each of which shows one, as `together` recommends it."""
    return _combined([a.working_ei.recommended for a in analyses], analyses).index


def _check(analyses: Sequence[Analysis]) -> None:
    """Refuse strips whose indexes are not those of one film.

    Raises:
        StripError: says which strip, and why.
    """
    if len(analyses) < 2:
        raise StripError("one strip has nothing to be combined with", needed="two strips or more of one film")
    refuse_twice([a.strip for a in analyses])
    for other in analyses[1:]:
        refuse_other_film(analyses[0].strip, other.strip)
        if analyses[0].choices != other.choices:
            raise StripError("the strips were analysed under different choices", needed="the same choices and seed")


@dataclass(frozen=True, eq=False)
class _CommonNumber:
    """One number of several strips as one; fields as for `CommonIndex`."""

    index: Quantity
    weights: FloatArray
    agreement: Agreement | None
    offsets: Offsets
    scatter: Quantity
    shared: float


def _combined(numbers: Sequence[Quantity], analyses: Sequence[Analysis]) -> _CommonNumber:
    """Return indexes of several strips as one.

    Args:
        numbers: an index of each strip, with its rows [unitless].
        analyses: the strips.
    """
    if len(numbers) == 1:
        alone = Quantity.missing("only one strip shows it")
        return _CommonNumber(numbers[0], np.ones(1), None, Offsets.none(1, 1), alone, 0.0)
    each = [_in_stops(index) for index in numbers]
    rows = _paired(each)
    # More exposure than stated is a lower index.
    rows -= [exposed_again(a, analyses, rows.shape[1]) / STOP for a in analyses]
    if rows.shape[1] == 1:
        raise StripError("without draws nothing tells what the strips share", where="draws", needed="some draws")
    titles = sorted(word for a in analyses for s in a.sources if s.key == READINGS for word in s.belongs_to)
    offsets = _offsets(analyses, rows.shape[1])
    found = combine(rows, stream(analyses[0].choices.seed, "together", *titles), offsets)
    # What the strips leave open is left open for the same reason: it is not averaged away.
    low, high = ends_of(found.rows[1:])
    wider = found.weights @ np.array([_left_open(q, r) for q, r in zip(numbers, each, strict=True)])
    value = 2.0 ** float(found.rows[0])
    index = Quantity(
        value, 2.0 ** (low - float(wider[0])), 2.0 ** (high + float(wider[1])), numbers[0].how,
        u=value * math.log(2.0) * float(found.rows[1:].std()), rows=2.0**found.rows,
    )  # fmt: skip
    scatter = summarise(found.scatter, how="estimated", least=0.0)
    return _CommonNumber(index, found.weights, found.agreement, offsets, scatter, found.shared)


def _offsets(analyses: Sequence[Analysis], rows: int) -> Offsets:
    """Return by how much the index of one strip would lie above that of another, as their curves show it.

    Where two strips of one film have the same density, both got the same exposure: their curves show how far their
    exposures lie apart, beyond what is known of both, whatever the index rests on.

    Args:
        analyses: the strips.
        rows: how many rows all have.
    """
    found = []
    for one, other in itertools.combinations([a for a in range(len(analyses)) if analyses[a].channels], 2):
        pair = analyses[one], analyses[other]
        both = overlap(*pair, [-math.log10(a.strip.metering.index_at_zero) for a in pair])
        if both is not None:
            found.append((both, (one, other)))
    kept, _ = linked(found, len(analyses))
    links, offsets = np.zeros((len(kept), len(analyses))), np.zeros((len(kept), rows))
    for place, (both, (one, other)) in enumerate(kept):
        links[place, [one, other]] = 1.0, -1.0
        tones = [next(iter(analyses[a].channels.values())).ensemble.tone_error[:rows] for a in (one, other)]
        offsets[place] = (both.stated[:rows] - both.rows[:rows] + tones[1] - tones[0]) / STOP
    return Offsets(offsets, links)


def _shown_offsets(offsets: Offsets, analyses: Sequence[Analysis]) -> Iterator[ExposureOffset]:
    """Yield the offsets between exposures that the curves of strips show: more than is stated makes a higher index."""
    for rows, link in zip(offsets.rows, offsets.links, strict=True):
        value, u = float(rows[0]), float(rows[1:].std())
        more = Quantity(value, value - NORMAL * u, value + NORMAL * u, "fitted", u=u)
        one, other = (analyses[int(np.flatnonzero(link == side)[0])].strip for side in (1.0, -1.0))
        yield ExposureOffset(one, other, more)


def _in_stops(index: Quantity) -> FloatArray:
    """Return the rows of an index as log2, (r,) [stops]; draws that run off the strip count at the furthest known."""
    assert index.rows is not None
    rows = np.log2(index.rows)
    known = rows[np.isfinite(rows)]
    beyond = min(known.min(), known.max(), key=lambda end: abs(end - np.median(known)))
    return np.asarray(np.where(np.isfinite(rows), rows, beyond))


def _left_open(index: Quantity, rows: FloatArray) -> FloatArray:
    """Return the stops by which an interval reaches beyond that of its draws, at its low and its high end, (2,).

    A strip may leave open what lies between two ends, such as a Dmin that it does not reach.
    """
    if index.low is None or index.high is None:
        return np.zeros(2)
    low, high = widest_interval(rows, rows)
    return np.maximum([low - math.log2(index.low), math.log2(index.high) - high], 0.0)


def _paired(rows: Sequence[FloatArray]) -> FloatArray:
    """Return rows of several strips cut to those that all have, (n, r)."""
    least = min(each.size for each in rows)
    if any(each.size != least for each in rows):
        # Draws come in blocks; those of the longer run begin with those of the shorter one.
        least = 1 + (least - 1) // BLOCK * BLOCK
    return np.array([each[:least] for each in rows])


def _end(ends: Sequence[Quantity], analyses: Sequence[Analysis]) -> Quantity:
    """Return one end of the range by the strips that show it, or the closest bound."""
    shown = [(end, a) for end, a in zip(ends, analyses, strict=True) if end.rows is not None]
    if shown:
        return _combined([end for end, _ in shown], [a for _, a in shown]).index
    below = [end for end in ends if end.bound is not None and end.bound[0] == "<"]
    above = [end for end in ends if end.bound is not None and end.bound[0] == ">"]
    bounds = sorted(below, key=lambda end: end.known_ends[1]) + sorted(above, key=lambda end: -end.known_ends[0])
    return bounds[0] if bounds else ends[0]


def _share(analysis: Analysis, found: _CommonNumber, shown: Sequence[Analysis]) -> StripShare:
    """Return the part of one strip in the common index."""
    index = analysis.working_ei.recommended
    if analysis not in shown:
        return StripShare(analysis, index, None, Quantity.missing(index.why or "no index"), _fit(index, found.index))
    place = next(i for i, a in enumerate(shown) if a is analysis)
    weight = float(found.weights[place])
    if found.agreement is None:
        return StripShare(analysis, index, weight, Quantity.missing("no other strip shows an index"))
    value, u = found.agreement.apart[place], found.agreement.apart_error[place]
    apart = Quantity(value, value - NORMAL * u, value + NORMAL * u, index.how, u=u)
    return StripShare(analysis, index, weight, apart)


def _fit(bound: Quantity, index: Quantity) -> Fit:
    """Return the verdict on an index of which only a bound is known, beside the common one."""
    least, most = bound.known_ends
    low, high = index.known_ends
    if not (math.isfinite(least) or math.isfinite(most)):
        return "not known"
    return "agrees" if low <= most and high >= least else "contradicts"
