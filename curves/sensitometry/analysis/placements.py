"""Where the scene lands at an index: the densities of white, mid-grey and shadow, and what becomes of each."""

from __future__ import annotations

import math

import numpy as np

from curves.sensitometry.analysis.index_rule import grey_limits
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import How, Quantity
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.measures.points import cautious, density_along, has_flattened
from curves.sensitometry.measures.table import Subject
from curves.sensitometry.strip.metering import Metering
from curves.sensitometry.uncertainty.intervals import summarise, widest_interval
from curves.sensitometry.uncertainty.results import Placement, State

THIN_WHITE = 0.10
"""Net density below which a white is thin: half a stop or so from its last full tone at 0.20, our own choice
[density]."""


def placements(judged: Subject, ei: float, metering: Metering, choices: Choices) -> dict[str, Placement]:
    """Return where white, grey and shadow land on a reversal curve with the meter set to an index.

    Intervals hold what may be wrong about the curve, its log H and the meter.

    Args:
        judged: the channel that stands for what the eye sees.
        ei: the exact index that is set [unitless].
        metering: what log H counts from, and what an index stands for.
        choices: where scene tones lie, and where detail and texture end.
    """
    grey = math.log10(metering.index_at_zero / ei)
    tones = {"white": choices.white, "grey": 0.0, "shadow": choices.shadow}
    return {name: _placement(judged, name, grey + tone, choices) for name, tone in tones.items()}


def _placement(judged: Subject, name: str, log_h: float, choices: Choices) -> Placement:
    ensemble, dmin = judged.ensemble, judged.dmin
    grid = ensemble.grid
    true = log_h - ensemble.tone_error
    place = _between(true, ensemble.how)
    on_strip = true - ensemble.log_h_error
    last = bool(log_h > grid[-1])
    if not grid[0] <= log_h <= grid[-1] and not has_flattened(ensemble, most_exposed=last):
        end = ensemble.density[:, -1 if last else 0]
        limit = cautious(end + ensemble.level_error, upper=last)
        why = "it lies beyond the most exposed step" if last else "it lies beyond the least exposed step"
        density = Quantity.missing(why, below=limit) if last else Quantity.missing(why, above=limit)
        return Placement(place, density, Quantity.missing(why), "off the strip")
    rows = density_along(grid, ensemble.density, np.clip(on_strip, grid[0], grid[-1]))
    density = _between(rows + ensemble.level_error, ensemble.how)
    if not dmin.reached:
        least = Quantity.missing(
            f"it is counted from Dmin, and {dmin.quantity.why}", above=max(cautious(rows - dmin.rows, upper=False), 0.0)
        )
        return Placement(place, density, least, _state(judged, name, float(rows[0]), choices))
    return Placement(
        place, density, _between(rows - dmin.rows, ensemble.how), _state(judged, name, float(rows[0]), choices)
    )


def _between(rows: FloatArray, how: How) -> Quantity:
    found = summarise(rows, how=how)
    if found.u is None:
        return found
    low, high = widest_interval(rows, rows)
    return Quantity(found.value, low, high, found.how, note=found.note, u=found.u)


def _state(judged: Subject, name: str, density: float, choices: Choices) -> State:
    """Return what becomes of a tone, from the density it lands on [density]; Dmin and Dmax as the strip shows them."""
    net = density - float(judged.dmin.rows[0])
    scale = float(judged.dmax.rows[0] - judged.dmin.rows[0])
    if name == "white":
        return "gone" if net < choices.detail_ends else "thin" if net < THIN_WHITE else "holds"
    if name == "shadow":
        return "no texture" if net > choices.texture_ends * scale else "holds"
    least, most = grey_limits(np.array(scale))
    return "thin" if net < least else "dense" if net > most else "holds"
