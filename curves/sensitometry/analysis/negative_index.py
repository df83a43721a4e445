"""The working exposure index of a negative strip, from the speed point: where its shadows begin."""

from __future__ import annotations

import math
from collections.abc import Mapping

from curves.sensitometry.analysis.slide import placements
from curves.sensitometry.brackets.by_eye import WithJudgements
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, Channel, exact_ei, nominal_speed
from curves.sensitometry.measures.points import SPEED_NET, Location
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Criterion, WorkingEI

SPEED_CONSTANT = 0.8
"""Speed times the exposure of the speed point: ISO 6 [lux-seconds]."""


def speed_placement(metering: Metering) -> float:
    """Return the place of the speed point against metered mid-grey, the meter set to the film's speed [log10].

    S = 0.8 / Hm (ISO 6) and H = k / EI put it log10(0.8 / k) beyond mid-grey.
    """
    return math.log10(SPEED_CONSTANT / metering.exposure)


def tones(point: Location, ensemble: Ensemble, metering: Metering, choices: Choices) -> dict[str, Criterion]:
    """Return the index that each scene tone asks for: speed point, shadow.

    Args:
        point: the speed point of the channel that decides.
        ensemble: its curve.
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie.
    """
    return {
        "speed point": Criterion(
            scaled_power(
                point,
                ensemble,
                metering.index_at_zero,
                speed_placement(metering),
                error=ensemble.meter_error + ensemble.speed_error,
            ),
            point.quantity,
            f"the speed point, Dmin + {SPEED_NET:.2f}, lies where the film's speed puts it,"
            f" {-speed_placement(metering) / STOP:.1f} stops below mid-grey",
        ),
        "shadow": Criterion(
            scaled_power(point, ensemble, metering.index_at_zero, choices.shadow, error=ensemble.tone_error),
            point.quantity,
            "the textured shadow, three stops below mid-grey, lands on the speed point: the highest index",
        ),
    }


def working_ei(
    subjects: Mapping[Channel, ChannelCurves], metering: Metering, choices: Choices, by_eye: WithJudgements
) -> WorkingEI:
    """Return the exposure index to set for a negative strip.

    Visual density decides where it was read; else the layer that starts last, since its shadows are lost first.

    Args:
        subjects: the channels.
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie.
        by_eye: adds the judgements of frames to an index.
    """
    channel = _slowest({c: subject.speed_point for c, subject in subjects.items()})
    judged = subjects[channel]
    criteria = tones(judged.speed_point, judged.ensemble, metering, choices)
    highest = criteria["shadow"].ei
    chosen, told = by_eye(criteria["speed point"].ei, judged.ensemble)
    what = "visual density" if channel == "visual" else f"the {channel} layer, which starts last,"
    advice = [] if chosen.value is not None else [f"The strip did not reach far enough: {chosen.why}."]
    nominal = None if chosen.value is None else nominal_speed(chosen.value)
    return WorkingEI(
        recommended=chosen,
        nominal=nominal,
        range=(chosen, highest),
        range_why=(
            "a lower index exposes more than the shadows need: it costs speed and grain, seldom the picture",
            "above it, the textured shadow falls below the speed point",
        )
        if highest.value is not None
        else (f"not known: {chosen.why}", f"not known: {highest.why}"),
        basis="speed point",
        reason=f"Shadows begin where {what} has risen {SPEED_NET:.2f} above base plus fog; the meter is set so that"
        " they get that exposure.",
        criteria=criteria,
        channel=channel,
        placements={} if nominal is None else placements(judged, float(exact_ei(nominal)), metering, choices),
        advice=tuple(advice),
        by_eye=told,
    )


def _slowest(points: Mapping[Channel, Location]) -> Channel:
    if "visual" in points:
        return "visual"
    lost = [c for c, point in points.items() if point.quantity.value is None]
    return lost[0] if lost else max(points, key=lambda c: float(points[c].rows[0]))
