"""The evidence of judged frames: the right exposure that the judgements leave open, and judgements that contradict."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.strip.exposure import JUDGEMENTS, Eye, Frames, side_of
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import ASSUMED_SHUTTER

BEYOND = 3.0
"""Distance beyond the frames within which the right exposure is taken to lie where only the eye tells: our own choice
[stops]."""

_STEP = 0.02
"""Distance of the exposures at which the chance of the judgements is computed [stops]."""

_TASTES = 4.0
"""Standard deviations of taste to each side over which a chance is averaged."""

_LEAST_CHANCE = 0.05
"""Chance of one-sided judgements at the exposure that bounds the right one: the bound holds in 95 % [unitless]."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """The judgements of the frames of one strip.

    A place is the right exposure against the exposure that the meter gave at the strip's own index [stops, + is more].

    Attributes:
        stops: exposure of each judged frame, (n,) [stops, + is more].
        side: -1 where a frame had too little exposure, 0 where right, 1 where too much, (n,).
        labels: what to call each frame.
        eye: the reliability of the eye.
        frame_error: standard uncertainty of the exposure of one frame against the next [stops].
        counts: number of frames by judgement.
    """

    stops: FloatArray
    side: FloatArray
    labels: tuple[str, ...]
    eye: Eye
    frame_error: float
    counts: dict[str, int]

    @classmethod
    def of(cls, strip: Strip) -> Evidence | None:
        """Return the judgements of a strip; None where no frame was judged."""
        judged = [(row, judgement) for row, judgement in enumerate(strip.judgements) if judgement is not None]
        if not judged or not isinstance(strip.exposure, Frames):
            return None
        rows = [row for row, _ in judged]
        given = strip.exposure.frame_uncertainty_stops
        return cls(
            stops=strip.position[rows],
            side=np.array([side_of(judgement, strip.kind) for _, judgement in judged], dtype=np.float64),
            labels=tuple(strip.labels[row] for row in rows),
            eye=strip.exposure.eye,
            frame_error=ASSUMED_SHUTTER if given is None else given,
            counts={word: sum(judgement == word for _, judgement in judged) for word in JUDGEMENTS},
        )

    def chance(self, places: FloatArray) -> FloatArray:
        """Return the chance of all judgements together if the right exposure lay at each place, (p,) [unitless].

        The eye's taste is averaged over; frame to frame the judgements are independent.
        """
        reach = _TASTES * self.eye.taste
        taken = np.arange(float(places.min()) - reach - _STEP, float(places.max()) + reach + 2.0 * _STEP, _STEP)
        each = self.chance_to_the_eye(taken)
        if reach < _STEP:
            return np.asarray(np.interp(places, taken, each))
        tastes = _STEP * np.arange(-math.ceil(reach / _STEP), math.ceil(reach / _STEP) + 1)
        weights = np.exp(-0.5 * (tastes / self.eye.taste) ** 2)
        return np.asarray(np.interp(places, taken, np.convolve(each, weights / weights.sum(), mode="same")))

    def chance_to_the_eye(self, taken: FloatArray) -> FloatArray:
        """Return the chance of all judgements if the eye takes each place for the right exposure, (p,) [unitless]."""
        return np.asarray(self.eye.chance(self.side, self.stops - taken[:, None], self.frame_error).prod(axis=1))

    @cached_property
    def places(self) -> FloatArray:
        """The places at which the chance is computed, from `BEYOND` under the frames to `BEYOND` over them [stops]."""
        low, high = float(self.stops.min()) - BEYOND, float(self.stops.max()) + BEYOND
        return np.linspace(low, high, round((high - low) / _STEP) + 1)

    @property
    def one_sided(self) -> int:
        """The side that all frames lie on: -1 all too little exposure, 1 all too much; 0 where not so."""
        sides = set(self.side.tolist())
        return int(self.side[0]) if sides in ({-1.0}, {1.0}) else 0

    def bound(self) -> float:
        """Return the place that the right exposure lies beyond, where all frames lie on one side [stops].

        At the bound, so many judgements of one side have a chance of 5 %.
        """
        low, high = float(self.stops.min()) - 2.0 * BEYOND, float(self.stops.max()) + 2.0 * BEYOND
        places = np.linspace(low, high, round((high - low) / _STEP) + 1)
        within = places[self.chance(places) >= _LEAST_CHANCE]
        return float(within.min() if self.one_sided < 0 else within.max())

    def quantiles(self, shares: FloatArray) -> FloatArray:
        """Return the places below which the right exposure lies with given chances, every place alike before, (s,).

        Args:
            shares: chances, each between 0 and 1 [unitless].
        """
        return np.asarray(np.interp(shares, shares_below(self.chance(self.places), _STEP), self.places))

    def quantiles_to_the_eye(self, shares: FloatArray) -> FloatArray:
        """Return the places below which the eye's own right exposure lies with given chances, (s,) [stops]."""
        return np.asarray(np.interp(shares, shares_below(self.chance_to_the_eye(self.places), _STEP), self.places))

    def contradictions(self) -> list[str]:
        """Return each frame that was judged the other way round than the frames beside it allow, in a sentence.

        A frame cannot have too much exposure where another one, with as much or more, has too little.
        """
        over = [n for n in range(self.side.size) if self.side[n] > 0]
        under = [n for n in range(self.side.size) if self.side[n] < 0]
        pairs = [(o, u) for o, u in itertools.product(over, under) if self.stops[o] <= self.stops[u]]
        if not pairs:
            return []
        o, u = max(pairs, key=lambda pair: float(self.stops[pair[1]] - self.stops[pair[0]]))
        more = float(self.stops[u] - self.stops[o])
        others = len(pairs) - 1
        return [
            f"{self.labels[o]} is judged to have too much exposure, and {self.labels[u]}, with"
            f" {f'{more:.1f} stops more' if more > 0.05 else 'as much'}, too little"
            f"{f'; {others} more pair{_s(others)} contradict' if others else ''}: look at these frames again, and"
            " whether each judgement stands beside its own frame."
        ]


def shares_below(density: FloatArray, step: float) -> FloatArray:
    """Return the share of a density that lies below each of evenly spaced places, from 0 to 1, (p,) [unitless].

    Args:
        density: not negative, (p,).
        step: distance of the places.
    """
    below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * step)])
    # An even rise, however small, lets the shares be turned round into places.
    return np.asarray(below / below[-1] + np.linspace(0.0, 1e-12, below.size))


def _s(count: int) -> str:
    return "" if count == 1 else "s"
