"""From a strip to everything that can be said of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from curves.errors import StripError
from curves.sensitometry import negative, notices, points, reversal
from curves.sensitometry.budget import Ensemble
from curves.sensitometry.choices import Choices
from curves.sensitometry.curve import Curve, fit_curve
from curves.sensitometry.findings import Analysis, ChannelFinding, Point, SceneTime, Speed, StepFinding, WorkingEI
from curves.sensitometry.measures import Subject, measures_of
from curves.sensitometry.negative_speed import fractional_gradient, iso_6, iso_5800
from curves.sensitometry.points import Reached
from curves.sensitometry.quantity import Quantity
from curves.sensitometry.reciprocity import scene_time
from curves.sensitometry.speed import T_NET, Reference, iso_2240
from curves.sensitometry.strip import Strip
from curves.sensitometry.suspicion import suspicions
from curves.sensitometry.units import CHANNELS, LAYERS, Channel, FloatArray, visual_density

_CONTRADICTION = 0.30
"""Mean density change against the declared kind, from one half of the strip to the other, that refutes it."""


def analyse(strip: Strip, choices: Choices | None = None) -> Analysis:
    """Find everything that can be said of one strip.

    Args:
        strip: the strip, as loaded or built.
        choices: where scene tones lie, and how many draws; the defaults are common practice.

    Returns:
        Curves, measures, points, speeds and the working exposure index, each number with its 95 % interval or the
        reason it has none. Intervals carry the scatter of the readings.

    Raises:
        StripError: too few steps were read, or the readings contradict the declared kind.
    """
    choices = choices or Choices()
    channels = {c: _Channel.of(strip, c, choices) for c in CHANNELS if _can_be_had(strip, c)}
    mid_grey_ei = choices.metered_exposure if strip.exposure.ei is None else strip.exposure.ei
    found = {c: channel.finding(strip) for c, channel in channels.items()}
    if strip.kind == "reversal":
        speeds, ei = _reversal(strip, channels, mid_grey_ei, choices)
    else:
        speeds, ei = _negative(strip, channels, mid_grey_ei, choices)
    if choices.scene_seconds is not None:
        ei = replace(ei, scene=_scene(strip, choices.scene_seconds))
    return Analysis(
        strip=strip,
        channels=found,
        speeds=speeds,
        working_ei=ei,
        metered_exposure=choices.metered_exposure,
        warnings=(*suspicions(strip), *notices.notices(strip, found, ei)),
    )


def _can_be_had(strip: Strip, channel: Channel) -> bool:
    """Return True for a channel that was read, and for visual density where all three layers of a slide were."""
    if channel in strip.readings:
        return bool(np.isfinite(strip.readings[channel]).any())
    return channel == "visual" and strip.kind == "reversal" and all(c in strip.readings for c in LAYERS)


@dataclass(frozen=True, eq=False)
class _Channel:
    """One channel on its way: fitted, not yet judged."""

    curve: Curve
    subject: Subject

    @classmethod
    def of(cls, strip: Strip, channel: Channel, choices: Choices) -> _Channel:
        """Fit one channel of a strip."""
        readings = strip.readings.get(channel)
        estimated = readings is None
        if readings is None:
            readings = visual_density(*(strip.readings[c] for c in LAYERS))
        _refuse_contradiction(strip, channel, readings)
        try:
            curve = fit_curve(
                strip.log_h,
                readings,
                kind=strip.kind,
                repeatability=strip.repeatability,
                draws=choices.draws,
                seed=100 * choices.seed + CHANNELS.index(channel),
            )
        except StripError as error:
            raise StripError(error.what, where=f"{strip.title}, {channel}", needed=error.needed) from error
        ensemble = Ensemble.of(
            curve,
            channel,
            _patches(strip, channel),
            repeatability=strip.repeatability,
            estimated=estimated,
            seed=choices.seed,
        )
        return cls(curve, Subject(ensemble, points.dmin(ensemble), points.dmax(ensemble), choices))

    @cached_property
    def speed_point(self) -> Reached:
        """The speed point of a negative curve."""
        return negative.speed_point(self.subject.ensemble, self.subject.dmin)

    def finding(self, strip: Strip) -> ChannelFinding:
        """Return what is shown of the channel."""
        subject, line = self.subject, self.subject.line
        return ChannelFinding(
            channel=subject.ensemble.channel,
            curve=self.curve,
            measures={m.key: m.compute(subject) for m in measures_of(strip.kind)},
            points=self._points(),
            straight=(float(line.start[0]), float(line.end[0])),
            steps=_steps(strip, self.curve),
            estimated=subject.ensemble.estimated,
        )

    def _points(self) -> dict[str, Point]:
        dmin = self.subject.dmin
        base = float(dmin.rows[0]) if dmin.reached else None
        if self.subject.ensemble.kind == "negative":
            speed = self.speed_point
            level = None if base is None else base + negative.SPEED_NET
            return {"speed": Point(speed.quantity, level, f"the speed point, Dmin + {negative.SPEED_NET:.2f}")}
        found = self.subject.points
        s_density = None if base is None or found.s.quantity.value is None else float(found.s_density[0])
        middle = found.m.quantity.value
        return {
            "T": Point(found.t.quantity, None if base is None else base + T_NET, f"highlight, Dmin + {T_NET:.2f}"),
            "S": Point(found.s.quantity, s_density, f"shadow: {found.branch}"),
            "M": Point(
                found.m.quantity,
                None if middle is None else float(self.curve.density_at(middle)),
                "the middle, halfway between T and S in log H",
            ),
        }


def _refuse_contradiction(strip: Strip, channel: Channel, readings: FloatArray) -> None:
    """Raise StripError if density plainly moves against the declared kind."""
    read = np.isfinite(readings)
    if not read.any():
        return
    dark = strip.log_h[read] <= np.median(strip.log_h[read])
    change = float(readings[read][~dark].mean() - readings[read][dark].mean()) if (~dark).any() else 0.0
    rises = change > 0
    if abs(change) > _CONTRADICTION and rises != (strip.kind == "negative"):
        other = "negative" if rises else "reversal"
        raise StripError(
            f"the record says {strip.kind}, but {channel} density {'rises' if rises else 'falls'} with exposure",
            where=strip.title,
            needed=f'kind = "{other}", or readings in the order of the wedge, step 1 at its clear end',
            hint="check the kind, and whether the strip was read from its other end",
        )


def _patches(strip: Strip, channel: Channel) -> dict[str, float]:
    """Return the densities of the patches in one channel; visual is estimated where only the layers were read."""
    found = {}
    for name in ("base", "unexposed", "fully_exposed"):
        patch: Mapping[Channel, float] = getattr(strip.patches, name)
        if channel in patch:
            found[name] = patch[channel]
        elif channel == "visual" and channel not in strip.readings and all(c in patch for c in LAYERS):
            found[name] = float(visual_density(*(patch[c] for c in LAYERS)))
    return found


def _steps(strip: Strip, curve: Curve) -> tuple[StepFinding, ...]:
    """Return the channel's steps by rising step number."""
    steps = []
    for i, log_h in enumerate(curve.log_h):
        row = int(np.abs(strip.log_h - log_h).argmin())
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
            )
        )
    return tuple(sorted(steps, key=lambda s: s.step))


def _reversal(
    strip: Strip, channels: Mapping[Channel, _Channel], mid_grey_ei: float, choices: Choices
) -> tuple[dict[str, Speed], WorkingEI]:
    judged = {c: x.subject for c, x in channels.items()}
    eye = judged[_eye(channels)]
    layers = {c: found for c, found in judged.items() if c in LAYERS}
    speed = iso_2240(eye.ensemble, eye.dmin, strip.density, _reference(strip, mid_grey_ei, choices))
    return {"iso_2240": speed}, reversal.working_ei(eye, layers, mid_grey_ei, choices)


def _negative(
    strip: Strip, channels: Mapping[Channel, _Channel], mid_grey_ei: float, choices: Choices
) -> tuple[dict[str, Speed], WorkingEI]:
    points = {c: x.speed_point for c, x in channels.items()}
    reference = _reference(strip, mid_grey_ei, choices)
    speeds: dict[str, Speed] = {}
    if all(c in channels for c in LAYERS):
        layers = {c: (channels[c].subject.ensemble, channels[c].subject.dmin) for c in LAYERS}
        speeds["iso_5800"] = iso_5800(layers, strip.density, reference)
    else:
        eye = channels[_eye(channels)].subject
        for name, rule in (("iso_6", iso_6), ("fractional_gradient", fractional_gradient)):
            speeds[name] = rule(eye.ensemble, eye.dmin, strip.density, reference)
    return speeds, negative.working_ei(points, mid_grey_ei, choices)


def _reference(strip: Strip, mid_grey_ei: float, choices: Choices) -> Reference:
    """Return what log H counts from, and what a standard would say of it."""
    return Reference(
        zero=choices.metered_exposure / mid_grey_ei,
        relative=strip.log_h_unit != "lux-seconds",
        seconds=strip.exposure.seconds,
        converted=strip.callier is not None,
    )


def _scene(strip: Strip, seconds: float) -> SceneTime:
    """Return how long to expose a scene metered at ``seconds``."""
    tested = strip.exposure.seconds
    if strip.reciprocity is None:
        missing = Quantity.missing(
            "the record holds no law of reciprocity: give [exposure] schwarzschild, or reciprocity, a table of times"
        )
        return SceneTime(seconds, missing, tested)
    return SceneTime(seconds, scene_time(strip.reciprocity, seconds, tested), tested)


def _eye(channels: Mapping[Channel, _Channel]) -> Channel:
    """Return the channel nearest to what the eye sees: visual, else green, else whatever there is."""
    order: tuple[Channel, ...] = ("visual", "green", "red", "blue")
    return next(c for c in order if c in channels)
