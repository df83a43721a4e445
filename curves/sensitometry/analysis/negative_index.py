"""The working exposure index of a negative strip, from the speed point: where its shadows begin."""

from __future__ import annotations

import math
from collections.abc import Mapping

from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import Channel, nominal_speed
from curves.sensitometry.measures.points import SPEED_NET, Location
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Criterion, WorkingEI

SPEED_PLACEMENT = math.log10(0.08)
"""Where the speed point lies against metered mid-grey when the meter is set to the film's speed: S = 0.8 / Hm (ISO 6)
and H = 10 / EI (ISO 12232) put it at 0.08 of the mid-grey exposure [log10]."""


def tones(point: Location, ensemble: Ensemble, mid_grey_ei: float, choices: Choices) -> dict[str, Criterion]:
    """Return the index that each scene tone asks for: speed point, shadow.

    Args:
        point: the speed point of the channel that decides.
        ensemble: its curve.
        mid_grey_ei: the index at which metered mid-grey has log H zero (k for an absolute strip).
        choices: where scene tones lie.
    """
    return {
        "speed point": Criterion(
            scaled_power(point, ensemble, mid_grey_ei, SPEED_PLACEMENT, meter=True),
            point.quantity,
            f"the speed point, Dmin + {SPEED_NET:.2f}, lies where the film's speed puts it, 3.6 stops below mid-grey",
        ),
        "shadow": Criterion(
            scaled_power(point, ensemble, mid_grey_ei, choices.shadow, meter=True),
            point.quantity,
            "the textured shadow, three stops below mid-grey, lands on the speed point: the highest index",
        ),
    }


def working_ei(
    points: Mapping[Channel, Location], ensembles: Mapping[Channel, Ensemble], mid_grey_ei: float, choices: Choices
) -> WorkingEI:
    """Return the exposure index to set for a negative strip.

    Visual density decides where it was read; else the layer that starts last, since its shadows are lost first.

    Args:
        points: the speed point of each channel.
        ensembles: its curves.
        mid_grey_ei: the index at which metered mid-grey has log H zero (k for an absolute strip).
        choices: where scene tones lie.
    """
    channel = _slowest(points)
    criteria = tones(points[channel], ensembles[channel], mid_grey_ei, choices)
    chosen, highest = criteria["speed point"].ei, criteria["shadow"].ei
    what = "visual density" if channel == "visual" else f"the {channel} layer, which starts last,"
    advice = [] if chosen.value is not None else [f"The strip did not reach far enough: {chosen.why}."]
    return WorkingEI(
        recommended=chosen,
        nominal=None if chosen.value is None else nominal_speed(chosen.value),
        range=(
            None if chosen.value is None else nominal_speed(chosen.value),
            None if highest.value is None else nominal_speed(highest.value),
        ),
        range_why=(
            "below it, more exposure than the shadows need: it costs speed and grain, seldom the picture",
            "above it, the textured shadow falls below the speed point",
        )
        if highest.value is not None
        else (f"not known: {chosen.why}", f"not known: {highest.why}"),
        basis="speed point",
        deciding="speed point",
        reason=f"Shadows begin where {what} has risen {SPEED_NET:.2f} above base plus fog; the meter is set so that"
        " they get that exposure.",
        criteria=criteria,
        channel=channel,
        advice=tuple(advice),
    )


def _slowest(points: Mapping[Channel, Location]) -> Channel:
    if "visual" in points:
        return "visual"
    lost = [c for c, point in points.items() if point.quantity.value is None]
    return lost[0] if lost else max(points, key=lambda c: float(points[c].rows[0]))
