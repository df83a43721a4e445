"""The prediction of a film behind a stack: index, cost and casts; and the ideal pack that balances the layers at grey.

The cast that the ideal pack leaves at white and at shadow is crossover, which no filter mends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, FloatArray, visual_density
from curves.sensitometry.filters.behind import BareStrip, grey_places, shows_index
from curves.sensitometry.filters.cast import TONES, Cast, amounts, cast_of, total_cast, unknown_cast
from curves.sensitometry.filters.shifted import along_draws, density_behind, on_strip
from curves.sensitometry.measures.points import Location, crossing
from curves.sensitometry.measures.speeds import scaled_power
from curves.sensitometry.strip.exposure import NO_ORIGIN
from curves.sensitometry.uncertainty.intervals import summarise

COLOURS = ("cyan", "magenta", "yellow")
"""The filter colours that hold back the light of the red, green and blue layer."""

_HALVINGS = 40
"""Halvings of an interval of nine densities, to less than its rounding [unitless]."""


def comparable(bare: BareStrip, densities: FloatArray) -> FloatArray:
    """Return layer densities for comparison: above each layer's Dmin, or absolute with the error of the reader's zero.

    Args:
        bare: the strip.
        densities: (r, ..., 3), or without rows for the estimate alone [density].
    """
    if bare.match == "absolute":
        ends = -np.stack([layer.level_error for layer in bare.layers], axis=-1)
    else:
        ends = np.stack([end.rows for end in bare.dmin], axis=-1)
    if densities.shape[0] != bare.rows:
        return np.asarray(densities - ends[0])
    return np.asarray(densities - ends.reshape(bare.rows, *([1] * (densities.ndim - 2)), 3))


def tone_densities(bare: BareStrip, shifts: FloatArray, grey: float) -> tuple[FloatArray, FloatArray]:
    """Return the densities of white, grey and shadow in each layer, and which of them the strip shows.

    Args:
        bare: the strip.
        shifts: density of the filter to each layer, (r, 3) [density].
        grey: log H of mid-grey in front of the filter, on the strip's own log H [log10].

    Returns:
        Densities (r, tone, layer) [density], and (tone, layer) True where the strip shows the density.
    """
    x = grey + bare.tones()
    wrong = bare.misplaced
    densities = np.stack(
        [density_behind(layer, shifts[:, i] + wrong, x) for i, layer in enumerate(bare.layers)], axis=-1
    )
    shown = np.stack([on_strip(layer, x - shifts[0, i]) for i, layer in enumerate(bare.layers)], axis=-1)
    return densities, shown


@dataclass(frozen=True, eq=False)
class Prediction:
    """The prediction of a film behind a filter or a stack.

    Attributes:
        shifts: density to each layer, (r, 3) [density].
        grey: log H of mid-grey that the rule asks for, (r,) [log10].
        ei: index for a meter that does not see the filter [unitless].
        cost: exposure that the filter costs [stops].
        casts: by tone.
        cast_left: the casts of the tones, weighted by `TONE_WEIGHTS`, as root mean square [density].
        cast_rows: the same, row by row, (r,) [density].
        uncovered: tones and layers whose exposure lies off the strip, each in words.
    """

    shifts: FloatArray
    grey: FloatArray
    ei: Quantity
    cost: Quantity
    casts: Mapping[str, Cast]
    cast_left: Quantity
    cast_rows: FloatArray
    uncovered: tuple[str, ...]


def predict(bare: BareStrip, shifts: FloatArray) -> Prediction:
    """Return the prediction of a film behind a filter, from the bare strip.

    Casts hold at the index of the prediction, to which the photographer sets the meter.

    Args:
        bare: the strip.
        shifts: density of the filter to each layer, (r, 3) [density].
    """
    grey = grey_places(bare, shifts, along_draws)
    if not (np.isfinite(grey[0]) and shows_index(bare, shifts)):
        why = "behind this stack the curves do not show the points that the index is found from: the strip is too short"
        missing, lost = Quantity.missing(why), unknown_cast(why)
        rows = np.full(bare.rows, np.nan)
        return Prediction(shifts, grey, missing, missing, dict.fromkeys(TONES, lost), missing, rows, ("every tone",))
    ei = index_of(bare, grey)
    cost = summarise((grey - bare.grey) / STOP)
    densities, shown = tone_densities(bare, shifts, float(grey[0]))
    densities = comparable(bare, densities)
    casts, off = {}, []
    for i, tone in enumerate(TONES):
        hidden = [c for c, reached in zip(LAYERS, shown[i], strict=True) if not reached]
        off += [f"{tone} in {c}" for c in hidden]
        why = f"{tone} falls off the strip in {', '.join(hidden)}"
        casts[tone] = unknown_cast(why) if hidden else cast_of(densities[:, i])
    rows = total_cast(amounts(densities))
    total = Quantity.missing(f"off the strip: {', '.join(off)}") if off else summarise(rows)
    return Prediction(shifts, grey, ei, cost, casts, total, rows, tuple(off))


def index_of(bare: BareStrip, grey: FloatArray) -> Quantity:
    """Return the index that puts mid-grey at a log H, with the errors of log H and of the meter.

    Where log H counts from an exposure that nobody stated, the reason stands in its place.

    Args:
        bare: the strip that log H is counted on.
        grey: log H of mid-grey, (r,) [log10].
    """
    if bare.relative:
        return Quantity.missing(NO_ORIGIN)
    point = Location(grey, summarise(grey, how=bare.eye.how))
    return scaled_power(point, bare.eye, bare.metering.index_at_zero, error=bare.eye.tone_error)


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
