"""The exposure of one strip against another, as their own curves show it where they overlap.

Two strips of one film have the same density at the same exposure. Where their densities overlap, the log H at which
each has a density is read off both curves: the difference is the exposure of the one against the other, row by row of
the draws, so that errors which both strips share cancel.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.combining.agreement import covariance, least_variance_weights
from curves.sensitometry.comparison.pairs import EXPOSED_AGAIN, SHARED, exposures_apart, paired_rows
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.rows import along_own_grids
from curves.sensitometry.core.streams import beside_estimate, stream
from curves.sensitometry.core.units import STOP, Channel, FloatArray, sign_of
from curves.sensitometry.curve.posterior import READINGS
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import Analysis

LEAST_SPAN = 0.30
"""Densities that two strips must share for their curves to show an offset: our own choice [density]."""

_LEAST_SLOPE = 0.25
"""Slope of a curve, in its greatest, from which a density has a place: our own choice [unitless]."""

_LEVELS = 24
"""Densities at which two curves are held against each other [unitless]."""


@dataclass(frozen=True, eq=False)
class Overlap:
    """Two strips where their densities overlap.

    Attributes:
        first, second: what the strips are called.
        density: least and greatest density that both have, in the channel that shows most [density].
        rows: exposure of the second beyond what is stated of it against the first, by the curves alone, (r,) [log10].
        stated: the same by what is known of the exposures alone: row 0 is 0, (r,) [log10].
        bend: how much that exposure differs between the dense and the thin half of the overlap: strips of one film and
            one process have none [stops].
        unstated: True if the record of one of them states nothing that log H counts from, so that nothing of it can be
            contradicted.
    """

    first: str
    second: str
    density: tuple[float, float]
    rows: FloatArray
    stated: FloatArray
    bend: Quantity
    unstated: bool

    @property
    def found(self) -> Quantity:
        """The exposure of the second strip beyond what is stated of it, by the curves [stops]."""
        return summarise(self.rows / STOP)

    @property
    def discrepancy(self) -> Quantity:
        """The same, with the errors of the exposures in its interval: an interval without 0 contradicts the records."""
        return summarise((self.rows - self.stated) / STOP)

    @property
    def contradicts(self) -> bool:
        """True if the curves contradict what the records state of the exposures."""
        low, high = self.discrepancy.known_ends
        return not self.unstated and not low <= 0.0 <= high

    @property
    def bends(self) -> bool:
        """True if the two curves differ in shape where they overlap."""
        low, high = self.bend.known_ends
        return not low <= 0.0 <= high


def overlap(first: Analysis, second: Analysis, origins: Sequence[float]) -> Overlap | None:
    """Return the overlap of two strips of one film, or None where their densities hardly overlap.

    Args:
        first, second: results of the strips.
        origins: what is added to the log H of each so that both count from one exposure, (2,) [log10].
    """
    rows = paired_rows(first, second)
    shown = list(_channels(first, second, rows))
    if not shown:
        return None
    places, bends = (np.array([part[which] for part in shown]) for which in (0, 1))
    weights = least_variance_weights(covariance(places[:, 1:]))
    errors = [exposure_error(a, [first, second], rows) for a in (first, second)]
    # True log H is the stated one and its error: what the first lacks the second seems to have.
    return Overlap(
        first=first.strip.title,
        second=second.strip.title,
        density=max((part[2] for part in shown), key=lambda ends: ends[1] - ends[0]),
        rows=weights @ places + origins[0] - origins[1],
        stated=errors[1] - errors[0],
        bend=summarise(weights @ bends / STOP),
        unstated="relative" in (first.strip.log_h_unit, second.strip.log_h_unit),
    )


def linked(
    found: Iterable[tuple[Overlap, tuple[int, int]]], count: int
) -> tuple[list[tuple[Overlap, tuple[int, int]]], list[int]]:
    """Return the overlaps that link strips, widest first, and for each strip the number of its group.

    Each overlap links two groups: of n strips at most n - 1 overlaps, each of which tells something of its own.

    Args:
        found: overlaps, each with the places of its two strips.
        count: number of strips.
    """
    group = list(range(count))
    kept = []
    for both, (one, other) in sorted(found, key=lambda pair: pair[0].density[0] - pair[0].density[1]):
        if group[one] != group[other]:
            kept.append((both, (one, other)))
            old, new = group[other], group[one]
            group = [new if g == old else g for g in group]
    return kept, group


def exposed_again(analysis: Analysis, every: Sequence[Analysis], rows: int) -> FloatArray:
    """Return the error of one exposure against another by the same light, (r,) [log10].

    Zero where no other strip has the same errors of exposure. A smaller uncertainty that the record states for its
    whole exposure is believed.

    Args:
        analysis: results of the strip.
        every: results of all strips, this one too.
        rows: how many rows are needed.
    """
    if not any(exposures_apart(other, analysis) <= SHARED for other in every if other is not analysis):
        return np.zeros(rows)
    stated = analysis.strip.exposure.uncertainty_stops
    u = EXPOSED_AGAIN if stated is None else min(stated, EXPOSED_AGAIN)
    own = next((s.belongs_to for s in analysis.sources if s.key == READINGS), (analysis.strip.title,))
    return u * STOP * beside_estimate(stream(analysis.choices.seed, "exposed again", *own), rows, 1)[:, 0]


def exposure_error(analysis: Analysis, every: Sequence[Analysis], rows: int) -> FloatArray:
    """Return the error of all log H of a strip, its exposure by a light that served another too, (r,) [log10].

    Args:
        analysis, every, rows: as for `exposed_again`.
    """
    ensemble = next(iter(analysis.channels.values())).ensemble
    return ensemble.log_h_error[:rows] + exposed_again(analysis, every, rows)


def _channels(
    first: Analysis, second: Analysis, rows: int
) -> Iterator[tuple[FloatArray, FloatArray, tuple[float, float]]]:
    """Give, for each channel that both strips show, places, bends, (r,) each [log10], and the densities shared."""
    for channel in first.channels:
        if channel in second.channels and not (first.channels[channel].estimated or second.channels[channel].estimated):
            found = _one_channel(first, second, channel, rows)
            if found is not None:
                yield found


def _one_channel(
    first: Analysis, second: Analysis, channel: Channel, rows: int
) -> tuple[FloatArray, FloatArray, tuple[float, float]] | None:
    """Return the exposure of the second strip by one channel, its bend, and the densities that both have."""
    ensembles = [a.channels[channel].ensemble for a in (first, second)]
    spans = [_sloping(ensemble) for ensemble in ensembles]
    low, high = max(span[0] for span in spans), min(span[1] for span in spans)
    if high - low < LEAST_SPAN:
        return None
    sign = sign_of(first.strip.kind)
    levels = np.linspace(low, high, _LEVELS)
    rising = levels if sign > 0 else -levels[::-1]
    places = []
    for ensemble in ensembles:
        density = sign * (ensemble.density[:rows] + ensemble.level_error[:rows, None])
        places.append(along_own_grids(rising, density, ensemble.grid))
    slopes = [np.gradient(rising, place[0]) for place in places]
    weight = 1.0 / (np.maximum(slopes[0], 1e-3) ** -2 + np.maximum(slopes[1], 1e-3) ** -2)
    apart = places[0] - places[1]
    half = _LEVELS // 2
    parts = [np.average(apart[:, part], axis=1, weights=weight[part]) for part in (slice(half), slice(half, None))]
    return np.average(apart, axis=1, weights=weight), parts[1] - parts[0], (float(low), float(high))


def _sloping(ensemble: Ensemble) -> tuple[float, float]:
    """Return the least and the greatest density where a curve is steep enough for a density to have a place."""
    slope, density = np.abs(ensemble.gradient[0]), ensemble.density[0]
    steep = density[slope >= _LEAST_SLOPE * slope.max()]
    return float(steep.min()), float(steep.max())
