"""From a strip to everything that can be said of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace

import numpy as np

from curves.errors import StripError
from curves.sensitometry.analysis import negative_index, reversal_index
from curves.sensitometry.analysis.channels import ChannelFit, fit_channels, for_meter
from curves.sensitometry.analysis.slide import trial
from curves.sensitometry.brackets.by_eye import analyse_by_eye, contradictions, judgements_of, with_eye
from curves.sensitometry.brackets.evidence import Evidence
from curves.sensitometry.checks import notices
from curves.sensitometry.checks.suspicion import suspicions
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.lazy_tuple import LazyTuple
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.streams import BLOCK
from curves.sensitometry.core.units import LAYERS, Channel, eye_channel
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.measures import points
from curves.sensitometry.measures.reversal_points import T_NET
from curves.sensitometry.measures.speeds import LogHOrigin
from curves.sensitometry.measures.table import ChannelCurves, ChannelMeasures, measures_of, speeds_of
from curves.sensitometry.strip.exposure import NO_ORIGIN, Contact
from curves.sensitometry.strip.reciprocity import scene_time
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.budget import Budget, budgets
from curves.sensitometry.uncertainty.intervals import needed_draws
from curves.sensitometry.uncertainty.results import (
    Analysis,
    ChannelFinding,
    Point,
    SceneTime,
    Speed,
    StepFinding,
    WorkingEI,
)
from curves.sensitometry.uncertainty.sources import EYE, Errors

BUDGET_DRAWS = 500
"""Draws of each source alone: enough for its size to two digits [unitless]."""

Subjects = Mapping[Channel, ChannelCurves]


def analyse(strip: Strip, choices: Choices | None = None) -> Analysis:
    """Find everything that can be said of one strip.

    Args:
        strip: the strip, as loaded or built.
        choices: where scene tones lie, and how many draws; the defaults are common practice.

    Returns:
        Curves, measures, points, speeds and the working exposure index, each number with its 95 % interval or the
        reason it has none. Intervals carry every source of error, given or assumed, and the index has a budget of them.

    Raises:
        StripError: too few steps were read, or the readings contradict the declared kind.
    """
    choices = choices or Choices()
    strip = for_meter(strip, choices)
    if not strip.readings:
        raise StripError(
            "the frames were judged by eye, and no density was read",
            where=strip.title,
            needed="densities of the frames; the judgements alone give an index, and nothing else",
        )
    fitted = fit_channels(strip)
    errors = Errors.of(strip, choices.draws, choices.seed)
    subjects = _channel_curves(fitted, errors, choices)
    # Draws are added once, as many as the scatter of the ends asks for.
    times = _needed(subjects)
    most = max(choices.most_draws, choices.draws)
    if times > 1.0 and errors.count < most:
        errors = replace(errors, count=min(math.ceil(times * errors.count / BLOCK) * BLOCK, most))
        subjects = _channel_curves(fitted, errors, choices)
        times = _needed(subjects)
    ei = _working_ei(strip, subjects, choices)
    found = {c: _finding(strip, fitted[c].curve, subject) for c, subject in subjects.items()}
    return Analysis(
        strip=strip,
        channels=found,
        speeds=_speeds(strip, subjects),
        working_ei=replace(ei, budget=_budget(strip, fitted, ei, errors, choices)),
        metered_exposure=strip.metering.exposure,
        warnings=LazyTuple(
            lambda: (
                *suspicions(strip),
                *notices.notices(strip, found, ei, errors.sources.values()),
                *contradictions(Evidence.of(strip), ei.by_eye),
            )
        ),
        draws=errors.count,
        settled=errors.count > 0 and times <= 1.0,
        sources=tuple(errors.sources.values()),
        choices=choices,
    )


def analyse_for_index(strip: Strip, choices: Choices | None = None) -> Analysis:
    """Find what an index rests on: all of a strip that was read, or the judgements of frames that were not.

    Args:
        strip: the strip.
        choices: as for `analyse`.

    Raises:
        StripError: as for `analyse`.
    """
    choices = choices or Choices()
    strip = for_meter(strip, choices)
    return analyse(strip, choices) if strip.readings else analyse_by_eye(strip, choices)


def analyse_alone(strip: Strip, sources: Collection[str], choices: Choices) -> Analysis:
    """Return the analysis of a strip with only some of its sources of error drawn, the others held at zero.

    Args:
        strip: the strip.
        sources: keys of the sources that are drawn.
        choices: as for `analyse`; as many draws are made as they begin with.

    Returns:
        The analysis, without warnings and without a budget.
    """
    strip = for_meter(strip, choices)
    fitted = fit_channels(strip)
    errors = Errors.of(strip, choices.draws, choices.seed).only(*sources)
    subjects = _channel_curves(fitted, errors, choices)
    return Analysis(
        strip=strip,
        channels={c: _finding(strip, fitted[c].curve, subject) for c, subject in subjects.items()},
        speeds=_speeds(strip, subjects),
        working_ei=_working_ei(strip, subjects, choices),
        metered_exposure=strip.metering.exposure,
        draws=errors.count,
        sources=tuple(errors.sources.values()),
        choices=choices,
    )


def measure_budgets(strip: Strip, name: str, choices: Choices | None = None) -> dict[str, Budget]:
    """Return the budget of a number, the contribution of each source of error, for every channel that has the number.

    Args:
        strip: the strip.
        name: key of a measure ("gamma"), a point ("T"), a speed ("iso_2240"), or "ei".
        choices: as for `analyse`.

    Returns:
        By channel; none for a number that has no value. Indexes and speeds are budgeted in stops.

    Raises:
        KeyError: there is no such number for this kind of strip.
    """
    choices = choices or Choices()
    strip = for_meter(strip, choices)
    fitted = fit_channels(strip)
    errors = Errors.of(strip, choices.draws, choices.seed)
    if name == "ei":
        ei = _working_ei(strip, _channel_curves(fitted, errors, choices), choices)
        budget = _budget(strip, fitted, ei, errors, choices)
        return {} if budget is None else {ei.channel: budget}
    if name in [rule.key for rule in speeds_of(strip.kind, strip.readings)]:

        def speed(drawn: Errors) -> dict[str, Quantity]:
            found = _speeds(strip, _channel_curves(fitted, drawn, choices))[name]
            return {found.channel: found.value}

        return budgets(errors, speed, in_stops, "stops")
    of_subject, unit = _number(strip, name)

    def number(drawn: Errors) -> dict[str, Quantity]:
        return {c: of_subject(subject) for c, subject in _channel_curves(fitted, drawn, choices).items()}

    return budgets(errors, number, lambda q: q.u or 0.0, unit)


def budget_names(strip: Strip) -> list[str]:
    """Return the names of all numbers that `measure_budgets` knows for a strip."""
    points = ["T", "S", "M"] if strip.kind == "reversal" else ["speed"]
    return [
        "ei",
        *(rule.key for rule in speeds_of(strip.kind, strip.readings)),
        *points,
        *(m.key for m in measures_of(strip.kind)),
    ]


def in_stops(q: Quantity) -> float:
    """Return the standard uncertainty of an index or a speed in stops."""
    return 0.0 if not q.value or q.u is None else q.u / (q.value * math.log(2.0))


def _number(strip: Strip, name: str) -> tuple[Callable[[ChannelCurves], Quantity], str]:
    """Return the function that computes a measure or a point from a channel, and its unit."""
    for measure in measures_of(strip.kind):
        if measure.key == name:
            return measure.compute, measure.unit
    if strip.kind == "reversal" and name in ("T", "S", "M"):
        return lambda subject: getattr(subject.points, name.lower()).quantity, "log H"
    if strip.kind == "negative" and name == "speed":
        return lambda subject: subject.speed_point.quantity, "log H"
    raise KeyError(name)


def _channel_curves(
    fitted: Mapping[Channel, ChannelFit], errors: Errors, choices: Choices
) -> dict[Channel, ChannelCurves]:
    return {c: channel.with_errors(errors, choices) for c, channel in fitted.items()}


def _needed(subjects: Subjects) -> float:
    """Return the factor of draws that the deciding channel needs; at most 1 where intervals are settled or missing."""
    eye = subjects[eye_channel(subjects)]
    ensemble = eye.ensemble
    if len(ensemble.density) == 1:
        return 1.0
    reached = [eye.points.t, eye.points.m] if ensemble.kind == "reversal" else [eye.speed_point]
    rows = [p.rows + ensemble.log_h_error + ensemble.meter_error for p in reached if p.quantity.value is not None]
    rows.append(eye.dmin.rows + ensemble.level_error)
    return max(needed_draws(r) for r in rows)


def _finding(strip: Strip, curve: Curve, subject: ChannelCurves) -> ChannelFinding:
    """Return the results of one channel."""
    ensemble, line = subject.ensemble, subject.line
    drawn = replace(curve, draws=ensemble.density[1:], gradient_draws=ensemble.gradient[1:])
    return ChannelFinding(
        channel=ensemble.channel,
        curve=drawn,
        ensemble=ensemble,
        measures=ChannelMeasures(subject),
        points=_points(curve, subject),
        straight=(float(line.start[0]), float(line.end[0])),
        steps=LazyTuple(lambda: _steps(strip, curve, ensemble.channel)),
        estimated=ensemble.estimated,
    )


def _points(curve: Curve, subject: ChannelCurves) -> dict[str, Point]:
    base = float(subject.dmin.rows[0]) if subject.dmin.reached else None
    if subject.ensemble.kind == "negative":
        level = None if base is None else base + points.SPEED_NET
        meaning = f"the speed point, Dmin + {points.SPEED_NET:.2f}"
        return {"speed": Point(subject.speed_point.quantity, level, meaning)}
    found = subject.points
    s_density = None if base is None or found.s.quantity.value is None else float(found.s_density[0])
    middle = found.m.quantity.value
    return {
        "T": Point(found.t.quantity, None if base is None else base + T_NET, f"highlight, Dmin + {T_NET:.2f}"),
        "S": Point(found.s.quantity, s_density, f"shadow: {found.branch}"),
        "M": Point(
            found.m.quantity,
            None if middle is None else float(curve.density_at(middle)),
            "the middle, halfway between T and S in log H",
        ),
    }


def _steps(strip: Strip, curve: Curve, channel: Channel) -> tuple[StepFinding, ...]:
    """Return the channel's steps by rising step number."""
    steps = []
    row_of_step = np.abs(strip.log_h - curve.log_h[:, None]).argmin(axis=1).tolist()
    for i, (row, log_h) in enumerate(zip(row_of_step, curve.log_h, strict=True)):
        steps.append(
            StepFinding(
                step=int(strip.step_of_row[row]),
                label=strip.labels[row],
                log_h=float(log_h),
                density=float(curve.density[i]),
                repeats=int(curve.repeats[i]),
                fitted=float(curve.fitted[i]),
                residual=float(curve.residual[i]),
                flag=curve.flags[i],
                remark=None if strip.scan is None else strip.scan.notes(row + 1, channel),
            )
        )
    return tuple(sorted(steps, key=lambda s: s.step))


def _working_ei(strip: Strip, subjects: Subjects, choices: Choices) -> WorkingEI:
    judged = judgements_of(strip, choices.seed)
    if strip.kind == "reversal":
        layers = {c: subject for c, subject in subjects.items() if c in LAYERS}
        ei = reversal_index.working_ei(subjects[eye_channel(subjects)], layers, strip.metering, choices, judged)
    else:
        ei = negative_index.working_ei(subjects, strip.metering, choices, judged)
    if choices.at is not None and strip.log_h_unit != "relative":
        ei = replace(ei, trial=trial(subjects[ei.channel], ei.criteria, choices.at, strip.metering, choices))
    ei = _without_index(ei, strip) if strip.log_h_unit == "relative" else ei
    return ei if choices.scene_seconds is None else replace(ei, scene=_scene(strip, choices.scene_seconds))


_STATE_ORIGIN = (
    'State what log H counts from ([exposure] log_h): "lux-seconds" where the exposures were measured, or'
    ' "metered grey" with the index (ei) at which mid-grey was metered.'
)
_ONE_FRAME = (
    "One grey frame would add the index, its range and the speeds: meter a grey card at a known index, photograph it on"
    " this film, process and read it with the strip, and state it ([exposure] grey_frame = { ei = 80, visual = 1.02 })."
    " Or measure the light on the wedge, and its time."
)
"""Advice for a strip whose log H is relative: listed by log H, or exposed under a light that nobody measured."""


def _without_index(ei: WorkingEI, strip: Strip) -> WorkingEI:
    """Return a working index without its numbers: log H counts from an exposure that nobody stated.

    The places of the tones in log H remain, and so does what the film clears to and by how much a scene is too long.
    """
    missing = Quantity.missing(NO_ORIGIN)
    short, other = ei.shortfall, ei.other_middle
    return replace(
        ei,
        recommended=missing,
        nominal=None,
        range=(missing, missing),
        range_why=(f"not known: {NO_ORIGIN}",) * 2,
        reason="Log H of this strip is relative, so no index can be told. The curves, Dmin and Dmax, contrast, the"
        " range and the distance between the layers do not depend on what log H counts from: they hold.",
        criteria={name: replace(criterion, ei=missing) for name, criterion in ei.criteria.items()},
        placements={},
        cast=None,
        shortfall=None if short is None else replace(short, keeps=(None, None), lost=(None, None)),
        other_middle=None if other is None else replace(other, ei=missing),
        advice=(_ONE_FRAME if isinstance(strip.exposure, Contact) else _STATE_ORIGIN,),
    )


def _budget(
    strip: Strip, fitted: Mapping[Channel, ChannelFit], ei: WorkingEI, errors: Errors, choices: Choices
) -> Budget | None:
    """Return the budget of the recommended index, or None where there is none."""
    if ei.recommended.u is None:
        return None

    def index(drawn: Errors) -> dict[str, Quantity]:
        subject = fitted[ei.channel].with_errors(drawn, choices)
        if strip.kind == "reversal":
            return {"ei": reversal_index.recommended(subject, strip.metering, choices)}
        tones = negative_index.tones(subject.speed_point, subject.ensemble, strip.metering, choices)
        return {"ei": tones["speed point"].ei}

    found = budgets(replace(errors, count=min(errors.count, BUDGET_DRAWS)), index, in_stops, "stops").get("ei")
    return None if found is None else with_eye(found, ei.by_eye, errors.sources.get(EYE), ei.recommended)


def _speeds(strip: Strip, subjects: Subjects) -> dict[str, Speed]:
    """Return the speeds that the kind of strip has, by the standards' rules."""
    reference = LogHOrigin(
        zero=strip.metering.exposure_at_zero,
        relative=strip.log_h_unit == "relative to metered mid-grey",
        seconds=strip.exposure.seconds,
        converted=strip.callier is not None,
        matched=strip.match is not None,
        unstated=_unstated(strip),
    )
    rules = speeds_of(strip.kind, subjects)
    speeds = {rule.key: rule.compute(subjects, strip.density, reference) for rule in rules}
    if strip.log_h_unit == "relative":
        return {key: _without_number(speed) for key, speed in speeds.items()}
    return speeds


def _without_number(speed: Speed) -> Speed:
    """Return a speed whose points remain, and whose number does not: log H counts from an unstated exposure."""
    why_not = (NO_ORIGIN, *speed.why_not)
    missing = Quantity.missing(NO_ORIGIN)
    return replace(speed, value=missing, nominal=None, degrees=None, conforms=False, why_not=why_not)


def _unstated(strip: Strip) -> tuple[str, ...]:
    """Return each condition that a standard's speed must be stated with and the record does not state."""
    needed = {
        "the light that the strip was exposed by": strip.exposure.light,
        "the process": strip.process,
        "the sample: how many strips stand behind the readings": strip.sample,
    }
    return tuple(what for what, stated in needed.items() if not stated.strip())


def _scene(strip: Strip, seconds: float) -> SceneTime:
    """Return the exposure time of a scene metered at ``seconds``."""
    tested = strip.exposure.seconds
    if strip.reciprocity is None:
        missing = Quantity.missing(
            "the record holds no law of reciprocity: give [exposure] schwarzschild, or reciprocity, a table of times"
        )
        return SceneTime(seconds, missing, tested)
    return SceneTime(seconds, scene_time(strip.reciprocity, seconds, tested), tested)
