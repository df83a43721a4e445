"""Errors that change along a strip: of the scales of wedge, light, reader and scan, of flare, of estimated density, of
the matching of a scan.

Each acts on all steps together, by an amount that changes from step to step: errors of exposure along log H, errors of
reading along density, that of a matching by the colour of each step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core import streams
from curves.sensitometry.core.rows import along_even_grid
from curves.sensitometry.core.units import (
    GREY_MODEL_RMS,
    LAYERS,
    STOP,
    VISUAL_MODEL_RMS,
    Channel,
    FloatArray,
    Kind,
    sign_of,
    visual_density,
)
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.strip.exposure import Camera, Contact
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import Errors

_GREY_SPREAD, _DYE_SPREAD = 0.10, 0.60
"""Spread of the layers' densities up to which a step is nearly grey, and from which the estimated visual density is as
uncertain as that of single dyes: our own choice [density]."""

_KNOTS = np.arange(-0.5, 6.01, 0.5)
"""Densities at which the smooth error of an estimated visual density is drawn, half its range apart [density]."""

_RANGE = 1.0
"""Distance in density over which the error of an estimated visual density is correlated [density]."""


def moved_along_log_h(
    strip: Strip, grid: FloatArray, density: FloatArray, gradient: FloatArray, errors: Errors
) -> tuple[FloatArray, FloatArray]:
    """Return curves moved along log H by the errors of flare, of the wedge's scale and of the light's evenness.

    Args:
        strip: the strip.
        grid: log H, evenly spaced, (g,) [log10].
        density, gradient: the curves, (r, g) [density], [density per log10 H].
        errors: the errors, drawn.
    """
    stretch, offset = _stretch(strip, errors)
    flare = errors.common("flare") if isinstance(strip.exposure, Camera) else np.zeros(1)
    if not (stretch.any() or offset.any() or flare.any()):
        return density, gradient
    # 1. A step whose true log H is (1 + stretch) x - offset was assumed to lie at x: find x for each true log H.
    was = (grid + offset[:, None]) / (1.0 + stretch[:, None])
    slope = np.broadcast_to(1.0 / (1.0 + stretch[:, None]), was.shape)
    # 2. A fraction f of the clear step's exposure adds to every step: log H x becomes log10(10^x + f 10^clear).
    if flare.any():
        assert strip.wedge is not None
        clear = float(strip.exposure.log_h(np.array([strip.wedge.density.argmin() + 1.0]), strip.wedge)[0])
        left = np.maximum(1.0 - flare[:, None] * 10.0 ** (clear - was), 0.1)
        was, slope = was + np.log10(left), slope / left
    moved, turned = along_even_grid(was, grid, density, gradient)
    return moved, turned * slope


def _stretch(strip: Strip, errors: Errors) -> tuple[FloatArray, FloatArray]:
    """Return the stretch and the offset of log H by the wedge's scale and by uneven light, (r,) each [log10].

    Log H x becomes (1 + stretch) x - offset.
    """
    if strip.exposure.pieces is not None:
        # Joined exposures follow each other along log H: its scale counts from the middle.
        by_scale = errors.common("wedge scale")
        return by_scale, by_scale * float(np.mean(strip.log_h))
    none = np.zeros(1 + errors.count)
    if strip.wedge is None:
        return none, none
    zero_density = strip.log_h[0] + strip.wedge.density[strip.step_of_row[0] - 1]
    metered = isinstance(strip.exposure, Camera) or (
        isinstance(strip.exposure, Contact) and strip.exposure.grey_frame is not None
    )
    if isinstance(strip.exposure, Camera):
        # The exposure of the metered step is not in doubt: the scale counts from that step.
        zero_density = strip.exposure.offset_stops * STOP
    if isinstance(strip.exposure, Contact) and strip.exposure.grey_frame is not None:
        zero_density = strip.exposure.grey_frame.stops * STOP
    by_wedge = errors.common("wedge scale")
    stretch, offset = by_wedge, by_wedge * zero_density
    if isinstance(strip.exposure, Contact):
        density = strip.wedge.density
        # A straight fall-off whose standard deviation over the wedge is that of the light.
        fall = errors.common("evenness") * STOP * np.sqrt(12.0) / float(np.ptp(density))
        stretch, offset = stretch + fall, offset + fall * (zero_density - (0.0 if metered else float(density.mean())))
    return stretch, offset


@dataclass(frozen=True, eq=False)
class DensityScale:
    """The errors common to all densities of a channel, whose size depends on the density.

    Attributes:
        drawn: standardised errors, (r, m); row 0 is 0.
        density: densities at which the size is known, ascending, (p,) [density].
        size: error at these densities for a standardised error of 1, (p, m) [density].
    """

    drawn: FloatArray
    density: FloatArray
    size: FloatArray

    def at(self, density: float) -> FloatArray:
        """Return the error at one density, (r,) [density]."""
        return np.asarray(self.drawn @ self._size_at(np.array([density]))[0])

    def moved(self, density: FloatArray, gradient: FloatArray, estimate: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return curves and their gradients with the error added.

        Args:
            density, gradient: the curves, (r, g) [density], [density per log10 H].
            estimate: density of the estimate, at which the size of the error is taken, (g,) [density].
        """
        step = 0.01
        growth = (self._size_at(estimate + step) - self._size_at(estimate - step)) / (2.0 * step)
        error, grown = self.drawn @ self._size_at(estimate).T, self.drawn @ growth.T
        return density + error, gradient * np.maximum(1.0 + grown, 0.0)

    def _size_at(self, density: FloatArray) -> FloatArray:
        """Return the sizes at densities (d,), as (d, m) [density]; beyond the known densities a size stays constant."""
        return np.column_stack([np.interp(density, self.density, column) for column in self.size.T])


def density_scales(
    strip: Strip, channel: Channel, curve: Curve, errors: Errors, *, estimated: bool
) -> list[DensityScale]:
    """Return the errors along density of one channel: of the scan, of the reader's scale, of an estimated density."""
    found = []
    scan = errors.sources.get("scan")
    if strip.scan is not None and scan is not None and scan.u and "scan" in errors.active:
        at = np.linspace(curve.density.min(), curve.density.max(), 101)
        readings = strip.readings.get(channel)
        if readings is None:
            readings = np.mean([strip.readings[c] for c in LAYERS], axis=0)
        size = strip.scan.scale_error(channel, readings, at)
        found.append(DensityScale(errors.common("scan")[:, None] / scan.u, at, size[:, None]))
    if "reader scale" in errors.active:
        at = np.array([-1.0, 10.0])
        found.append(DensityScale(errors.common("reader scale")[:, None], at, at[:, None]))
    if "reader flare" in errors.sources and "reader flare" in errors.active:
        # Stray light f lowers a density d by f (10^d - 1) / ln 10, to first order.
        at = np.arange(-0.1, max(float(curve.density.max()), 0.0) + 0.05, 0.02)
        size = (10.0**at - 1.0) / np.log(10.0)
        found.append(DensityScale(errors.common("reader flare")[:, None], at, size[:, None]))
    if estimated and "visual" in errors.active:
        found.append(_visual_scale(strip, curve, errors))
    return found


def _visual_scale(strip: Strip, curve: Curve, errors: Errors) -> DensityScale:
    """Return the error of a visual density that was estimated from the layers.

    The error runs smoothly along density. Its size grows from that of a nearly grey scale to that of single dyes as the
    layers lie further apart (both measured on open data); its smoothness is our own choice.
    """
    layers = np.array([strip.readings[c] for c in LAYERS])
    apart = np.ptp(layers, axis=0)
    known = np.isfinite(apart)
    steps = np.abs(strip.log_h[known, None] - curve.log_h).argmin(axis=1)
    order = np.argsort(curve.density[steps])
    share = np.clip((apart[known][order] - _GREY_SPREAD) / (_DYE_SPREAD - _GREY_SPREAD), 0.0, 1.0)
    each = GREY_MODEL_RMS + share * (VISUAL_MODEL_RMS - GREY_MODEL_RMS)
    at = np.arange(_KNOTS[0], _KNOTS[-1] + 0.01, 0.05)
    size = np.interp(at, curve.density[steps][order], each)

    def together(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(np.exp(-0.5 * ((a[:, None] - b) / _RANGE) ** 2))

    # Any smooth error is a weighted sum of those at the knots; the weights of the Cholesky factor make it unit-normal.
    lower = np.linalg.cholesky(together(_KNOTS, _KNOTS) + 1e-6 * np.eye(_KNOTS.size))
    shape = np.linalg.solve(lower, together(_KNOTS, at)).T
    drawn = streams.beside_estimate(errors.stream("visual"), 1 + errors.count, _KNOTS.size)
    return DensityScale(drawn, at, size[:, None] * shape)


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
