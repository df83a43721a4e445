"""The criteria of a reversal strip: the exposure index at which each scene tone lands on its point of the curve."""

from __future__ import annotations

import numpy as np

from curves.sensitometry.analysis.index_rule import STANDARD_EXPOSURE
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.measures.points import Location, cautious, reach
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Criterion


def tones(judged: ChannelCurves, metering: Metering, choices: Choices) -> dict[str, Criterion]:
    """Return the index that each scene tone asks for: highlight, middle, shadow, cleared.

    Args:
        judged: the channel that stands for what the eye sees.
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie.
    """
    ensemble, dmin, found = judged.ensemble, judged.dmin, judged.points
    ends = f"net density {choices.detail_ends:.2f}"
    cleared = reach(ensemble, dmin.rows + choices.detail_ends, dmin, f"the end of highlight detail ({ends})")

    def lays(point: Location, tone: float, meaning: str) -> Criterion:
        shown = _if_shown(point, ensemble)
        ei = scaled_power(shown, ensemble, metering.index_at_zero, tone, error=ensemble.tone_error)
        return Criterion(ei, shown.quantity, meaning)

    return {
        "highlight": lays(found.t, choices.white, "scene white lands on T, Dmin + 0.20"),
        "middle": middle_at(found.m, judged, metering),
        "shadow": lays(
            _texture_end(judged, choices),
            choices.shadow,
            f"the textured shadow lands at {100 * choices.texture_ends:.0f} % of the density range:"
            " the highest index that keeps its texture",
        ),
        "cleared": lays(cleared, choices.white, f"scene white lands where detail ends, {ends}: the lowest index"),
    }


def middle_at(point: Location, judged: ChannelCurves, metering: Metering) -> Criterion:
    """Return the index of ISO 2240's mean of T and S: the standard's speed, whatever the meter's constant."""
    ensemble = judged.ensemble
    error = ensemble.meter_error + ensemble.speed_error
    ei = scaled_power(point, ensemble, STANDARD_EXPOSURE / metering.exposure_at_zero, error=error)
    return Criterion(ei, point.quantity, "metered mid-grey lies where the speed of ISO 2240, from T and S, puts it")


def _if_shown(point: Location, ensemble: Ensemble) -> Location:
    """Return a point, or its bound where more of the draws run off the strip than an interval may leave out."""
    lost = ~np.isfinite(point.rows)
    if point.quantity.value is None or np.count_nonzero(lost) <= ENDS[0] * lost.size:
        return point
    end = ensemble.end_beside(point.rows[0])
    beyond_last = end == ensemble.grid[-1]
    limit = cautious(np.where(lost, end, point.rows) + ensemble.log_h_error, upper=not beyond_last)
    why = f"it lies so near the end of the strip that it may lie beyond: give {ensemble.amount(0.3)}"
    if beyond_last:
        return Location(np.full_like(point.rows, np.nan), Quantity.missing(f"{why} more exposure", above=limit))
    return Location(np.full_like(point.rows, np.nan), Quantity.missing(f"{why} less exposure", below=limit))


def _texture_end(judged: ChannelCurves, choices: Choices) -> Location:
    """Return the end of shadow texture: a share of the density range above Dmin."""
    dmin, dmax = judged.dmin, judged.dmax
    level = dmin.rows + choices.texture_ends * (dmax.rows - dmin.rows)
    if not dmax.reached:
        # A higher Dmax puts the level further up the curve, at less exposure.
        known = reach(judged.ensemble, level, dmin, "the end of shadow texture") if dmin.reached else None
        why = f"the end of shadow texture is counted from Dmax, which is not known: {dmax.quantity.why}"
        if known is None:
            return Location(np.full_like(level, np.nan), Quantity.missing(why))
        rows = np.where(np.isfinite(known.rows), known.rows, judged.ensemble.grid[0]) + judged.ensemble.log_h_error
        return Location(np.full_like(level, np.nan), Quantity.missing(why, below=cautious(rows, upper=True)))
    return reach(judged.ensemble, level, dmin, "the end of shadow texture")
