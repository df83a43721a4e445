"""The results of an analysis: numbers, and the reason where a number is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import Channel
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.budget import Budget
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.sources import Source

Basis = Literal["highlight", "middle", "mixed", "cleared", "shadow", "grey", "speed point", "eye"]
"""What decided an index: a criterion, a mix of highlight and middle, mid-grey, a negative's speed point, the eye."""

State = Literal["holds", "thin", "dense", "gone", "no texture", "off the strip", "not known"]
"""What becomes of a scene tone at the index to set."""

WIDE = 1.0 / 3.0
"""Distance of the layers at T beyond which the colour of white comes before all else: our own choice [stops]."""

WhiteHolder = Literal["base", "mask", "fog"]
"""What holds the white of a slide back."""


@dataclass(frozen=True)
class Notice:
    """Something the reader must know: a code for machines, a sentence for people."""

    code: str
    message: str
    channel: Channel | None = None
    step: int | None = None


@dataclass(frozen=True)
class StepFinding:
    """One step of one channel.

    Attributes:
        step: number of the step.
        label: what the file called the step.
        log_h: log exposure of the step [log10].
        density: mean of the step's readings [density].
        repeats: number of readings [unitless].
        fitted: density of the curve at the step [density].
        residual: density - fitted [density].
        flag: why the step was set aside, or None.
        remark: what to know of the reading, such as dust on the patch, or None.
    """

    step: int
    label: str
    log_h: float
    density: float
    repeats: int
    fitted: float
    residual: float
    flag: str | None = None
    remark: str | None = None


@dataclass(frozen=True)
class Point:
    """A point on a curve.

    Attributes:
        log_h: log H of the point [log10].
        density: the density that defines the point, or None where that density is itself unknown [density].
        meaning: what the point is, in words.
    """

    log_h: Quantity
    density: float | None
    meaning: str


@dataclass(frozen=True)
class ChannelFinding:
    """One channel: its curve, measures, points and steps.

    Attributes:
        curve: the fitted curve with its interval and draws.
        ensemble: the channel's curves with every error of the strip, row by row. Strips that share a wedge, a reader or
            a light share these errors, so that the difference of two ensembles, row by row, is free of them.
        measures: quantities by the keys of `table.MEASURES` (dmin, dmax, base, veil, gamma, ...).
        points: "T", "S", "M" for a reversal strip; "speed" for a negative one.
        straight: ends of the straight-line part [log10], or None.
        steps: in order of rising step number.
        estimated: True for a visual channel that was computed from the layers, not read.
    """

    channel: Channel
    curve: Curve
    ensemble: Ensemble
    measures: Mapping[str, Quantity]
    points: Mapping[str, Point]
    straight: tuple[float, float] | None
    steps: Sequence[StepFinding]
    estimated: bool

    def __repr__(self) -> str:
        return f"ChannelFinding({self.channel}{', estimated' if self.estimated else ''}, {len(self.steps)} steps)"


@dataclass(frozen=True)
class Speed:
    """A speed by one rule, of a standard or of somebody's own.

    Attributes:
        value: arithmetic speed [unitless].
        nominal, degrees: the same rounded in the log; None for a bound.
        conforms: True only if the strip meets every condition of the standard; None if no standard defines the speed.
        why_not: each condition that the strip does not meet, in words.
        branch: the branch of the rule that fixed the speed, in words.
        channel: the channel that the speed was read from.
        points: the points of the curve that the speed was computed from, by name.
    """

    value: Quantity
    nominal: float | None
    degrees: int | None
    conforms: bool | None
    why_not: tuple[str, ...]
    branch: str
    channel: Channel
    points: Mapping[str, Point]


@dataclass(frozen=True)
class Criterion:
    """The exposure index at which one scene tone lands on its point of the curve.

    Attributes:
        ei: the exposure index [unitless].
        log_h: log H of the point on which the tone lands [log10].
        meaning: the criterion in words.
    """

    ei: Quantity
    log_h: Quantity
    meaning: str


@dataclass(frozen=True)
class BaseState:
    """The clear end of the film, and whether the film clears.

    Attributes:
        base, dmin, veil: [density]; base and veil have a reason where the base was not read.
        clears: True where whites can be judged for the better part, False where not; None where the strip does not show
            it.
        held_by: the cause that holds the white back where the film does not clear fully; None where it does, or where
            nothing tells.
        white_percent: light that the clearest part passes, against an open gate [per cent].
        white_point: the same by channel: what to set white with in a scan [per cent].
        veil_stops: what the veil alone costs in light on the screen [stops].
    """

    base: Quantity
    dmin: Quantity
    veil: Quantity
    clears: bool | None
    white_percent: float | None
    white_point: Mapping[Channel, Quantity]
    veil_stops: float | None
    held_by: WhiteHolder | None = None


@dataclass(frozen=True)
class LayerSpread:
    """The distance between the layers, from each layer's own T and S.

    Attributes:
        t_stops, s_stops: greatest minus least log H of the layers' T and S [stops].
        last_to_clear: the layer whose T needs most exposure, or None.
    """

    t_stops: Quantity
    s_stops: Quantity
    last_to_clear: Channel | None

    @property
    def wide(self) -> bool:
        """True if the layers lie further apart at T than `WIDE`, even at the near end of the interval."""
        q = self.t_stops
        near = q.low if q.value is not None else q.bound[1] if q.bound and q.bound[0] == ">" else None
        return near is not None and near > WIDE


Colour = Literal["neutral", "cyan", "magenta", "yellow", "red", "green", "blue"]
"""The colour of a white in which a layer, or two, still have density; neutral where none stands out."""


@dataclass(frozen=True)
class WhiteCast:
    """The colour of scene white at the index to set, from the layers that still have density there.

    Attributes:
        colours: the colour of the estimate, then others, until they hold 95 % of the draws: a single one is sure.
        net: density of white above each layer's own Dmin [density].
        excess: what each layer has there beyond the thinnest of them [density].
    """

    colours: tuple[Colour, ...]
    net: Mapping[Channel, Quantity]
    excess: Mapping[Channel, Quantity]


@dataclass(frozen=True)
class SceneTime:
    """The exposure time of one scene.

    Attributes:
        metered: time that a meter set to the index asks for [s].
        corrected: time that the film needs [s].
        tested: exposure time of the strip, None if not known [s].
    """

    metered: float
    corrected: Quantity
    tested: float | None


@dataclass(frozen=True)
class Placement:
    """The place of a scene tone on the curve at the index to set.

    Attributes:
        log_h: log H of the tone [log10].
        density, net: density of the tone, and its density above Dmin [density].
        state: whether the tone keeps its detail, in a word.
    """

    log_h: Quantity
    density: Quantity
    net: Quantity
    state: State


@dataclass(frozen=True)
class Trial:
    """The scene at an exposure index of one's own.

    Attributes:
        ei: the index [unitless].
        placements: places of white, grey and shadow at the index.
        lost: by tone, how far the index lies beyond that at which the tone just keeps its detail, white or textured
            shadow; less than 0 where there is as much to spare [stops].
    """

    ei: float
    placements: Mapping[str, Placement]
    lost: Mapping[str, Quantity]


@dataclass(frozen=True)
class Shortfall:
    """The lack of range where a scene is longer than the film: no index keeps both of its ends.

    Attributes:
        stops: the stops that are missing, a bound where the strip does not show both ends [stops].
        ends: the tones at the thin and at the dense end, in words.
        keeps: the index that keeps each; the first is the greater; None where the strip does not show it [unitless].
        lost: the stops of each that the index to set loses, together `stops`; None where not shown [stops].
    """

    stops: Quantity
    ends: tuple[str, str]
    keeps: tuple[float | None, float | None]
    lost: tuple[float | None, float | None]


@dataclass(frozen=True)
class ByEye:
    """The part that frames judged by eye have in an index.

    Attributes:
        frames: number of frames by judgement.
        alone: the index by the judgements alone [unitless].
        without: the index without the judgements; None where no density was read [unitless].
        uncertainty: standard uncertainty of one judgement [stops].
        assumed: True if the record does not give `uncertainty`.
        apart: how far `alone` lies above `without`; None where one of them is not known [stops].
        contradicts: True if the two lie further apart than their uncertainty allows.
        kept: share of the variance of the curve's own place that the judgements leave [unitless].
    """

    frames: Mapping[str, int]
    alone: Quantity
    without: Quantity | None
    uncertainty: float
    assumed: bool
    apart: float | None = None
    contradicts: bool = False
    kept: float = 1.0


@dataclass(frozen=True)
class WorkingEI:
    """The exposure index to set the meter to.

    Attributes:
        recommended: the exposure index before rounding [unitless].
        nominal: the number to set on the meter's dial, or None where there is only a bound.
        range: lowest and highest index worth using, each a bound where the strip does not show it [unitless]; where
            there is a shortfall the first is above the second.
        range_why: for each end of the range, the criterion that set the end, or why the end is unknown.
        basis: the criterion, or the part of the rule, that decided.
        reason: why, in a few sentences a photographer would use.
        criteria: by name: highlight, middle, shadow, cleared (reversal); speed point, shadow (negative).
        channel: the channel that the index comes from.
        highlight_share: share of `highlight` in its mix with `middle` (reversal); None where not known [unitless].
        placements: places of white, grey and shadow at the index to set; empty without an index.
        base: whether the film clears (reversal only).
        layers: spread between the layers (colour only).
        cast: colour of scene white at the index to set (colour reversal only); None without an index.
        shortfall: stops by which the scene is longer than the film; None where the film holds the scene.
        hardly_a_range: True if, within its uncertainty, the range may be empty.
        other_middle: the middle at a second shoulder, where the film has two (reversal only).
        advice: what to do next, each a sentence.
        scene: exposure time of the scene that was asked about, or None.
        trial: the scene at the index that was asked about, or None.
        budget: contribution of each source of error to the recommended index [stops]; None where there is no index.
        by_eye: the part of frames judged by eye in the index; None where no frame was judged.
    """

    recommended: Quantity
    nominal: float | None
    range: tuple[Quantity, Quantity]
    range_why: tuple[str, str]
    basis: Basis
    reason: str
    criteria: Mapping[str, Criterion]
    channel: Channel
    highlight_share: float | None = None
    placements: Mapping[str, Placement] = field(default_factory=dict)
    base: BaseState | None = None
    layers: LayerSpread | None = None
    cast: WhiteCast | None = None
    shortfall: Shortfall | None = None
    hardly_a_range: bool = False
    other_middle: Criterion | None = None
    advice: tuple[str, ...] = ()
    scene: SceneTime | None = None
    trial: Trial | None = None
    budget: Budget | None = None
    by_eye: ByEye | None = None

    def __repr__(self) -> str:
        return f"WorkingEI({'none' if self.nominal is None else f'{self.nominal:g}'}, by the {self.basis})"


@dataclass(frozen=True)
class Analysis:
    """All results of one strip.

    Attributes:
        strip: the strip that was analysed.
        channels: results by channel, in the order red, green, blue, visual.
        speeds: by standard ("iso_2240", ...).
        working_ei: the exposure index to set the meter to.
        metered_exposure: k of H = k / EI, which relates exposure to the meter [lux-seconds]; the strip holds the
            meter's constant where one was stated.
        warnings: notices that the reader must know.
        draws: number of draws behind each interval [unitless].
        settled: True if more draws would not move the intervals' ends in two digits (JCGM 101, 7.9).
        sources: every source of error, with its size and whether the record gives it.
        choices: the choices that the analysis rests on.
    """

    strip: Strip
    channels: Mapping[Channel, ChannelFinding]
    speeds: Mapping[str, Speed]
    working_ei: WorkingEI
    metered_exposure: float
    draws: int
    warnings: Sequence[Notice] = ()
    settled: bool = False
    sources: tuple[Source, ...] = ()
    choices: Choices = field(default_factory=Choices)

    def __repr__(self) -> str:
        return f"Analysis({self.strip.title!r}, {' '.join(self.channels)}, {self.working_ei!r})"


def shared_sources(analyses: Sequence[Analysis]) -> tuple[Source, ...]:
    """Return the sources of error that all strips share, as the first strip has them."""
    others = [{(s.key, s.belongs_to) for s in a.sources} for a in analyses[1:]]
    return tuple(s for s in analyses[0].sources if all((s.key, s.belongs_to) in other for other in others))
