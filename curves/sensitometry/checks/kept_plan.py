"""A strip beside its plan: whether it holds the ends of the curve, and whether its numbers are those expected.

The ends are those that a plan reckons with: on a reversal film net density 0.04 and 95 % of the image, over all layers;
on a negative the toe, net density 0.04, and 1.50 of log H beyond the speed point.

A plan after a strip expects a number and the width of its interval, each between two ends by n simulated films: what
comes lies between them with a chance of (n - 1) / (n + 1), if the film is one that the strip left possible.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, FloatArray, two_digits
from curves.sensitometry.measures import points
from curves.sensitometry.strip.origin import Expected, PlannedEnds, PlannedNumber, PredictedInterval
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import ChannelFinding, Notice

THIN_NET, DENSE_SHARE, BEYOND_SPEED_POINT = 0.04, 0.95, 1.50
"""Net density of the thin end [density]; share of the image at the dense end of a reversal [unitless]; log H from a
negative's speed point to its dense end [log10]: as plans reckon."""

End = Literal["thin", "dense"]


@dataclass(frozen=True, eq=False)
class KeptEnd:
    """One end of a curve, as it was planned and as it is.

    Attributes:
        end: which of the two.
        expected: least, expected and greatest log H by the plan [log10].
        found: log H of the end on the strip; without a value where the strip does not hold it [log10].
    """

    end: End
    expected: Expected
    found: Quantity

    @property
    def on_strip(self) -> bool:
        """True if the strip holds the end."""
        return self.found.value is not None

    @property
    def foreseen(self) -> bool:
        """True if the end lies where the plan expected it, as far as is known of it."""
        low, high = self.found.known_ends
        return low <= self.expected[2] and high >= self.expected[0]


def kept_ends(strip: Strip, channels: Mapping[Channel, ChannelFinding]) -> tuple[KeptEnd, ...]:
    """Return the two ends of a strip's curve beside those of its plan; empty without a plan of the ends."""
    planned = strip.planned
    if not isinstance(planned, PlannedEnds) or not channels:
        return ()
    layers = [c.ensemble for c in channels.values() if not c.estimated]
    return tuple(
        KeptEnd(end, getattr(planned, end), _furthest([_place(e, end) for e in layers], strip, end))
        for end in ("thin", "dense")
    )


@dataclass(frozen=True, eq=False)
class KeptNumber:
    """A number of a further strip, as the plan after the strip before it expected it and as it is.

    Attributes:
        plan: the plan.
        expected: the number and half the width of its interval by the plan.
        found: the number, in its own unit.
        strips: 1 for the further strip alone, 2 for both strips together.
    """

    plan: PlannedNumber
    expected: PredictedInterval
    found: Quantity
    strips: Literal[1, 2]

    @property
    def half_width(self) -> float | None:
        """Half the width of the 95 % interval, in stops for an index; None where there is none."""
        low, high = self.found.low, self.found.high
        if low is None or high is None:
            return None
        return 0.5 * (math.log2(high / low) if self.plan.channel is None else high - low)

    @property
    def value_held(self) -> bool:
        """True if the number lies between the least and the greatest that the plan expected."""
        value, expected = self.found.value, self.expected.value
        return value is not None and expected[0] <= value <= expected[2]

    @property
    def width_held(self) -> bool:
        """True if its interval is as wide as the plan expected, or narrower."""
        return self.half_width is not None and self.half_width <= self.expected.half_width[2]

    @property
    def words(self) -> str:
        """The verdict, what was expected, what came, and how often a right plan is missed."""
        held = self.value_held and self.width_held
        value, width = self.expected.value, self.expected.half_width
        of = "this strip" if self.strips == 1 else "both strips together"
        name = "EI" if self.plan.channel is None else f"{self.plan.channel} {self.plan.number}"
        was = (
            f"The plan after {self.plan.after} {'held' if held else 'did not hold'}. It expected of {of} {name}"
            f" {self._shown(value[0])} to {self._shown(value[2])}, known to ±{width[0]:.2f} to ±{self._width(width[2])}"
        )
        return f"{was}; {self._came()}. {self._rate()}"

    def _came(self) -> str:
        """Return the number that came, as a clause."""
        if self.found.value is None or self.half_width is None:
            return f"the strip shows none: {self.found.why or 'it has no interval'}"
        came = f"it is {self._shown(self.found.value)}, known to ±{self._width(self.half_width)}"
        if not self.value_held:
            side = "above" if self.found.value > self.expected.value[2] else "below"
            came += f", {side} what was expected"
        if not self.width_held:
            came += ", and less sure" if not self.value_held else ", less sure than was expected"
        return came

    def _rate(self) -> str:
        """Return the share of right plans that miss, in a sentence."""
        return (
            f"Between these ends lay {self.plan.films} simulated films; a plan that is right misses the value by chance"
            f" in {100.0 * (1.0 - self.plan.chance):.0f} %."
        )

    def _shown(self, value: float) -> str:
        """Return a value of the number."""
        return two_digits(value) if self.plan.channel is None else f"{value:.2f}"

    def _width(self, width: float) -> str:
        """Return half the width of an interval with its unit."""
        return f"{width:.2f} stops" if self.plan.channel is None else f"{width:.3f}"


def kept_number(strip: Strip, channels: Mapping[Channel, ChannelFinding], index: Quantity) -> KeptNumber | None:
    """Return the number of a strip beside that of its plan; None where no plan expected one of it alone.

    Args:
        strip: the strip.
        channels: what was found in each channel.
        index: the working exposure index.
    """
    plan = strip.planned
    if not isinstance(plan, PlannedNumber) or plan.own is None:
        return None
    if plan.channel is None:
        return KeptNumber(plan, plan.own, index, 1)
    if plan.channel not in channels or plan.number not in channels[plan.channel].measures:
        return None
    return KeptNumber(plan, plan.own, channels[plan.channel].measures[plan.number], 1)


def plan_notices(strip: Strip, channels: Mapping[Channel, ChannelFinding], index: Quantity) -> Iterator[Notice]:
    """Yield a notice on whether the plan held; none where there was no plan.

    Args:
        strip, channels, index: as for `kept_number`.
    """
    number = kept_number(strip, channels, index)
    if number is not None:
        held = number.value_held and number.width_held
        yield Notice("plan-held" if held else "plan-missed", number.words, number.plan.channel)
    yield from _end_notices(strip, channels)


def _end_notices(strip: Strip, channels: Mapping[Channel, ChannelFinding]) -> Iterator[Notice]:
    """Yield a notice on whether the strip holds the ends of the curve as its plan expected."""
    ends, planned = kept_ends(strip, channels), strip.planned
    if not isinstance(planned, PlannedEnds) or not ends:
        return
    lost = [each.end for each in ends if not each.on_strip]
    stray = [each for each in ends if each.on_strip and not each.foreseen]
    words = " ".join(_end_words(each) for each in ends)
    chance = _chance_words(planned)
    if not lost and not stray:
        yield Notice("plan-held", f"The plan held: both ends of the curve lie on the strip. {words} {chance}")
        return
    if lost:
        which = "Neither end of the curve lies" if len(lost) == 2 else f"The {lost[0]} end of the curve does not lie"
        several = planned.strips > 1
        advice = " Join the strips of the plan to one curve." if several else ""
        first = f"The plan did not hold: {which[0].lower()}{which[1:]} on the strip.{advice}"
        if several:
            first = f"{which} on this strip, one of {planned.strips} that were planned.{advice}"
    else:
        first = "The plan held for the wedge, not for the film: both ends lie on the strip, but not where expected."
    yield Notice("plan-missed", f"{first} {words} {chance}")


def _place(ensemble: Ensemble, end: End) -> FloatArray:
    """Return the log H of one end on every row of a channel, (r,) [log10]; NaN where the strip does not hold it."""
    dmin, dmax = points.dmin(ensemble), points.dmax(ensemble)
    # The dense end of a reversal hangs on Dmax; a Dmin that is a little too high hardly moves it.
    if not (dmax if end == "dense" and ensemble.kind == "reversal" else dmin).reached:
        return np.full(len(ensemble.density), np.nan)
    if ensemble.kind == "negative" and end == "dense":
        place = points.crossing(ensemble.grid, ensemble.density, dmin.rows + points.SPEED_NET) + BEYOND_SPEED_POINT
        return np.where(place <= ensemble.grid[-1], place, np.nan)
    net = np.full(len(ensemble.density), THIN_NET) if end == "thin" else DENSE_SHARE * (dmax.rows - dmin.rows)
    return points.crossing(ensemble.grid, ensemble.density, dmin.rows + net)


def _furthest(places: list[FloatArray], strip: Strip, end: End) -> Quantity:
    """Return the log H of the end that lies furthest out over the layers [log10]."""
    most_exposed = (end == "thin") == (strip.kind == "reversal")
    rows = np.max(places, axis=0) if most_exposed else np.min(places, axis=0)
    at = float(strip.log_h.max() if most_exposed else strip.log_h.min())
    if not np.isfinite(rows[0]):
        why = "the strip does not hold it"
        return Quantity.missing(why, above=at) if most_exposed else Quantity.missing(why, below=at)
    return summarise(rows, beyond=at)


def _end_words(each: KeptEnd) -> str:
    """Return one end in words: where it was expected and where it is."""
    least, expected, greatest = each.expected
    was = f"expected at log H {expected:.2f} ({least:.2f} to {greatest:.2f})"
    found = each.found
    if found.value is None:
        side, end = found.bound or (">", 0.0)
        return f"The {each.end} end was {was}, and lies {'above' if side == '>' else 'below'} {end:.2f}."
    ends = "" if found.low is None or found.high is None else f" ({found.low:.2f} to {found.high:.2f})"
    stops = (found.value - expected) / STOP
    away = f", {abs(stops):.1f} stops {'above' if stops > 0.0 else 'below'} that" if abs(stops) >= 0.05 else ", as was"
    return f"The {each.end} end was {was}, and lies at {found.value:.2f}{ends}{away}."


def _chance_words(planned: PlannedEnds) -> str:
    """Return the chances that the plan gave itself."""
    alone = f"The plan gave this strip a chance of {100.0 * planned.alone:.0f} % to hold both"
    if planned.strips == 1:
        return f"{alone}."
    return f"{alone} by itself, and all {planned.strips} strips together {100.0 * planned.chance:.0f} %."
