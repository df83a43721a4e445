"""A film behind a filter: each layer's curve moves along log H by the filter's density to that layer.

D_c(x) becomes D_c(x - f_c), where x counts the light in front of the filter; the densities of a stack add. From the
bare strip follow the curves behind any stack, the scene's place on these curves, and the cast of each tone.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from curves.errors import StripError
from curves.sensitometry.analysis import negative_index
from curves.sensitometry.analysis.index_rule import Marks, Requests, Span, decide, levels, places, requests
from curves.sensitometry.core import streams
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, VISUAL_WEIGHTS, FloatArray, density, transmittance
from curves.sensitometry.filters.shifted import (
    along_draws,
    along_estimate,
    falling_zero,
    first_rows,
    on_strip,
)
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import Extreme
from curves.sensitometry.measures.reversal_points import ReversalPoints, reversal_points
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Analysis

Match = Literal["net", "absolute"]
Along = Callable[[Ensemble, FloatArray], FloatArray]
EYE = np.array([VISUAL_WEIGHTS[c] for c in LAYERS])
"""Share of each layer in what the eye sees, as in `units.visual_density` [unitless]."""

EYE_UNCERTAINTY = 0.03
"""Standard uncertainty of a layer's share for dyes other than those that the shares were found on: our own choice,
about as large as explains the model's error of 0.04 density [unitless]."""

_HEAVY = 0.10
"""A layer that counts for less than this to the eye does not decide whether an index can be named [unitless]."""

_MARGIN = 0.02
"""Distance by which the eye's shift may lie beyond the layers' least and greatest shift [log10]."""


@dataclass(frozen=True, eq=False)
class BareStrip:
    """A strip exposed without filters, with all that a prediction behind filters needs.

    Attributes:
        layers: the ensembles of red, green and blue, in that order.
        eye: the ensemble of the channel that the working index comes from.
        dmin: lowest density of each layer.
        eye_dmin, eye_dmax: Dmin and Dmax of that channel.
        metering: origin of log H, and the exposure that an index stands for.
        criterion: the part of the rule that decided the working index; behind a filter another part may decide.
        match: "net" to compare layers above their own Dmin, "absolute" to compare densities as they are.
        choices: places of scene tones.
        relative: True if log H counts from an exposure that nobody stated: mid-grey lies where the rule of the index
            puts it on the curves, but no index can be named.
    """

    layers: tuple[Ensemble, Ensemble, Ensemble]
    eye: Ensemble
    dmin: tuple[Extreme, Extreme, Extreme]
    eye_dmin: Extreme
    eye_dmax: Extreme
    metering: Metering
    criterion: str
    match: Match
    choices: Choices
    relative: bool = False

    @classmethod
    def of(cls, analysis: Analysis, choices: Choices, match: Match = "net", *, rows: int | None = None) -> BareStrip:
        """Gather what filters need from the analysis of an unfiltered strip.

        Args:
            analysis: results of the strip.
            choices: the choices that the results rest on.
            match: how layers are compared.
            rows: number of rows to keep; all if None.

        Raises:
            StripError: a layer was not read, the strip does not show where to place the scene, or net densities are
                asked for where a layer's Dmin is not known.
        """
        title, ei = analysis.strip.title, analysis.working_ei
        lost = [c for c in LAYERS if c not in analysis.channels]
        if lost:
            raise StripError(
                f"{' and '.join(lost)} density was not read",
                where=title,
                needed="red, green and blue: a filter is chosen by what it does to each layer",
            )
        most = len(analysis.channels[ei.channel].ensemble.density) if rows is None else rows
        eye = first_rows(analysis.channels[ei.channel].ensemble, most)
        eye_dmin = points.dmin(eye)
        relative = analysis.strip.log_h_unit == "relative"
        if (ei.recommended.value is None and not relative) or not eye_dmin.reached:
            raise _without_place(title)
        red, green, blue = (first_rows(analysis.channels[c].ensemble, most) for c in LAYERS)
        layers = (red, green, blue)
        ends = tuple(points.dmin(layer) for layer in layers)
        unknown = [layer.channel for layer, end in zip(layers, ends, strict=True) if not end.reached]
        if match == "net" and unknown:
            raise StripError(
                f"Dmin is not known in {', '.join(unknown)}, so there is no density above it",
                where=title,
                needed="a strip that reaches Dmin, or its patch; or densities compared as they are",
                settings=("match=absolute",),
            )
        bare = cls(
            layers=layers,
            eye=eye,
            dmin=(ends[0], ends[1], ends[2]),
            eye_dmin=eye_dmin,
            eye_dmax=points.dmax(eye),
            metering=analysis.strip.metering,
            criterion=ei.basis,
            match=match,
            choices=choices,
            relative=relative,
        )
        if relative and not np.isfinite(bare.grey[0]):
            raise _without_place(title)
        return bare

    @property
    def rows(self) -> int:
        """The number of rows of every ensemble: the estimate and the draws."""
        return len(self.eye.density)

    @property
    def misplaced(self) -> FloatArray:
        """The error of all log H, of this strip and of a meter set by it, (r,) [log10]."""
        return np.asarray(self.eye.log_h_error + self.eye.tone_error)

    @property
    def none(self) -> FloatArray:
        """The shifts of no filter at all, (r, 3) [density]."""
        return np.zeros((self.rows, 3))

    @cached_property
    def grey(self) -> FloatArray:
        """Log H of mid-grey without any filter, (r,) [log10]."""
        return grey_places(self, self.none, along_draws)

    @cached_property
    def eye_shares(self) -> FloatArray:
        """The share of each layer in what the eye sees, (r, 3) [unitless]; row 0 has the model's shares."""
        noise = EYE_UNCERTAINTY * streams.beside_estimate(streams.stream(self.choices.seed, "eye"), self.rows, 2)
        red, blue = np.clip(EYE[[0, 2]] + noise, 0.0, 0.5).T
        return np.stack([red, 1.0 - red - blue, blue], axis=1)

    @cached_property
    def sought(self) -> Marks:
        """The densities that the rule of the index looks for: those of the bare reversal strip."""
        dmax = self.eye_dmax
        top = Span(dmax.rows, dmax.rows if dmax.reached else np.full_like(dmax.rows, np.inf))
        return levels(self.eye_dmin.rows, top, self._points.s_density, self.choices)

    @cached_property
    def places(self) -> Marks:
        """The places on the bare reversal strip of the densities in `sought` [log10]."""
        return places(self.eye, self._points, self.sought)

    @cached_property
    def _points(self) -> ReversalPoints:
        return reversal_points(self.eye, self.eye_dmin)

    def tones(self) -> FloatArray:
        """Log H of white, grey and shadow above mid-grey, (3,) [log10]."""
        return np.array([self.choices.white, 0.0, self.choices.shadow])


def _without_place(title: str) -> StripError:
    """Return the refusal of a strip on whose curves the scene has no place."""
    return StripError(
        "the strip names no working index, so the scene has no place on its curves",
        where=title,
        needed="a strip on which T and S, or the speed point, can be found",
        hint="ask for the strip's working index alone, which says what to expose next",
    )


def visual_behind(bare: BareStrip, shifts: FloatArray, log_h: FloatArray, along: Along = along_estimate) -> FloatArray:
    """Return the visual density of a reversal film behind filters [density].

    The bare visual curve moves by the mean of the layers' shifts. It is corrected by the change in the visual density
    mixed from the layers, when each layer moves by its own shift and not by the mean. A neutral filter needs no
    correction.

    Args:
        bare: the strip.
        shifts: density of the filters to each layer, (n, 3) [density].
        log_h: exposure in front of each filter, (n,) [log10].
        along: the look-up of a curve: `along_draws` (n is then r) or `along_estimate`.
    """
    share = bare.eye_shares if along is along_draws else EYE
    mean = (shifts * share).sum(axis=1)
    apart, together = (
        density(
            sum(
                share[..., i] * transmittance(along(layer, log_h - f))
                for i, (layer, f) in enumerate(zip(bare.layers, by, strict=True))
            )
        )
        for by in (shifts.T, (mean, mean, mean))
    )
    return along(bare.eye, log_h - mean) + apart - together


def grey_places(bare: BareStrip, shifts: FloatArray, along: Along = along_estimate) -> FloatArray:
    """Return the log H of metered mid-grey that the rule of the index asks for behind filters, (n,) [log10].

    A reversal film keeps the densities that the rule looks for on the bare strip, S among them, so that the cost of a
    filter is the exposure that brings the same brightness back.

    Args:
        bare: the strip.
        shifts: density of the filters to each layer, (n, 3) [density].
        along: `along_draws` (n is then r) or `along_estimate`, as in `visual_behind`.
    """
    rows: slice | int = slice(None) if along is along_draws else 0
    if bare.eye.kind == "negative":
        tone = _speed_placement(bare)[rows]
        if bare.eye.channel not in LAYERS:
            return np.asarray(points.speed_point(bare.eye, bare.eye_dmin).rows[rows] + shifts @ EYE - tone)
        starts = [
            points.speed_point(layer, end).rows[rows] + shifts[:, i]
            for i, (layer, end) in enumerate(zip(bare.layers, bare.dmin, strict=True))
        ]
        return np.asarray(np.max(starts, axis=0) - tone)
    roughly = _places_behind(bare, shifts, along, only=("t", "s"))
    grey = decide(index_requests(bare, roughly, rows)).grey
    if np.any(grey.low != grey.high):
        # Where the tones that only limit the index come near it, their places behind the filters are needed too.
        grey = decide(index_requests(bare, _places_behind(bare, shifts, along), rows)).grey
    return np.asarray(np.where(grey.low == grey.high, grey.low, np.nan))


def _speed_placement(bare: BareStrip) -> FloatArray:
    """Return the place of a negative's speed point against metered mid-grey, (r,) [log10]."""
    return np.asarray(negative_index.speed_placement(bare.metering) - bare.eye.constant_error)


def index_requests(bare: BareStrip, at: Marks, rows: slice | int = slice(None)) -> Requests:
    """Return the requests of a bare reversal strip's rule at other places of its densities.

    Args:
        bare: the strip.
        at: places of the densities on a film, (n,) [log10].
        rows: the rows of the strip that the places belong to.
    """
    white = (bare.eye_dmin.rows + bare.eye.level_error)[rows]
    return requests(at, white, bare.eye.constant_error[rows], bare.metering, bare.choices)


def _places_behind(bare: BareStrip, shifts: FloatArray, along: Along, only: Collection[str] = ()) -> Marks:
    """Return the places behind filters of the densities that the rule looks for, each (n,) [log10].

    Args:
        bare: the strip.
        shifts, along: as for `grey_places`.
        only: names of the densities to find, all if empty; the places of others are bounded by the layers' shifts.
    """
    rows: slice | int = slice(None) if along is along_draws else 0
    least, most = shifts.min(axis=1) - _MARGIN, shifts.max(axis=1) + _MARGIN

    def found(at: FloatArray, level: FloatArray, otherwise: FloatArray) -> FloatArray:
        shown = np.isfinite(at) & np.isfinite(level)
        start, wanted = np.where(shown, at, bare.eye.grid[0]), np.where(shown, level, 0.0)
        place = falling_zero(lambda x: visual_behind(bare, shifts, x, along) - wanted, start + least, start + most)
        return np.where(shown, place, otherwise)

    def place(name: str) -> Span:
        bare_at, level = getattr(bare.places, name), getattr(bare.sought, name)
        low, high = bare_at.low[rows], bare_at.high[rows]
        if only and name not in only:
            return Span(low + least, high + most)
        ends = found(low, level.high[rows], low + least)
        return Span(ends, ends if np.all(low == high) else found(high, level.low[rows], high + most))

    return Marks.of(place)


def shows_index(bare: BareStrip, shifts: FloatArray) -> bool:
    """Return True if the strip shows what the eye sees where a filter puts the points that the index is found from.

    Args:
        bare: the strip.
        shifts: density of the filter to each layer, (r, 3) [density]; the estimate decides.
    """
    if bare.eye.kind == "negative":
        return True
    one = shifts[:1]
    at = _places_behind(bare, one, along_estimate)
    heavy = [(i, layer) for i, layer in enumerate(bare.layers) if EYE[i] >= _HEAVY]

    def opened(span: Span) -> Span:
        low, high = span.low, span.high
        for i, layer in heavy:
            off = [np.logical_not(on_strip(layer, end - one[:, i])) for end in (low, high)]
            low = np.where(off[0] & (low - one[:, i] < layer.grid[0]), -np.inf, low)
            high = np.where(off[1] & (high - one[:, i] > layer.grid[-1]), np.inf, high)
        return Span(low, high)

    return decide(index_requests(bare, Marks.of(lambda name: opened(getattr(at, name))), 0)).grey.shown
