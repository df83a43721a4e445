"""Whether a reversal film clears, what holds its white back (base, mask or fog), and which layer clears last."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from curves.sensitometry.analysis.index_rule import clearness
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, transmittance
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import Location
from curves.sensitometry.measures.table import Subject
from curves.sensitometry.uncertainty.intervals import summarise
from curves.sensitometry.uncertainty.results import BaseState, LayerSpread, WhiteHolder

MASK_COLOUR = 0.20
"""Blue density above red density that makes what is left a mask, and not grey fog: our own choice [density]."""


def base_state(judged: Subject, layers: Mapping[Channel, Subject], choices: Choices) -> BaseState:
    """Return whether the film clears, what its veil costs in light, and what holds the white back.

    Args:
        judged: the channel that stands for what the eye sees.
        layers: the colour layers, whose differences tell a mask from fog; empty for black and white.
        choices: the densities up to which whites can be judged.
    """
    ensemble, dmin = judged.ensemble, judged.dmin
    base, veil = points.base(ensemble), points.veil(ensemble, dmin)
    known = dmin.quantity
    if known.value is None:
        return BaseState(base, known, veil, None, None, None)
    share = float(clearness(dmin.rows[:1], choices)[0])
    return BaseState(
        base,
        known,
        veil,
        clears=share > 0.5,
        white_percent=100.0 * float(transmittance(known.value)),
        veil_stops=None if veil.value is None else max(veil.value, 0.0) / STOP,
        held_by=None if share >= 1.0 else _held_by(base.value, veil.value, layers),
    )


def _held_by(base: float | None, veil: float | None, layers: Mapping[Channel, Subject]) -> WhiteHolder | None:
    """Return what most of the density left in the white belongs to."""
    if base is None or veil is None:
        colour = _blue_over_red({c: float(s.dmin.rows[0]) for c, s in layers.items() if s.dmin.reached})
        return "mask" if colour > MASK_COLOUR else None
    bases = {c: float(s.ensemble.patches["base"][0]) for c, s in layers.items() if "base" in s.ensemble.patches}
    if base >= veil:
        return "mask" if _blue_over_red(bases) > MASK_COLOUR else "base"
    veils = {c: float(layers[c].dmin.rows[0]) - known for c, known in bases.items() if layers[c].dmin.reached}
    return "mask" if _blue_over_red(veils) > MASK_COLOUR else "fog"


def _blue_over_red(densities: Mapping[Channel, float]) -> float:
    """Return how much more density the blue layer has than the red; nothing where one was not read [density]."""
    return densities["blue"] - densities["red"] if {"red", "blue"} <= set(densities) else 0.0


def layer_spread(layers: Mapping[Channel, Subject]) -> LayerSpread:
    """Return how far apart the layers lie at T and at S [stops], and which layer clears last."""
    t = {c: found.points.t for c, found in layers.items()}
    s = {c: found.points.s for c, found in layers.items()}
    known = all(p.quantity.value is not None for p in t.values())
    last = max(t.items(), key=lambda item: float(item[1].rows[0]))[0] if known else None
    return LayerSpread(_spread(t, "T"), _spread(s, "S"), last)


def _spread(of_layer: Mapping[Channel, Location], name: str) -> Quantity:
    lost = [c for c, p in of_layer.items() if p.quantity.value is None]
    if lost:
        return Quantity.missing(f"{name} lies off the strip in {', '.join(lost)}")
    rows = np.vstack([p.rows for p in of_layer.values()])
    return summarise(np.ptp(rows, axis=0) / STOP, note=f"greatest less least log H of {name}")
