"""The ensemble: the fitted curve and the curves that the errors allow, on which every number is computed at once.

An `Ensemble` holds these curves as rows of one array: row 0 is the estimate, the others are draws of every source of
error (Monte Carlo, JCGM 101). A number computed row by row comes out as an estimate and its distribution, and
`summarise` turns the two into a `Quantity`. A source of error acts in one of five ways: the source bends the curve,
lifts all densities of a channel, stretches a scan's densities, moves all log H, or moves the index that a meter is set
to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.quantity import How
from curves.sensitometry.core.rows import along_own_grids
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, Kind
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.curve.posterior import FIT, READINGS, STEPS
from curves.sensitometry.strip.exposure import Camera
from curves.sensitometry.strip.scan_origin import ScanOrigin
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import Errors


@dataclass(frozen=True, eq=False)
class Ensemble:
    """The fitted curve of one channel (row 0) and the curves that its errors allow (the other rows).

    Attributes:
        channel, kind: the channel and the kind of film that the curve belongs to.
        grid: log H, ascending, (g,) [log10].
        density: (r, g) [density], each row monotone.
        gradient: (r, g) [density per log10 H].
        patches: for "base", "unexposed", "fully_exposed", where read: density, (r,) [density].
        level_error: error common to all densities of the channel, (r,) [density]; row 0 is 0.
        log_h_error: error common to all log H of the strip, (r,) [log10]; row 0 is 0.
        meter_error: error of the meter that an index is meant for, (r,) [log10]; row 0 is 0.
        estimated: True if the channel was computed from others.
        end_steps: labels of the least and the most exposed step, such as ("step 21", "step 1"); empty if unknown.
    """

    channel: Channel
    kind: Kind
    grid: FloatArray
    density: FloatArray
    gradient: FloatArray
    patches: Mapping[str, FloatArray]
    level_error: FloatArray
    log_h_error: FloatArray
    meter_error: FloatArray
    estimated: bool = False
    end_steps: tuple[str, str] = ("", "")

    @classmethod
    def of(
        cls,
        strip: Strip,
        curve: Curve,
        channel: Channel,
        patches: Mapping[str, float],
        errors: Errors,
        *,
        estimated: bool = False,
    ) -> Ensemble:
        """Gather a fitted curve, the patches read beside it, and the errors of the strip.

        Args:
            strip: what was exposed and read.
            curve: the fitted curve of the channel.
            channel: the channel that the curve belongs to.
            patches: density of each patch that was read [density].
            errors: the errors, drawn.
            estimated: the channel was computed from the layers.
        """
        # As many steps as the wedge has, read or not: two strips through one wedge must draw the same errors.
        steps = errors.of_steps(int(strip.step_of_row.max()) if strip.wedge is None else strip.wedge.steps)
        density, gradient = (
            np.broadcast_to(estimate, (1 + errors.count, curve.grid.size))
            for estimate in (curve.grid_density, curve.grid_gradient)
        )
        if errors.count and (bent_by := errors.active & {READINGS, STEPS, FIT}):
            own = steps[:, _step_of_ladder(strip, curve) - 1]
            drawn = curve.draw(errors.count, errors.stream(READINGS, channel), own, bent_by)
            density, gradient = np.vstack([density[:1], drawn[0]]), np.vstack([gradient[:1], drawn[1]])
        if isinstance(strip.exposure, Camera):
            flare = errors.common("flare")
            density, gradient = (_stray_light(strip, curve.grid, rows, flare) for rows in (density, gradient))
        scale = _scan_scale(strip, channel, errors)
        if scale is not None:
            density, gradient = scale.moved(density, gradient)
        return cls(
            channel=channel,
            kind=curve.kind,
            grid=curve.grid,
            density=density,
            gradient=gradient,
            patches={
                name: patches[name]
                + errors.common("patches", channel, name)
                + (0.0 if scale is None else scale.at(patches[name]))
                for name in sorted(patches)
            },
            level_error=errors.common("zero", channel) + (errors.common("visual") if estimated else 0.0),
            log_h_error=errors.log_h("exposure", "wedge") + _metered_step(strip, errors, steps),
            meter_error=errors.log_h("meter", "colour"),
            estimated=estimated,
            end_steps=_end_steps(strip, curve),
        )

    def end_step(self, *, most_exposed: bool) -> str:
        """Return the name of the step at one end of the curve, such as "the most exposed step (step 1)"."""
        label = self.end_steps[1 if most_exposed else 0]
        return f"the {'most' if most_exposed else 'least'} exposed step{f' ({label})' if label else ''}"

    @property
    def how(self) -> How:
        """The way in which numbers from the curve were found."""
        return "estimated" if self.estimated else "fitted"

    @property
    def how_read(self) -> How:
        """The way in which the densities of the patches were found."""
        return "estimated" if self.estimated else "measured"


@dataclass(frozen=True, eq=False)
class _Scale:
    """The error of a scan's scale: all densities are off together, by an amount that depends on the density.

    Attributes:
        drawn: standardised error, (r,); row 0 is 0.
        scan, channel: the scan and the channel.
        readings: the strip's densities in the channel, (rows,) [density].
    """

    drawn: FloatArray
    scan: ScanOrigin
    channel: Channel
    readings: FloatArray

    def error(self, density: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the scale at densities of any shape [density]."""
        return self.scan.scale_error(self.channel, self.readings, density)

    def at(self, density: float) -> FloatArray:
        """Return the error at one density, (r,) [density]."""
        return np.asarray(self.drawn * float(self.error(np.array(density))))

    def moved(self, density: FloatArray, gradient: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return curves and gradients that carry the error of the scale, each (r, g)."""
        drawn, step = self.drawn[:, None], 0.01
        growth = (self.error(density + step) - self.error(density - step)) / (2.0 * step)
        return density + drawn * self.error(density), gradient * np.maximum(1.0 + drawn * growth, 0.0)


def _scan_scale(strip: Strip, channel: Channel, errors: Errors) -> _Scale | None:
    """Return the error of a scan's scale; None if the strip was not scanned, or the source is held at zero."""
    source = errors.sources.get("scan")
    if strip.scan is None or source is None or not source.u or "scan" not in errors.active:
        return None
    readings = strip.readings.get(channel)
    if readings is None:
        readings = np.mean([strip.readings[c] for c in LAYERS], axis=0)
    return _Scale(errors.common("scan") / source.u, strip.scan, channel, readings)


def _step_of_ladder(strip: Strip, curve: Curve) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return the step number of each step of a fitted curve, (n,)."""
    row = np.abs(strip.log_h - curve.log_h[:, None]).argmin(axis=1)
    return np.asarray(strip.step_of_row[row])


def _end_steps(strip: Strip, curve: Curve) -> tuple[str, str]:
    """Return the labels of the least and the most exposed step of a fitted curve."""
    least, most = (strip.labels[int(np.abs(strip.log_h - end).argmin())] for end in curve.grid[[0, -1]])
    return least, most


def _metered_step(strip: Strip, errors: Errors, steps: FloatArray) -> FloatArray:
    """Return the error of all log H that comes from the step that the meter read, (r,) [log10]."""
    exposure = strip.exposure
    if not isinstance(exposure, Camera) or strip.wedge is None or STEPS not in errors.active:
        return np.zeros(1 + errors.count)
    metered = exposure.metered_step - 1
    return np.concatenate([[0.0], strip.wedge.uncertainty[metered] * steps[:, metered]])


def _stray_light(strip: Strip, grid: FloatArray, rows: FloatArray, flare: FloatArray) -> FloatArray:
    """Return curves moved to where the steps lie if the flare differs from the stated one by ``flare`` (r,).

    A fraction f of the clear step's exposure adds to every step: log H x becomes log10(10^x + f 10^clear).
    """
    if not flare.any():
        return rows
    clear = float(strip.log_h.max())
    stray = np.maximum(flare[:, None] * 10.0 ** (clear - grid), -0.9)
    moved = grid + np.log10(1.0 + stray)
    return along_own_grids(grid, moved, rows)
