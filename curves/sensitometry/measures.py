"""The table of measures: the one place where a number that describes a curve is named, explained and computed.

Terminal, page, JSON and explanations all read it; a new measure is a new row.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from curves.sensitometry import contrast, points
from curves.sensitometry.budget import Ensemble
from curves.sensitometry.choices import Choices
from curves.sensitometry.points import Extreme
from curves.sensitometry.quantity import Quantity


@dataclass(frozen=True, eq=False)
class Subject:
    """What a measure may be computed from: one channel's curves, its Dmin and Dmax, and the choices."""

    ensemble: Ensemble
    dmin: Extreme
    dmax: Extreme
    choices: Choices


@dataclass(frozen=True)
class Measure:
    """One row of the table.

    Attributes:
        key: name in JSON.
        label: name a person reads.
        unit: unit in words; empty for a plain number.
        digits: decimals shown when the uncertainty does not say otherwise.
        what: what it is, one sentence.
        compute: from a subject to a quantity.
    """

    key: str
    label: str
    unit: str
    digits: int
    what: str
    compute: Callable[[Subject], Quantity]


def _average_gradient(subject: Subject) -> Quantity:
    if subject.ensemble.kind == "reversal":
        return contrast.average_gradient(subject.ensemble, subject.dmin, net=(0.20, 2.00))
    return contrast.average_gradient(subject.ensemble, subject.dmin, interval=1.30)


def _range_stops(subject: Subject) -> Quantity:
    choices = subject.choices
    thin = choices.detail_ends if subject.ensemble.kind == "reversal" else 0.10
    return contrast.range_stops(subject.ensemble, subject.dmin, subject.dmax, thin, choices.texture_ends)


MEASURES: tuple[Measure, ...] = (
    Measure("dmin", "Dmin", "density", 2, "The lowest density the process gives.", lambda s: s.dmin.quantity),
    Measure("dmax", "Dmax", "density", 2, "The highest density the process gives.", lambda s: s.dmax.quantity),
    Measure(
        "base",
        "Base",
        "density",
        2,
        "Density of the support with no image and no fog.",
        lambda s: points.base(s.ensemble),
    ),
    Measure(
        "veil",
        "Veil",
        "density",
        2,
        "Dmin less base: what keeps a highlight from clearing to the base.",
        lambda s: points.veil(s.ensemble, s.dmin),
    ),
    Measure(
        "gamma",
        "Gamma",
        "",
        2,
        "Slope of the straight-line part: the longest exposure interval whose gradient is at least 90 % of the"
        " greatest. Positive for both kinds.",
        lambda s: contrast.gamma(s.ensemble),
    ),
    Measure(
        "average_gradient",
        "Average gradient",
        "",
        2,
        "Slope of a chord: between net densities 0.20 and 2.00 for a reversal, over 1.30 log H from the speed point"
        " for a negative.",
        _average_gradient,
    ),
    Measure(
        "contrast_index",
        "Contrast index",
        "",
        2,
        "Slope of the line that meets the curve at radii 0.2 and 2.2 from an origin on the base-plus-fog line.",
        lambda s: contrast.contrast_index(s.ensemble, s.dmin),
    ),
    Measure(
        "range_stops",
        "Range",
        "stops",
        1,
        "Exposure range that keeps tone: from the end of highlight detail to the end of shadow texture.",
        _range_stops,
    ),
)
