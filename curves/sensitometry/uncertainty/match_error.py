"""The error of a strip's curves by the matching of a scan's densities to a densitometer's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core import streams
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, Kind, sign_of, visual_density
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import Errors


@dataclass(frozen=True, eq=False)
class MatchError:
    """The error of one channel by the matching of a scan to a densitometer.

    It follows the colour of the film along log H, which density alone does not tell: a layer that has reached its end
    still gets its share of what the others do.

    Attributes:
        drawn: standardised errors, (r, m); row 0 is 0.
        log_h: log H of the steps, ascending, (n,) [log10].
        size: error of each step for standardised errors, (n, m) [density].
        of_patches: the same for the patches read beside the wedge, by name, (m,) [density].
    """

    drawn: FloatArray
    log_h: FloatArray
    size: FloatArray
    of_patches: Mapping[str, FloatArray]

    def moved(
        self, kind: Kind, grid: FloatArray, density: FloatArray, gradient: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return curves and their gradients with the error added; no curve turns back.

        Args:
            kind: of the film, which tells the way of the curves.
            grid: log H, ascending, (g,) [log10].
            density, gradient: the curves, (r, g) [density], [density per log10 H].
        """
        size = np.column_stack([np.interp(grid, self.log_h, column) for column in self.size.T])
        error, grown = self.drawn @ size.T, self.drawn @ np.gradient(size, grid, axis=0).T
        way = sign_of(kind)
        return (
            way * np.maximum.accumulate(way * (density + error), axis=1),
            way * np.maximum(way * (gradient + grown), 0.0),
        )

    def of_patch(self, name: str) -> FloatArray:
        """Return the error of a patch read beside the wedge, (r,) [density]."""
        return np.asarray(self.drawn @ self.of_patches[name])


def match_error(strip: Strip, channel: Channel, errors: Errors) -> MatchError | None:
    """Return the error of a channel by the matching of a scan; None where nothing was matched, or it is not drawn.

    A visual density that was estimated from the layers takes the part of each layer's error that it has in it.
    """
    match = strip.match
    if match is None or "match" not in errors.active:
        return None
    layers = {channel: 1.0} if channel in match.spread else dict.fromkeys(LAYERS, 1.0)
    columns = next(iter(match.spread.values())).shape[1]
    drawn = [streams.beside_estimate(errors.stream("match", c), 1 + errors.count, columns) for c in layers]
    places, row_of = np.unique(strip.log_h, return_inverse=True)
    rows = np.array([strip.readings[c] for c in LAYERS])
    read = np.isfinite(rows).all(axis=0)
    shares = {c: np.ones(rows.shape[1]) for c in layers} if len(layers) == 1 else _shares_in_visual(rows)
    size = np.hstack([shares[c][:, None] * match.spread[c] for c in layers])
    each = np.array([size[read & (row_of == at)].mean(axis=0) if (read & (row_of == at)).any()
                     else np.full(size.shape[1], np.nan) for at in range(places.size)])  # fmt: skip
    known = np.isfinite(each).all(axis=1)
    return MatchError(np.hstack(drawn), places[known], each[known], _of_patches(strip, tuple(layers)))


def _shares_in_visual(layers: FloatArray) -> dict[Channel, FloatArray]:
    """Return the change of the estimated visual density for one of each layer's, (n,) each [unitless]."""
    step = 1e-4
    found: dict[Channel, FloatArray] = {}
    for at, channel in enumerate(LAYERS):
        moved = layers.copy()
        moved[at] += step
        found[channel] = (visual_density(*moved) - visual_density(*layers)) / step
    return found


def _of_patches(strip: Strip, layers: tuple[Channel, ...]) -> dict[str, FloatArray]:
    """Return the error of each patch read beside the wedge for the layers' standardised errors, (m,) [density]."""
    assert strip.match is not None
    found = {}
    for name, spread in strip.match.spread_of_patches.items():
        patch = getattr(strip.patches, name)
        values = np.array([[patch[c]] for c in LAYERS])
        shares = dict.fromkeys(layers, np.ones(1)) if len(layers) == 1 else _shares_in_visual(values)
        found[name] = np.hstack([shares[c] * spread[c] for c in layers])
    return found
