"""The rule that names a reversal strip's index: what each tone asks for, and which of the answers is taken.

Everything here is a place on the log H axis, row by row: where metered mid-grey has to lie. More log H is a lower
index. What the strip does not show is a span between two places, open where nothing bounds it; since every step of the
rule only rises with what goes into it, spans pass through it end by end, and a bound comes out as a true one.

The rule (our own choice, but for `middle`, which is the standard's):

1. `highlight` lays white on T, `middle` lays metered mid-grey where ISO 2240 puts it. They are mixed by the share with
   which whites can be judged: a ramp of Dmin times a ramp of the film's latitude.
2. Of the mix, `cleared` (white where detail ends) and `shadow` (the textured shadow where texture ends) the middle one.
3. Mid-grey stays between two net densities, `GREY_THIN` and `GREY_DENSE`.

No step jumps, so that no small change of the film makes the index jump.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from functools import reduce

import numpy as np

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.measures.points import Extreme, crossing
from curves.sensitometry.measures.reversal_points import T_NET, ReversalPoints
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Basis

GREY_THIN, GREY_DENSE = (0.40, 0.30), (1.40, 0.60)
"""Least and greatest net density at which mid-grey is still a grey: so much [density], but on a film of short range at
most this share of Dmax - Dmin [unitless]. Our own choice; at the box speed of true slide films grey has 0.98 to 1.07.
"""

LATITUDE_RAMP = -STOP
"""Latitude at which whites no longer count: the film holds a stop less than the scene, our own choice [log10]."""

STANDARD_EXPOSURE = 10.0
"""Speed times Hm of ISO 2240 [lux-seconds]."""

_DMIN_GUESSES = 5
"""Places, from the least density that the strip shows to the floor, where a Dmin that is not reached may lie."""

_BASES: tuple[Basis, ...] = ("highlight", "middle", "mixed", "cleared", "shadow", "grey")
"""All that may decide; where two ends of a span name two, the first of this list does."""


@dataclass(frozen=True, eq=False)
class Span:
    """Between which numbers each row's lies: equal ends where the strip shows it, infinite ones where nothing does.

    Attributes:
        low, high: (r,).
    """

    low: FloatArray
    high: FloatArray

    @classmethod
    def known(cls, rows: FloatArray) -> Span:
        """Return the span of numbers that are known."""
        return cls(rows, rows)

    def moved(self, by: FloatArray | float) -> Span:
        """Return the span with ``by``, (r,) or one for all, added."""
        return Span(self.low + by, self.high + by)

    @property
    def shown(self) -> bool:
        """True if the estimate is a number."""
        return bool(np.isfinite(self.low[0]) and self.low[0] == self.high[0])


def least(*spans: Span) -> Span:
    """Return the least of several spans, row by row."""
    return Span(reduce(np.minimum, (s.low for s in spans)), reduce(np.minimum, (s.high for s in spans)))


def greatest(*spans: Span) -> Span:
    """Return the greatest of several spans, row by row."""
    return Span(reduce(np.maximum, (s.low for s in spans)), reduce(np.maximum, (s.high for s in spans)))


def hull(spans: Iterable[Span]) -> Span:
    """Return the span that holds several, row by row."""
    every = list(spans)
    return Span(reduce(np.minimum, (s.low for s in every)), reduce(np.maximum, (s.high for s in every)))


@dataclass(frozen=True, eq=False)
class Marks:
    """The marks of a curve that the rule looks at: their densities [density], or where a film has them [log10].

    Attributes:
        t, s: T and S.
        cleared: where a highlight's detail ends.
        shadow: where a shadow's texture ends.
        thin, dense: what mid-grey has to stay between.
    """

    t: Span
    s: Span
    cleared: Span
    shadow: Span
    thin: Span
    dense: Span

    @classmethod
    def of(cls, mark: Callable[[str], Span]) -> Marks:
        """Return the marks that a function gives by name."""
        return cls(**{f.name: mark(f.name) for f in fields(cls)})


@dataclass(frozen=True, eq=False)
class Requests:
    """The places of metered mid-grey that the tones ask for [log10], and the share with which whites can be judged.

    Attributes:
        highlight, middle, cleared, shadow, thin, dense: what asks.
        clearness: 1 where Dmin lets whites be judged, 0 where it does not, (r,) [unitless].
    """

    highlight: Span
    middle: Span
    cleared: Span
    shadow: Span
    thin: Span
    dense: Span
    clearness: FloatArray

    @property
    def latitude(self) -> Span:
        """The exposure range from `cleared` to `shadow` that the film holds beyond the scene [log10]."""
        return Span(self.cleared.low - self.shadow.high, self.cleared.high - self.shadow.low)

    @property
    def lowest(self) -> Span:
        """The place of the lowest index worth using."""
        return least(self.cleared, self.thin)

    @property
    def highest(self) -> Span:
        """The place of the highest index worth using."""
        return greatest(self.shadow, self.dense)


@dataclass(frozen=True, eq=False)
class Decision:
    """The result of the rule.

    Attributes:
        grey: where metered mid-grey is to lie [log10].
        mixed: where the mix of highlight and middle alone would lay it [log10].
        share: share of `highlight` in the mix, least and greatest [unitless].
        basis: what decided, of the estimate.
    """

    grey: Span
    mixed: Span
    share: Span
    basis: Basis


def levels(dmin: FloatArray, dmax: Span, s_density: FloatArray, choices: Choices) -> Marks:
    """Return the densities that the rule looks for.

    Args:
        dmin: (r,) [density].
        dmax: Dmax, its upper end open where the strip does not show it [density].
        s_density: density of S, (r,) [density].
        choices: where detail and texture end.
    """
    scale = Span(dmax.low - dmin, dmax.high - dmin)

    def net(density: Span) -> Span:
        return density.moved(dmin)

    least, most = zip(grey_limits(scale.low), grey_limits(scale.high), strict=True)
    return Marks(
        t=Span.known(dmin + T_NET),
        s=Span.known(s_density),
        cleared=Span.known(dmin + choices.detail_ends),
        shadow=net(Span(choices.texture_ends * scale.low, choices.texture_ends * scale.high)),
        thin=net(Span(*least)),
        dense=net(Span(*most)),
    )


def places(ensemble: Ensemble, points: ReversalPoints, sought: Marks) -> Marks:
    """Return the places of a curve that have the densities that the rule looks for.

    Args:
        ensemble: the curve.
        points: its T, S and M.
        sought: the densities.
    """
    s = points.s.rows
    shown = np.isfinite(s)
    return Marks(
        t=place_of(ensemble, sought.t),
        s=Span(np.where(shown, s, points.s_least), np.where(shown, s, points.s_most)),
        cleared=place_of(ensemble, sought.cleared),
        shadow=place_of(ensemble, sought.shadow),
        thin=place_of(ensemble, sought.thin),
        dense=place_of(ensemble, sought.dense),
    )


def grey_limits(scale: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest net density at which mid-grey is still a grey, by Dmax - Dmin [density]."""
    thin, dense = (np.minimum(most, share * scale) for most, share in (GREY_THIN, GREY_DENSE))
    return thin, dense


def place_of(ensemble: Ensemble, level: Span) -> Span:
    """Return the place of a density that is itself a span, on a falling curve.

    Off the strip it is the strip's end, or open where nothing lies beyond that end.
    """
    grid, density = ensemble.grid, ensemble.density

    def crossed(level: FloatArray) -> FloatArray:
        return crossing(grid, density, np.where(np.isfinite(level), level, np.nan))

    def placed(x: FloatArray, level: FloatArray, denser: float, thinner: float) -> FloatArray:
        return np.where(np.isfinite(x), x, np.where(level > density[:, 0], denser, thinner))

    at_high = crossed(level.high)
    at_low = at_high if np.array_equal(level.low, level.high) else crossed(level.low)
    return Span(placed(at_high, level.high, -np.inf, grid[-1]), placed(at_low, level.low, grid[0], np.inf))


def requests(
    at: Marks, dmin: FloatArray, constant_error: FloatArray | float, metering: Metering, choices: Choices
) -> Requests:
    """Return the places of metered mid-grey that the tones ask for.

    Args:
        at: where the film has the densities that the rule looks for.
        dmin: Dmin as the eye sees it, the reader's zero included, (r,) [density].
        constant_error: how far the meter's constant lies above the one taken [log10].
        metering: what log H counts from.
        choices: where scene tones lie, and from which Dmin on whites can be judged.
    """
    standard = math.log10(metering.exposure / STANDARD_EXPOSURE) + constant_error
    middle = Span(0.5 * (at.t.low + at.s.low), 0.5 * (at.t.high + at.s.high))
    return Requests(
        highlight=at.t.moved(-choices.white),
        middle=middle.moved(standard),
        cleared=at.cleared.moved(-choices.white),
        shadow=at.shadow.moved(-choices.shadow),
        thin=at.thin,
        dense=at.dense,
        clearness=clearness(dmin, choices),
    )


def clearness(dmin: FloatArray, choices: Choices) -> FloatArray:
    """Return the share with which whites can be judged, by Dmin alone: 1 on a clear film, 0 on a dull one."""
    return np.asarray(np.clip((choices.dull_dmin - dmin) / (choices.dull_dmin - choices.clear_dmin), 0.0, 1.0))


def decide(asked: Requests) -> Decision:
    """Return the place of metered mid-grey by the rule."""
    ramps = [np.clip(1.0 - x / LATITUDE_RAMP, 0.0, 1.0) for x in (asked.latitude.low, asked.latitude.high)]
    share = Span(asked.clearness * ramps[0], asked.clearness * ramps[1])
    mixed = hull(_mix(asked, part) for part in (share.low, share.high))
    between = Span(*(np.sort([getattr(s, end) for s in (mixed, asked.cleared, asked.shadow)], axis=0)[1]
                     for end in ("low", "high")))  # fmt: skip
    grey = least(greatest(between, asked.dense), asked.thin)
    names = [_decided(asked, share, mixed, between, grey, end) for end in ("low", "high")]
    return Decision(grey, mixed, share, min(names, key=_BASES.index))


def _mix(asked: Requests, share: FloatArray) -> Span:
    """Return the mix of highlight and middle in the log; what has no share may be unknown."""

    def of(highlight: FloatArray, middle: FloatArray) -> FloatArray:
        return np.asarray(
            np.where(share > 0.0, share * np.where(share > 0.0, highlight, 0.0), 0.0)
            + np.where(share < 1.0, (1.0 - share) * np.where(share < 1.0, middle, 0.0), 0.0)
        )

    return Span(of(asked.highlight.low, asked.middle.low), of(asked.highlight.high, asked.middle.high))


def _decided(asked: Requests, share: Span, mixed: Span, between: Span, grey: Span, end: str) -> Basis:
    """Return the basis of one end of the estimate, "low" or "high"."""
    at, middle_one, mix = (float(getattr(s, end)[0]) for s in (grey, between, mixed))
    if at != middle_one:
        return "grey"
    if at == mix:
        c = float(getattr(share, end)[0])
        return "highlight" if c >= 1.0 else "middle" if c <= 0.0 else "mixed"
    return "cleared" if at == float(getattr(asked.cleared, end)[0]) else "shadow"


def possible_dmins(ensemble: Ensemble, dmin: Extreme) -> list[FloatArray]:
    """Return the possible Dmins: the known one alone, else some from the end of the strip down to the base.

    Nothing clears below its base, nor below nothing at all where the base was not read.

    Args:
        ensemble: the curve.
        dmin: its Dmin, reached or not.
    """
    if dmin.reached:
        return [dmin.rows]
    floor = np.minimum(ensemble.patches["base"], dmin.rows) if "base" in ensemble.patches else np.zeros(len(dmin.rows))
    return [dmin.rows + part * (floor - dmin.rows) for part in np.linspace(0.0, 1.0, _DMIN_GUESSES)]
