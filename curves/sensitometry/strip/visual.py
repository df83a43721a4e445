"""Visual density estimated from the three layers, at the steps where all of them were read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import FEWEST_STEPS, LAYERS, FloatArray, visual_density
from curves.sensitometry.strip.strip import Strip

_REACH = 0.75
"""Share of green's range of log H that the steps read in all layers must reach over: own choice. Where they reach less
far, green shows more of the eye's curve than they do [unitless]."""


@dataclass(frozen=True, eq=False)
class VisualEstimate:
    """Visual density that was not read, of a slide whose layers were.

    Attributes:
        density: by row, NaN where not all layers were read, (rows,) [density].
        together: number of steps at which all layers were read.
        steps: number of steps at which any was.
        enough: True if the steps read together make a curve that reaches as far as green's, nearly.
    """

    density: FloatArray
    together: int
    steps: int
    enough: bool


def estimated_visual(strip: Strip) -> VisualEstimate | None:
    """Return the estimate from the layers of a slide; None if visual was read, a layer was not, or it is a negative."""
    if strip.kind != "reversal" or "visual" in strip.readings or not all(c in strip.readings for c in LAYERS):
        return None
    layers = np.array([strip.readings[c] for c in LAYERS])
    read = np.isfinite(layers)
    together, green = read.all(axis=0), read[LAYERS.index("green")]
    at = np.unique(np.round(strip.log_h[together], 7))
    reach = float(np.ptp(at)) if at.size else 0.0
    return VisualEstimate(
        density=visual_density(*layers),
        together=at.size,
        steps=np.unique(np.round(strip.log_h[read.any(axis=0)], 7)).size,
        enough=at.size >= FEWEST_STEPS and reach >= _REACH * float(np.ptp(strip.log_h[green])),
    )
