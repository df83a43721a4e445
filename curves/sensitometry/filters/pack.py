"""The ideal pack: the filters that would balance the layers at grey, and the crossover behind them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, FloatArray, visual_density
from curves.sensitometry.filters.behind import BareStrip, Prediction, predict, tone_densities
from curves.sensitometry.filters.cast import TONES
from curves.sensitometry.measures.points import crossing
from curves.sensitometry.uncertainty.intervals import summarise

COLOURS = ("cyan", "magenta", "yellow")
"""The filter colours that hold back the light of the red, green and blue layer."""

_HALVINGS = 40


@dataclass(frozen=True, eq=False)
class Pack:
    """The pack that balances the layers at grey, and the prediction behind the pack.

    Attributes:
        cc: value by colour, "cyan", "magenta" and "yellow"; at least one is zero, so that the pack holds no grey [CC,
            hundredths of density].
        left: the prediction of the film behind the pack.
    """

    cc: Mapping[str, Quantity]
    left: Prediction | None


def ideal_pack(bare: BareStrip) -> Pack:
    """Return the non-negative shifts that make the layers equal at grey, with no grey component.

    Grey keeps its brightness: at the common density grey looks as bright as the bare grey. The layer that needs most
    exposure for this density gets no filter; each other layer gets the difference.

    Args:
        bare: the strip.
    """
    grey = float(bare.grey[0])
    densities = tone_densities(bare, bare.none, grey)[0][:, TONES.index("grey")]
    level = _equal_level(bare, densities)
    base = np.stack([end.rows for end in bare.dmin], axis=1) if bare.match == "net" else np.zeros_like(densities)
    needs = np.stack(
        [crossing(layer.grid, layer.density, level + base[:, i]) for i, layer in enumerate(bare.layers)], axis=1
    )
    shifts = needs.max(axis=1, keepdims=True) - needs
    if not np.isfinite(shifts[0]).all():
        lost = [c for c, x in zip(LAYERS, needs[0], strict=True) if not np.isfinite(x)]
        missing = Quantity.missing(f"grey's density lies off the strip in {', '.join(lost)}")
        return Pack(dict.fromkeys(COLOURS, missing), None)
    cc = {name: summarise(100.0 * shifts[:, i]) for i, name in enumerate(COLOURS)}
    # The pack is exact by definition: only the curves carry errors.
    return Pack(cc, predict(bare, np.broadcast_to(shifts[0], shifts.shape)))


def _equal_level(bare: BareStrip, densities: FloatArray) -> FloatArray:
    """Return the density, as layers are compared, at which equal layers look as bright as ``densities``.

    Args:
        bare: the strip.
        densities: density of each layer, (r, 3) [density].
    """
    bright = visual_density(*densities.T)
    if bare.match == "absolute":
        return bright
    base = np.stack([end.rows for end in bare.dmin])
    low, high = np.full(bare.rows, -1.0), np.full(bare.rows, 8.0)
    for _ in range(_HALVINGS):
        level = 0.5 * (low + high)
        darker = visual_density(*(base + level)) > bright
        low, high = np.where(darker, low, level), np.where(darker, level, high)
    return np.asarray(0.5 * (low + high))
