"""The numbers of a strip from which the page's script places a scene on the curves at any index.

The script places and shifts; it computes no number of its own. The curve, the reach of its interval, the limits and
the ends of detail and texture are the program's, and the script says of every index what `slide.trial` says of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from curves.sensitometry.analysis import criteria, negative_index
from curves.sensitometry.analysis.index_rule import GREY_DENSE, GREY_THIN, possible_dmins
from curves.sensitometry.analysis.slide import THIN_WHITE, trial
from curves.sensitometry.core.quantity import ENDS, Quantity
from curves.sensitometry.core.rows import along_rows
from curves.sensitometry.core.units import STOP, FloatArray, degrees, exact_ei, nominal_speed
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import SPEED_NET, cautious, has_flattened
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.uncertainty.intervals import ends_of
from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding, Criterion
from curves.views.page.axes import BAND_PLACES, LINE_PLACES, along, numbers, rounded

_APART = 0.03
"""Distance of the places at which the page stores the reach of an interval; straight lines join them [log10].

Where the draws meet the end of the strip the reach has a corner, over which a line is off by up to a quarter of this
distance times the slope of the curve: 0.01 density on usual films, however many draws there are.
"""

_BEYOND = 0.8
"""Reach of that table beyond an end of the strip that has flattened: no error of log H is larger [log10]."""

_STORED_DIGITS = 3

_ROUND_THE_STRIP = 0.9
"""How far beyond either end of the strip the dial lets mid-grey go: three stops [log10]."""


def placing_data(analysis: Analysis, anchor: str) -> dict[str, Any] | None:
    """Return the numbers by which the page's script places a scene; None where log H has no origin, so no index lands.

    Args:
        analysis: results of the strip.
        anchor: id of the strip's part of the page.
    """
    strip, ei, choices = analysis.strip, analysis.working_ei, analysis.choices
    if strip.log_h_unit == "relative":
        return None
    return {
        "strip": anchor,
        "kind": strip.kind,
        "judged": ei.channel,
        "atZero": strip.metering.index_at_zero,
        "set": None if ei.nominal is None else {"name": ei.nominal, "exact": float(exact_ei(ei.nominal))},
        "scene": {"white": choices.white, "shadow": choices.shadow},
        "stop": STOP,
        "dial": _dial(analysis),
        "limits": {
            "detail": choices.detail_ends,
            "texture": choices.texture_ends,
            "thinWhite": THIN_WHITE,
            "speedNet": SPEED_NET,
            "greyThin": GREY_THIN,
            "greyDense": GREY_DENSE,
        },
        "channels": {name: _channel_data(analysis, found) for name, found in analysis.channels.items()},
    }


def _dial(analysis: Analysis) -> list[list[float]]:
    """Return the usual numbers round the strip, rising, each with the exact index that it stands for [unitless]."""
    grids = [found.ensemble.grid for found in analysis.channels.values()]
    at_zero = analysis.strip.metering.index_at_zero
    low, high = max(g[-1] for g in grids) + _ROUND_THE_STRIP, min(g[0] for g in grids) - _ROUND_THE_STRIP
    first, last = (degrees(at_zero / 10.0 ** float(grey)) for grey in (low, high))
    named = [nominal_speed(10.0 ** ((n - 1) / 10)) for n in range(first, last + 1)]
    return [[name, float(exact_ei(name))] for name in named]


def _channel_data(analysis: Analysis, found: ChannelFinding) -> dict[str, Any]:
    """Return one channel's curve, the reach of its intervals, and where it keeps white and shadow."""
    ensemble, choices = found.ensemble, analysis.choices
    grid = ensemble.grid
    judged = ChannelCurves(ensemble, points.dmin(ensemble), points.dmax(ensemble), choices)
    flat = [has_flattened(ensemble, most_exposed=most) for most in (False, True)]
    low, high = (float(end) + (sign * _BEYOND if on else 0.0)
                 for end, sign, on in zip((grid[0], grid[-1]), (-1.0, 1.0), flat, strict=True))  # fmt: skip
    at = np.linspace(low, high, max(2, math.ceil((high - low) / _APART)))
    drawn = -ensemble.tone_error[1:]
    lost = trial(judged, _criteria(analysis, judged), 1.0, analysis.strip.metering, choices).lost
    return {
        "grid": [float(grid[0]), float(grid[-1])],
        "density": along(grid, ensemble.density[0], LINE_PLACES),
        "gradient": along(grid, np.abs(ensemble.gradient[0]), LINE_PLACES),
        "place": None if drawn.size == 0 else [min(ends_of(drawn)[0], 0.0), max(ends_of(drawn)[1], 0.0)],
        "band": _band(found),
        "netBand": _rows_band(grid, ensemble.density - judged.dmin.rows[:, None]) if judged.dmin.reached else None,
        "gradientBand": _rows_band(grid, np.abs(ensemble.gradient)),
        "reach": {"at": [rounded(at[0]), rounded(at[-1])], **_reaches(judged, at)},
        "netKnown": judged.dmin.reached,
        "dmin": float(judged.dmin.rows[0]),
        "dmins": [float(rows[0]) for rows in possible_dmins(ensemble, judged.dmin)],
        "dmax": float(judged.dmax.rows[0]),
        "dmaxKnown": judged.dmax.reached,
        "flat": flat,
        "ends": [_end_limit(judged, most_exposed=most) for most in (False, True)],
        "lost": {tone: _stored(q) for tone, q in lost.items()},
    }


def _band(found: ChannelFinding) -> list[list[float | None]]:
    """Return the lower and the upper edge of the curve's 95 % band [density]."""
    curve = found.curve
    return [along(curve.grid, edge, BAND_PLACES) for edge in (curve.low, curve.high)]


def _rows_band(grid: FloatArray, rows: FloatArray) -> list[list[float | None]] | None:
    """Return the edges of the 95 % interval of what each draw has along a curve; None without draws.

    Args:
        grid: log H, (g,) [log10].
        rows: the estimate and its draws, (r, g).
    """
    if len(rows) < 2:
        return None
    low, high = np.quantile(rows[1:], ENDS, axis=0)
    return [along(grid, edge, BAND_PLACES) for edge in (np.minimum(low, rows[0]), np.maximum(high, rows[0]))]


def _criteria(analysis: Analysis, judged: ChannelCurves) -> Mapping[str, Criterion]:
    """Return the index that each tone asks for, were the eye to judge this channel."""
    strip, choices = analysis.strip, analysis.choices
    if judged.ensemble.channel == analysis.working_ei.channel:
        return analysis.working_ei.criteria
    if strip.kind == "reversal":
        return criteria.tones(judged, strip.metering, choices)
    return negative_index.tones(judged.speed_point, judged.ensemble, strip.metering, choices)


def _reaches(judged: ChannelCurves, at: FloatArray) -> dict[str, list[float | None]]:
    """Return the reach of a tone's interval to either side, by the tone's log H [density].

    Args:
        judged: the channel.
        at: log H of the tone, (n,) [log10].
    """
    ensemble, dmin = judged.ensemble, judged.dmin
    if len(ensemble.density) < 2:
        return {}
    x = at[None, :] - (ensemble.tone_error + ensemble.log_h_error)[:, None]
    rows = along_rows(x, ensemble.grid, ensemble.density)
    found = {"density": _reach(rows + ensemble.level_error[:, None])}
    net = rows - dmin.rows[:, None]
    if dmin.reached:
        found["net"] = _reach(net)
    else:
        found["netAbove"] = numbers(cautious(column, upper=False) for column in net.T)
    return found


def _reach(rows: FloatArray) -> list[float | None]:
    """Return the reach of each column's interval, the same to either side as the draws are reflected too."""
    low, high = np.array([ends_of(column) for column in rows[1:].T]).T
    reach = np.maximum(np.maximum(rows[0] - low, high - rows[0]), 0.0)
    return [None if v is None else round(v, _STORED_DIGITS) for v in numbers(reach)]


def _end_limit(judged: ChannelCurves, *, most_exposed: bool) -> dict[str, Any]:
    """Return the density at an end of the strip, and on which side of what density a tone beyond it lies."""
    ensemble = judged.ensemble
    end = ensemble.density[:, -1 if most_exposed else 0]
    thinner = most_exposed == (ensemble.kind == "reversal")
    return {
        "density": float(end[0]),
        "side": "<" if thinner else ">",
        "limit": cautious(end + ensemble.level_error, upper=thinner),
        "why": f"the tone lies beyond {ensemble.end_step(most_exposed=most_exposed)}",
    }


def _stored(q: Quantity) -> dict[str, Any]:
    """Return a quantity as the script reads it."""
    return {"value": q.value, "low": q.low, "high": q.high, "bound": q.bound, "why": q.why}
