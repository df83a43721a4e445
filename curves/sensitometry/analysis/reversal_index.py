"""The working exposure index of a reversal strip: what each tone asks for, what is decided, and how sure that is.

Each criterion lays one scene tone on one point of the curve and asks which exposure index does that. `index_rule`
decides between them; here its places become indexes, each with its interval, or a bound and the reason.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from curves.sensitometry.analysis.criteria import middle_at, tones
from curves.sensitometry.analysis.index_rule import (
    Decision,
    Requests,
    Span,
    decide,
    grey_limits,
    hull,
    levels,
    places,
    possible_dmins,
    requests,
)
from curves.sensitometry.analysis.index_words import HARDLY, Background, explained
from curves.sensitometry.analysis.slide import base_state, layer_spread, placements, white_cast
from curves.sensitometry.brackets.by_eye import WithJudgements
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray, dial_step, exact_ei, two_digits
from curves.sensitometry.measures.points import Extreme, cautious, density_along, located
from curves.sensitometry.measures.reversal_points import reversal_points
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.intervals import widest_interval
from curves.sensitometry.uncertainty.results import Criterion, Shortfall, WorkingEI

HARDLY_AN_IMAGE = 0.60
"""Density range below which no index is named: our own choice [density]."""

_WIDEST = STOP
"""An index that is only known to lie between two ends is named if they lie no further apart: our own choice [log10]."""


def working_ei(
    judged: ChannelCurves,
    layers: Mapping[Channel, ChannelCurves],
    metering: Metering,
    choices: Choices,
    by_eye: WithJudgements,
) -> WorkingEI:
    """Return the exposure index to set for a reversal strip, with its range and reasons.

    Args:
        judged: the channel that stands for what the eye sees.
        layers: the colour layers, for the spread between them; empty for black and white.
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie.
        by_eye: adds the judgements of frames to an index.
    """
    answer = Answer.of(judged, metering, choices)
    index, told = by_eye(answer.index(), judged.ensemble)
    ends, stops = answer.range(), answer.too_long()
    nominal, inside = None, True
    if index.value is not None:
        low, high = (end.value for end in ends)
        nominal, inside = dial_step(index.value, low, high)
    return explained(
        WorkingEI(
            recommended=index,
            nominal=nominal,
            range=ends,
            range_why=answer.range_why(ends),
            basis=answer.main.basis,
            reason="",
            criteria=answer.criteria,
            channel=judged.ensemble.channel,
            highlight_share=answer.highlight_share,
            placements={} if nominal is None else placements(judged, float(exact_ei(nominal)), metering, choices),
            base=base_state(judged, layers, choices),
            layers=layer_spread(layers) if len(layers) > 1 else None,
            cast=None
            if nominal is None or len(layers) < len(LAYERS)
            else white_cast(layers, float(exact_ei(nominal)), metering, choices),
            shortfall=None if answer.hardly_an_image else answer.shortfall(stops, ends, nominal),
            hardly_a_range=None not in (nominal, *(end.value for end in ends)) and _holds_zero(stops),
            other_middle=answer.other_middle(),
            by_eye=told,
        ),
        answer.background(inside=inside),
    )


def recommended(judged: ChannelCurves, metering: Metering, choices: Choices) -> Quantity:
    """Return the index alone, for its budget."""
    return Answer.of(judged, metering, choices).index()


@dataclass(frozen=True, eq=False)
class Answer:
    """The decisions of the rule on a strip, for every Dmin and shoulder that are possible.

    Attributes:
        judged, metering, choices: what it was found from.
        asked: what the tones ask for, at each Dmin that is possible; one where Dmin is known.
        decisions: what the rule makes of each.
        other: what it makes of the other shoulder, where the film has two.
    """

    judged: ChannelCurves
    metering: Metering
    choices: Choices
    asked: tuple[Requests, ...]
    decisions: tuple[Decision, ...]
    other: Decision | None

    @classmethod
    def of(cls, judged: ChannelCurves, metering: Metering, choices: Choices) -> Answer:
        """Apply the rule to a strip.

        Args:
            judged: the channel that stands for what the eye sees.
            metering: what log H counts from, and what an index stands for.
            choices: where scene tones lie.
        """
        ensemble, dmax = judged.ensemble, judged.dmax
        top = Span(dmax.rows, dmax.rows if dmax.reached else np.full_like(dmax.rows, np.inf))
        asked, other = [], None
        for dmin in possible_dmins(ensemble, judged.dmin):
            known = Extreme(dmin, judged.dmin.quantity, reached=True)
            found = judged.points if judged.dmin.reached else reversal_points(ensemble, known)
            at = places(ensemble, found, levels(dmin, top, found.s_density, choices))
            white = dmin + ensemble.level_error
            asked.append(requests(at, white, ensemble.constant_error, metering, choices))
            if judged.dmin.reached and found.other_s is not None:
                twin = replace(at, s=Span.known(found.other_s))
                other = decide(requests(twin, white, ensemble.constant_error, metering, choices))
        return cls(judged, metering, choices, tuple(asked), tuple(map(decide, asked)), other)

    @property
    def main(self) -> Decision:
        """The decision at Dmin, or at the greatest it can be."""
        return self.decisions[0]

    @property
    def hardly_an_image(self) -> bool:
        """True if the film's range is known and too short for any index."""
        dmin, dmax = self.judged.dmin, self.judged.dmax
        return dmin.reached and dmax.reached and float(dmax.rows[0] - dmin.rows[0]) < HARDLY_AN_IMAGE

    @property
    def highlight_share(self) -> float | None:
        """Share of `highlight` in the mix [unitless]; None where it is not known."""
        share = hull(d.share for d in self.decisions)
        return float(share.low[0]) if share.shown else None

    def index(self) -> Quantity:
        """Return the index, before it is rounded to a step of the dial."""
        if self.hardly_an_image:
            dmin, dmax = (end.rows[0] for end in (self.judged.dmin, self.judged.dmax))
            return Quantity.missing(f"{HARDLY}: density goes from {dmin:.2f} to {dmax:.2f} only")
        span = hull(d.grey for d in self.decisions)
        if span.shown:
            every = span if self.other is None else hull([span, self.other.grey])
            return self._index(every, float(span.low[0]))
        if not (np.isfinite(span.low[0]) and np.isfinite(span.high[0])) or span.high[0] - span.low[0] > _WIDEST:
            return self._bound(span, lowest=self._clear_end_lost)
        return self._index(span, 0.5 * float(span.low[0] + span.high[0]), between=True)

    @cached_property
    def _ends(self) -> tuple[Span, Span]:
        """The places of the lowest and of the highest index worth using."""
        return hull(a.lowest for a in self.asked), hull(a.highest for a in self.asked)

    @property
    def _too_long(self) -> bool:
        """True if the scene is longer than the film whatever the strip does not show."""
        low, high = self._ends
        return bool(high.low[0] > low.high[0])

    def range(self) -> tuple[Quantity, Quantity]:
        """Return the lowest and the highest index worth using, each a bound where the strip does not show it.

        The bound of an end is on its far side, so that indexes between the ends are worth using; where the scene is
        longer than the film, on the near side, so that none is.
        """
        low, high = self._ends
        return (
            self._index(low, float(low.low[0])) if low.shown else self._bound(low, lowest=not self._too_long),
            self._index(high, float(high.low[0])) if high.shown else self._bound(high, lowest=self._too_long),
        )

    def range_why(self, ends: tuple[Quantity, Quantity]) -> tuple[str, str]:
        """Return the reason for each end of the range, or for its absence."""
        asked = self.asked[0]
        thin, dense = grey_limits(self.judged.dmax.rows[:1] - self.judged.dmin.rows[:1])
        grey = "below it, mid-grey is too thin for a grey, under", "above it, mid-grey is too dense for a grey, over"
        return (
            _end_words(
                ends[0],
                "below it, scene white has lost its detail"
                if asked.lowest.low[0] == asked.cleared.low[0]
                else f"{grey[0]} {thin[0]:.2f} above Dmin",
            ),
            _end_words(
                ends[1],
                "above it, the textured shadow has lost its texture"
                if asked.highest.low[0] == asked.shadow.low[0]
                else f"{grey[1]} {dense[0]:.2f} above Dmin",
            ),
        )

    def too_long(self) -> Quantity | None:
        """Return the stops by which the scene is longer than the film, less than 0 where the film holds more [stops].

        A bound where the strip does not show both ends of the range; None where it does not even bound them.
        """
        low, high = self._ends
        least, most = high.low - low.high, high.high - low.low
        if np.isfinite([least[0], most[0]]).all():
            ends = widest_interval(_finite(least), _finite(most))
            return Quantity(0.5 * float(least[0] + most[0]) / STOP, ends[0] / STOP, ends[1] / STOP)
        if not np.isfinite(least[0]):
            return None
        return Quantity.missing("an end of the range lies off the strip", above=cautious(least, upper=False) / STOP)

    def shortfall(
        self, stops: Quantity | None, ends: tuple[Quantity, Quantity], nominal: float | None
    ) -> Shortfall | None:
        """Return the losses of a scene that is longer than the film; None where the film holds it, or may hold it.

        Args:
            stops: by how much it is longer [stops]; None where that is not known.
            ends: of the range.
            nominal: the index to set, if there is one.
        """
        if stops is None or not self._too_long:
            return None
        (low, high), asked = (end.value for end in ends), self.asked[0]
        at = None if nominal is None else float(exact_ei(nominal))
        return Shortfall(
            stops=stops,
            ends=(
                "white" if asked.lowest.low[0] == asked.cleared.low[0] else "mid-grey",
                "the textured shadow" if asked.highest.low[0] == asked.shadow.low[0] else "mid-grey",
            ),
            keeps=(low, high),
            lost=(
                None if low is None or at is None else math.log2(low / at),
                None if high is None or at is None else math.log2(at / high),
            ),
        )

    def other_middle(self) -> Criterion | None:
        """Return the middle at the other shoulder; None without one."""
        found = self.judged.points
        if found.other_s is None:
            return None
        rows = 0.5 * (found.t.rows + found.other_s)
        return middle_at(located(self.judged.ensemble, rows), self.judged, self.metering)

    def background(self, *, inside: bool) -> Background:
        """Return the numbers that the words need beside the answer.

        Args:
            inside: False where no step of the dial lies within the range.
        """
        mixed, latitude, ensemble = self.main.mixed, self.asked[0].latitude, self.judged.ensemble
        dmin, factor = self.judged.dmin, self.metering.index_at_zero
        alone = net = dmins = indexes = None
        if mixed.shown and dmin.reached:
            alone = factor * 10.0 ** -float(mixed.low[0])
            x = np.clip(mixed.low[:1], ensemble.grid[0], ensemble.grid[-1])
            net = float(density_along(ensemble.grid, ensemble.density[:1], x)[0] - dmin.rows[0])
        both = self.decisions[-1].grey, self.decisions[0].grey
        if not dmin.reached and all(span.shown for span in both):
            least = float(possible_dmins(ensemble, dmin)[-1][0])
            dmins = (least, float(dmin.rows[0]))
            indexes = (factor * 10.0 ** -float(both[0].low[0]), factor * 10.0 ** -float(both[1].low[0]))
        return Background(
            mixed=alone,
            mixed_net=net,
            latitude=float(latitude.low[0]) / STOP if latitude.shown else None,
            dmins=dmins,
            dmin_indexes=indexes,
            inside=inside,
            hardly_an_image=self.hardly_an_image,
        )

    @cached_property
    def criteria(self) -> dict[str, Criterion]:
        """The criteria, each by itself."""
        return tones(self.judged, self.metering, self.choices)

    @property
    def _clear_end_lost(self) -> bool:
        """True if it is the clear end of the strip that does not show enough."""
        return self.judged.points.t.quantity.value is None

    def _index(self, span: Span, place: float, *, between: bool = False) -> Quantity:
        """Return the index of a place of mid-grey, with its interval.

        Args:
            span: the place, (r,) [log10].
            place: its estimate [log10].
            between: True if the estimate is the middle of what is only known to lie between two ends.
        """
        ensemble, factor = self.judged.ensemble, self.metering.index_at_zero
        error = ensemble.log_h_error + ensemble.tone_error
        low, high = (_finite(x) + error for x in (span.low, span.high))
        value, how = factor * 10.0**-place, "estimated" if between else ensemble.how
        if low.size == 1:
            known = None if span.low[0] == span.high[0] else "no interval: no draws were made"
            return Quantity(value, how=how, note=known or "no interval: no draws were made", rows=np.array([value]))
        ends, drawn = widest_interval(low, high), (0.5 * (low + high))[1:]
        return Quantity(
            value,
            factor * 10.0 ** -ends[1],
            factor * 10.0 ** -ends[0],
            how,
            u=value * math.log(10.0) * float(drawn.std()),
            rows=np.r_[value, factor * 10.0**-drawn],
        )

    def _bound(self, span: Span, *, lowest: bool) -> Quantity:
        """Return the index of a place that the strip does not show: a bound, on the safe side of all draws.

        Args:
            span: the place, (r,) [log10].
            lowest: True to bound the index from above if that can be, False to bound it from below.
        """
        ensemble, factor = self.judged.ensemble, self.metering.index_at_zero
        error = ensemble.log_h_error + ensemble.tone_error
        criteria = self.criteria
        asked = ("cleared", "highlight", "middle", "shadow") if lowest else ("shadow", "middle", "highlight", "cleared")
        why = next((w for w in (criteria[name].ei.why for name in asked) if w), "the strip is too short")
        for from_above in (lowest, not lowest):
            rows = span.low if from_above else span.high
            if np.isfinite(rows[0]):
                limit = factor * 10.0 ** -cautious(_finite(rows) + error, upper=not from_above)
                return Quantity.missing(why, below=limit) if from_above else Quantity.missing(why, above=limit)
        return Quantity.missing(why)


def _holds_zero(stops: Quantity | None) -> bool:
    """Return True if there is an interval and it holds zero."""
    return (
        stops is not None and None not in (stops.low, stops.high) and (stops.low or 0.0) <= 0.0 <= (stops.high or 0.0)
    )


def _end_words(end: Quantity, meaning: str) -> str:
    """Return the reason for an end of the range, or for its absence."""
    if end.value is not None:
        return meaning
    side = f", but {'below' if end.bound[0] == '<' else 'above'} {two_digits(end.bound[1])}" if end.bound else ""
    return f"not known{side}: {end.why}"


def _finite(rows: FloatArray) -> FloatArray:
    """Return rows of which those that nothing bounds are counted at the furthest that is known."""
    known = rows[np.isfinite(rows)]
    return np.asarray(np.clip(rows, known.min(), known.max()))
