"""The tables of measures and of speeds: the one place where a number has its name, its meaning and its function.

Terminal, page, JSON and glossary read both tables; a new measure or a new speed is a new row.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import KINDS, LAYERS, Channel, DensityKind, Kind, eye_channel
from curves.sensitometry.measures import contrast, points, speeds
from curves.sensitometry.measures.contrast import StraightLine, straight_line
from curves.sensitometry.measures.points import Extreme, Location, speed_point
from curves.sensitometry.measures.reversal_points import ReversalPoints, reversal_points
from curves.sensitometry.measures.speeds import LogHOrigin
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Speed


@dataclass(frozen=True, eq=False)
class ChannelCurves:
    """One channel as a measure needs it: the channel's curves, Dmin and Dmax, and the choices."""

    ensemble: Ensemble
    dmin: Extreme
    dmax: Extreme
    choices: Choices

    @cached_property
    def line(self) -> StraightLine:
        """The straight-line part."""
        return straight_line(self.ensemble)

    @cached_property
    def points(self) -> ReversalPoints:
        """T, S and M of a reversal curve."""
        return reversal_points(self.ensemble, self.dmin, self.dmax)

    @cached_property
    def speed_point(self) -> Location:
        """The speed point of a negative curve."""
        return speed_point(self.ensemble, self.dmin)

    @property
    def highlight(self) -> float:
        """Net density at the thin end of reproduction: where a highlight, or a negative's shadow, begins [density]."""
        return self.choices.detail_ends if self.ensemble.kind == "reversal" else 0.10


@dataclass(frozen=True)
class Measure:
    """One row of the table.

    Attributes:
        key: name in JSON.
        label: name that a person reads.
        unit: unit in words; empty for a plain number.
        digits: decimals shown when there is no uncertainty to decide.
        what: definition, one sentence.
        compute: function from a channel to the quantity.
        kinds: the kinds of strip that have the measure.
    """

    key: str
    label: str
    unit: str
    digits: int
    what: str
    compute: Callable[[ChannelCurves], Quantity]
    kinds: tuple[Kind, ...] = KINDS


def _average_gradient(subject: ChannelCurves) -> Quantity:
    if subject.ensemble.kind == "reversal":
        return contrast.average_gradient(subject.ensemble, subject.dmin, net=(0.20, 2.00))
    return contrast.average_gradient(subject.ensemble, subject.dmin, interval=1.30)


def _range_stops(subject: ChannelCurves) -> Quantity:
    share = subject.choices.texture_ends
    return contrast.range_stops(subject.ensemble, subject.dmin, subject.dmax, subject.highlight, share)


def _tone(tones: str, name: str, point: Callable[[ReversalPoints], Location]) -> Measure:
    """Return the measure of a reversal curve's gradient in one range of tones."""
    words = tones.replace("_", "-")
    return Measure(
        f"gradient_{tones}",
        f"Gradient, {words}",
        "",
        2,
        f"Slope of the curve over the stop about {name}: the contrast that the eye sees in {words}.",
        lambda s: contrast.gradient_about(s.ensemble, point(s.points), name),
        ("reversal",),
    )


MEASURES: tuple[Measure, ...] = (
    Measure("dmin", "Dmin", "density", 2, "The lowest density the process gives.", lambda s: s.dmin.quantity),
    Measure("dmax", "Dmax", "density", 2, "The highest density the process gives.", lambda s: s.dmax.quantity),
    Measure(
        "dmax_reached",
        "Dmax reached",
        "density",
        2,
        "The highest density on the strip itself, whether or not the curve has flattened there.",
        lambda s: contrast.densest(s.ensemble),
    ),
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
        "Slope of the straight-line part: the longest exposure interval whose gradient, averaged over two stops, is at"
        " least 90 % of the greatest. Positive for both kinds.",
        lambda s: contrast.gamma(s.ensemble, s.line),
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
        "average_gradient_net",
        "Average gradient, net",
        "",
        2,
        "Slope of the chord between net densities 0.25 and 2.00, as radiography has it.",
        lambda s: contrast.average_gradient(s.ensemble, s.dmin, net=(0.25, 2.00)),
        ("negative",),
    ),
    Measure(
        "average_gradient_130",
        "Average gradient, 1.30",
        "",
        2,
        "Slope of the chord that spans 1.30 log H from net density 0.10.",
        lambda s: contrast.average_gradient(s.ensemble, s.dmin, interval=1.30),
        ("reversal",),
    ),
    Measure(
        "average_gradient_150",
        "Average gradient, 1.50",
        "",
        2,
        "Slope of the chord that spans 1.50 log H from net density 0.10.",
        lambda s: contrast.average_gradient(s.ensemble, s.dmin, interval=1.50),
    ),
    _tone("highlights", "T", lambda points: points.t),
    _tone("mid_tones", "M", lambda points: points.m),
    _tone("shadows", "S", lambda points: points.s),
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
    Measure(
        "toe_stops",
        "Toe",
        "stops",
        1,
        "Length of the thin end of the curve: from the end of highlight detail to the straight-line part.",
        lambda s: contrast.toe_stops(s.ensemble, s.dmin, s.line, s.highlight),
    ),
    Measure(
        "straight_stops",
        "Straight-line part",
        "stops",
        1,
        "Length of the straight-line part, whose slope is gamma.",
        lambda s: contrast.straight_stops(s.ensemble, s.line),
    ),
    Measure(
        "shoulder_stops",
        "Shoulder",
        "stops",
        1,
        "Length of the dense end of the curve: from the straight-line part to the end of shadow texture.",
        lambda s: contrast.shoulder_stops(s.ensemble, s.dmin, s.dmax, s.line, s.choices.texture_ends),
    ),
)


def measures_of(kind: Kind) -> tuple[Measure, ...]:
    """Return the measures that a strip of ``kind`` has, in the order of the table."""
    return tuple(m for m in MEASURES if kind in m.kinds)


_BY_KEY = {measure.key: measure for measure in MEASURES}


class ChannelMeasures(Mapping[str, Quantity]):
    """The measures of one channel by key, each computed when it is first asked for: an index needs few of them.

    Args:
        curves: the channel.
    """

    def __init__(self, curves: ChannelCurves) -> None:
        self._curves = curves
        self._found: dict[str, Quantity] = {}

    def __getitem__(self, key: str) -> Quantity:
        """Return a measure; KeyError if the kind of strip does not have it."""
        if key not in self._found:
            measure = _BY_KEY[key]
            if self._curves.ensemble.kind not in measure.kinds:
                raise KeyError(key)
            self._found[key] = measure.compute(self._curves)
        return self._found[key]

    def __iter__(self) -> Iterator[str]:
        return (measure.key for measure in measures_of(self._curves.ensemble.kind))

    def __len__(self) -> int:
        return len(measures_of(self._curves.ensemble.kind))

    def __repr__(self) -> str:
        return repr(dict(self))

    def __getstate__(self) -> dict[str, object]:
        """Return the measures to take to another process: they are computed here, where the work was sent."""
        return {"_curves": self._curves, "_found": dict(self)}


@dataclass(frozen=True)
class SpeedRule:
    """One row of the table of speeds.

    Attributes:
        key: name in JSON.
        label: name that a person reads.
        kind: the kind of strip that has the speed.
        compute: function from the channels, the kind of density that was read and the origin of log H to the speed.
        colour: True if the rule takes all three layers, False if it is for a strip without them, None if for both.
    """

    key: str
    label: str
    kind: Kind
    compute: Callable[[Mapping[Channel, ChannelCurves], DensityKind, LogHOrigin], Speed]
    colour: bool | None = None


def _of_eye(rule: Callable[[Ensemble, Extreme, DensityKind, LogHOrigin], Speed]) -> Callable[..., Speed]:
    """Return a rule for one curve as a rule for a strip: applied to the channel nearest to what the eye sees."""

    def compute(subjects: Mapping[Channel, ChannelCurves], density: DensityKind, origin: LogHOrigin) -> Speed:
        eye = subjects[eye_channel(subjects)]
        return rule(eye.ensemble, eye.dmin, density, origin)

    return compute


def _of_layers(
    rule: Callable[[Mapping[Channel, tuple[Ensemble, Extreme]], DensityKind, LogHOrigin], Speed],
) -> Callable[..., Speed]:
    """Return a rule for three layers as a rule for a strip."""

    def compute(subjects: Mapping[Channel, ChannelCurves], density: DensityKind, origin: LogHOrigin) -> Speed:
        return rule({c: (subjects[c].ensemble, subjects[c].dmin) for c in LAYERS}, density, origin)

    return compute


def _reversal_speed(subjects: Mapping[Channel, ChannelCurves], density: DensityKind, origin: LogHOrigin) -> Speed:
    """Return the speed of ISO 2240 from the points that the channel nearest to what the eye sees has already."""
    eye = subjects[eye_channel(subjects)]
    return speeds.iso_2240(eye.ensemble, eye.dmin, density, origin, points=eye.points)


SPEEDS: tuple[SpeedRule, ...] = (
    SpeedRule("iso_2240", "ISO 2240", "reversal", _reversal_speed),
    SpeedRule("iso_5800", "ISO 5800", "negative", _of_layers(speeds.iso_5800), colour=True),
    SpeedRule("iso_6", "ISO 6", "negative", _of_eye(speeds.iso_6), colour=False),
    SpeedRule(
        "fractional_gradient", "fractional gradient", "negative", _of_eye(speeds.fractional_gradient), colour=False
    ),
)


def speeds_of(kind: Kind, channels: Collection[Channel]) -> tuple[SpeedRule, ...]:
    """Return the speeds that a strip of ``kind`` with ``channels`` has, in the order of the table."""
    colour = all(c in channels for c in LAYERS)
    return tuple(s for s in SPEEDS if s.kind == kind and s.colour in (None, colour))
