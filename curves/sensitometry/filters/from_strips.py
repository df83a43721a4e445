"""A filter measured on film: the shift in log H that lays the bare strip's curves on the filtered strip's curves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.errors import StripError
from curves.sensitometry.comparison.pairs import (
    SHARED,
    exposure_scatter,
    exposures_apart,
    paired_rows,
    refuse_unlike,
)
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.rows import along_own_grids
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray, sign_of
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import predict
from curves.sensitometry.filters.shifted import first_rows
from curves.sensitometry.strip.exposure import NO_ORIGIN
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import Analysis

_LEVELS = 48
"""Densities at which two curves are compared: our own choice [unitless]."""

_MARGIN = 0.04
"""Share of the common density range that is left out at each end, where curves bend most: our own choice [unitless]."""

_STEEP = 0.25
"""Levels with less than this share of the greatest gradient are left out: our own choice [unitless]."""

_LEAST_RANGE = 0.30
"""Least density range that two curves must have in common for a shift to be found: our own choice [density]."""

_CHANCE = 0.01
"""Probability, under scatter alone, below which a difference in shape rules out a pure shift [unitless]."""


@dataclass(frozen=True, eq=False)
class LayerShift:
    """A filter's density to one layer.

    Attributes:
        density: the log H shift that lays the bare curve on the filtered one [density].
        rows: the same, row by row, (r,) [density].
        misfit: greatest density that the shift leaves between the two curves [density].
        chance: probability that scatter alone makes the curves' shapes differ by as much [unitless].
        pure: True if a pure shift explains the filtered curve.
        contrast: contrast of the filtered curve over that of the bare one [unitless].
        bent: True if the curves' shapes differ more than their contrast does.
    """

    density: Quantity
    rows: FloatArray
    misfit: float
    chance: float
    pure: bool
    contrast: float
    bent: bool


@dataclass(frozen=True, eq=False)
class MeasuredFilter:
    """A filter as two strips show it: its density to each layer, its cost on film and on the meter.

    Attributes:
        layers: shift by layer.
        uncertainty: standard uncertainty of the density to one layer, root mean square of the three [density].
        film_stops: exposure that the filter costs on this film [stops].
        meter_stops: exposure that the meter gave for the filter [stops]; None if not known.
        correction: exposure to add to that of a meter that looks through the filter [stops], or the reason why it is
            missing.
        notes: assumptions behind the numbers, each a sentence.
    """

    layers: Mapping[Channel, LayerShift]
    uncertainty: float
    film_stops: Quantity
    meter_stops: float | None
    correction: Quantity
    notes: tuple[str, ...] = ()


def measure_filter(
    bare: Analysis, filtered: Analysis, choices: Choices, *, meter_stops: float | None = None
) -> MeasuredFilter:
    """Return a filter's density to each layer, from a strip without it and a strip with it.

    Errors that the two strips share, such as those of one wedge or one light, move both curves and cancel. The scatter
    of two exposures by that light does not: it moves all layers together, and is part of each interval.

    Args:
        bare, filtered: results of the strips without and with the filter, both under ``choices``.
        choices: the choices that the results rest on.
        meter_stops: the filter's cost on the meter [stops]; needed where the meter looked through the filter.

    Raises:
        StripError: the two strips cannot be compared, or have too little in common.
    """
    shift = log_h_offset(bare, filtered, 0.0 if meter_stops is None else meter_stops * STOP, meter_known=meter_stops)
    rows = paired_rows(bare, filtered)
    scatter = exposure_scatter(bare, filtered, choices.seed)
    layers = {}
    for channel in LAYERS:
        pair = [first_rows(a.channels[channel].ensemble, rows) for a in (bare, filtered)]
        layers[channel] = layer_shift(pair[0], pair[1], shift + scatter, bare.strip.title)
    shifts = np.stack([layers[c].rows for c in LAYERS], axis=1)
    spread = float(np.sqrt(shifts[1:].var(axis=0).mean())) if rows > 1 else math.nan
    try:
        film = predict(BareStrip.of(bare, choices, "absolute", rows=rows), shifts).cost
    except StripError as error:
        film = Quantity.missing(f"{error.what}")
    notes = _notes(bare, filtered, scatter)
    return MeasuredFilter(layers, spread, film, meter_stops, _correction(film, meter_stops), notes)


def log_h_offset(bare: Analysis, filtered: Analysis, meter_density: float, *, meter_known: float | None) -> float:
    """Return the log H to add to the filtered strip's so that both strips count the same light in front of the filter.

    Args:
        bare, filtered: results of the two strips.
        meter_density: density of the filter to the meter [density].
        meter_known: None if the density to the meter is not given.

    Raises:
        StripError: kinds, densities or units differ, a layer is missing, or the meter looked through an unknown filter.
    """
    needed = "two strips of one film, exposed, processed and read alike, one without and one with the filter"
    refuse_unlike(bare, filtered, needed, exposed_alike=True)
    for analysis in (bare, filtered):
        if analysis.strip.log_h_unit == "relative":
            raise StripError(
                NO_ORIGIN,
                where=analysis.strip.title,
                needed="two strips whose log H counts from one exposure: lux-seconds, or a metered mid-grey",
                hint='state [exposure] log_h in both records, "lux-seconds" or "metered grey"',
            )
        lost = [c for c in LAYERS if c not in analysis.channels]
        if lost:
            raise StripError(
                f"{' and '.join(lost)} density was not read", where=analysis.strip.title, needed="red, green and blue"
            )
    shift = 0.0
    ei = (bare.strip.exposure.ei, filtered.strip.exposure.ei)
    if ei[0] is not None and ei[1] is not None:
        shift = math.log10(ei[0] / ei[1])
    if any(used.metered == "through" for used in filtered.strip.filters):
        if meter_known is None:
            raise StripError(
                "the meter looked through the filter, and the filter's factor for the meter is not given",
                where=filtered.strip.title,
                needed="the factor between its readings without and with the filter",
                settings=("meter_factor=2.5",),
            )
        shift += meter_density
    return shift


def layer_shift(bare: Ensemble, filtered: Ensemble, offset: FloatArray | float, title: str = "") -> LayerShift:
    """Return the log H shift that lays one layer's bare curve on its filtered curve, over their common densities.

    The shift is the mean distance of the two curves in log H at many densities, weighted by the gradient. It is a pure
    shift if the distance neither grows nor bends with density by more than the draws allow.

    Args:
        bare, filtered: the layer's ensembles, with equal numbers of rows.
        offset: log H to add to the filtered curve's, row by row, (r,), or one for all rows [log10].
        title: name of the strip in errors.

    Raises:
        StripError: the curves share less than 0.30 density.
    """
    low = max(float(e.density[0].min()) for e in (bare, filtered))
    high = min(float(e.density[0].max()) for e in (bare, filtered))
    if high - low < _LEAST_RANGE:
        raise StripError(
            f"{bare.channel}: the two curves share only {max(high - low, 0.0):.2f} of density",
            where=title,
            needed=f"at least {_LEAST_RANGE:.2f} in common",
            hint="expose both strips so that each spans most of the film's density range",
        )
    margin = _MARGIN * (high - low)
    levels = np.linspace(low + margin, high - margin, _LEVELS)
    together = offset + filtered.log_h_error - bare.log_h_error
    apart = _places(filtered, levels) - _places(bare, levels) + together[:, None]
    steep = np.minimum(*(np.interp(_places(e, levels)[0], e.grid, np.abs(e.gradient[0])) for e in (bare, filtered)))
    weight = np.where(steep >= _STEEP * steep.max(), steep, 0.0)
    # Orthonormal level, trend and bend over the density range, under the weights.
    scale = np.linspace(-1.0, 1.0, _LEVELS)
    axes = np.linalg.qr(np.sqrt(weight)[:, None] * scale[:, None] ** np.arange(3))[0]
    coordinates = (np.sqrt(weight) * apart) @ axes
    rows = coordinates[:, 0] / (np.sqrt(weight) @ axes[:, 0])
    shape = coordinates[:, 1:]
    covariance = (np.cov(shape[1:].T) if len(shape) > 3 else np.full((2, 2), np.nan)) + 1e-12 * np.eye(2)
    distance = float(shape[0] @ np.linalg.solve(covariance, shape[0])) if len(shape) > 3 else math.nan
    # Chi-square with two degrees of freedom exceeds x with probability exp(-x / 2).
    chance = math.exp(-0.5 * distance) if math.isfinite(distance) else math.nan
    misfit = float((np.abs(apart[0] - rows[0]) * steep)[weight > 0].max())
    run = [float(np.polyfit(levels, _places(e, levels)[0], 1, w=np.sqrt(weight))[0]) for e in (bare, filtered)]
    return LayerShift(
        density=summarise(rows),
        rows=rows,
        misfit=misfit,
        chance=chance,
        pure=not chance < _CHANCE,
        contrast=run[0] / run[1],
        bent=abs(float(shape[0, 1])) > abs(float(shape[0, 0])),
    )


def _places(ensemble: Ensemble, levels: FloatArray) -> FloatArray:
    """Return the log H at which each row has each density, (r, n) [log10]."""
    sign = sign_of(ensemble.kind)
    return along_own_grids(sign * levels, sign * ensemble.density, ensemble.grid)


def _correction(film: Quantity, meter_stops: float | None) -> Quantity:
    """Return the exposure that the film needs beyond that of a meter that looks through the filter [stops]."""
    if meter_stops is None:
        return Quantity.missing("the filter's factor for the meter is not given")
    if film.value is None:
        return Quantity.missing(film.why or "")
    low, high = (None if x is None else x - meter_stops for x in (film.low, film.high))
    return Quantity(film.value - meter_stops, low, high, film.how)


def _notes(bare: Analysis, filtered: Analysis, scatter: FloatArray) -> tuple[str, ...]:
    """Return a sentence on how equal the exposures of two strips were."""
    drawn, again = exposures_apart(bare, filtered), float(scatter[1:].std()) / STOP if scatter.size > 1 else 0.0
    if drawn > SHARED:
        return (f"The exposures of the two strips may differ by {drawn:.2f} stop (standard uncertainty).",)
    if again > SHARED:
        return (
            f"The two strips are taken to have had the same light for the same time, within {again:.2f} stop (standard"
            " uncertainty, assumed).",
        )
    return ("The two strips are assumed to have had exactly the same light for exactly the same time.",)
