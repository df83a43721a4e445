"""How sure: every number is computed on the fitted curve and on all curves that its errors allow, at once.

An `Ensemble` holds them as rows of one array: row 0 is the estimate, the others are draws of every source of error
(Monte Carlo, JCGM 101). Whatever is computed from it row by row comes out as an estimate and its distribution, and
`summarise` turns that into a `Quantity`. A source of error acts in one of five ways, and nowhere else: it bends the
curve, lifts all densities of a channel, stretches a scan's densities, moves all log H, or moves the index that a meter
is set to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import How
from curves.sensitometry.core.units import LAYERS, Channel, FloatArray, Kind
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.curve.posterior import FIT, READINGS, STEPS
from curves.sensitometry.strip.exposure import Camera
from curves.sensitometry.strip.scan_origin import ScanOrigin
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.sources import Errors

TOUCH_BIAS = 0.02
"""Standard uncertainty of where a line touches a curve that was smoothed: the fit's own bias there, which the draws,
smoothed alike, do not show. Found on simulated strips of six families of curves [log10]."""


@dataclass(frozen=True, eq=False)
class Ensemble:
    """The fitted curve of one channel (row 0) and the curves that its errors allow (the other rows).

    Attributes:
        channel, kind: what it is a curve of.
        grid: log H, ascending, (g,) [log10].
        density: (r, g) [density], each row monotone.
        gradient: (r, g) [density per log10 H].
        patches: for "base", "unexposed", "fully_exposed", where read: density, (r,) [density].
        level_error: error common to all densities of the channel, (r,) [density]; row 0 is 0.
        log_h_error: error common to all log H of the strip, (r,) [log10]; row 0 is 0.
        meter_error: error of the meter that an index is meant for, (r,) [log10]; row 0 is 0.
        constant_error: how far the meter's constant lies above the one taken, (r,) [log10]; row 0 is 0.
        touch_error: what smoothing does to the place where a line touches the curve, (r,) [log10]; row 0 is 0.
        metered: True if log H counts from the meter of the test.
        estimated: True if the channel was computed from others.
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
    constant_error: FloatArray
    touch_error: FloatArray
    metered: bool = False
    estimated: bool = False

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
            channel: what it is a curve of.
            patches: density of each patch that was read [density].
            errors: the errors, drawn.
            estimated: the channel was computed from the layers.
        """
        # As many as the wedge has, read or not: two strips through one wedge must draw the same errors for its steps.
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
            constant_error=errors.log_h("constant"),
            touch_error=_touch_error(errors, channel),
            metered=strip.metering.metered,
            estimated=estimated,
        )

    @property
    def tone_error(self) -> FloatArray:
        """Error of an index that lays a scene tone on the curve, beyond that of log H, (r,) [log10].

        Such an index needs the meter's constant, unless the test was metered too.
        """
        return self.meter_error if self.metered else self.meter_error - self.constant_error

    @property
    def speed_error(self) -> FloatArray:
        """Error of a standard's speed, beyond that of log H, (r,) [log10].

        The standard has a constant of its own: only exposures that rest on a meter carry the meter's.
        """
        return self.constant_error if self.metered else np.zeros_like(self.constant_error)

    @property
    def how(self) -> How:
        """How numbers from this curve were found."""
        return "estimated" if self.estimated else "fitted"

    @property
    def how_read(self) -> How:
        """How the densities of its patches were found."""
        return "estimated" if self.estimated else "measured"


@dataclass(frozen=True, eq=False)
class _Scale:
    """A scan's scale: how far all its densities are off together, by so much at each.

    Attributes:
        drawn: standardised error, (r,); row 0 is 0.
        scan, channel: what was scanned.
        readings: its densities in the channel, (rows,) [density].
    """

    drawn: FloatArray
    scan: ScanOrigin
    channel: Channel
    readings: FloatArray

    def error(self, density: FloatArray) -> FloatArray:
        """Return its standard uncertainty, any shape [density]."""
        return self.scan.scale_error(self.channel, self.readings, density)

    def at(self, density: float) -> FloatArray:
        """Return the error at one density, (r,) [density]."""
        return np.asarray(self.drawn * float(self.error(np.array(density))))

    def moved(self, density: FloatArray, gradient: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return curves and their gradients with the error in them, each (r, g)."""
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


def _touch_error(errors: Errors, channel: Channel) -> FloatArray:
    """Return what smoothing does to the place where a line touches the curve, (r,) [log10]."""
    rows = 1 + errors.count
    if FIT not in errors.active:
        return np.zeros(rows)
    return TOUCH_BIAS * streams.beside_estimate(errors.stream(FIT, channel, "touch"), rows, 1)[:, 0]


def _metered_step(strip: Strip, errors: Errors, steps: FloatArray) -> FloatArray:
    """Return what the error of the step that the meter read does to all log H, (r,) [log10]."""
    exposure = strip.exposure
    if not isinstance(exposure, Camera) or strip.wedge is None or STEPS not in errors.active:
        return np.zeros(1 + errors.count)
    metered = exposure.metered_step - 1
    return np.concatenate([[0.0], strip.wedge.uncertainty[metered] * steps[:, metered]])


def _stray_light(strip: Strip, grid: FloatArray, rows: FloatArray, flare: FloatArray) -> FloatArray:
    """Return curves moved to where their steps lie if the flare is other than stated by ``flare`` (r,).

    A fraction f of the clear step's exposure adds to every step: log H x becomes log10(10^x + f 10^clear).
    """
    if not flare.any():
        return rows
    clear = float(strip.log_h.max())
    stray = np.maximum(flare[:, None] * 10.0 ** (clear - grid), -0.9)
    moved = grid + np.log10(1.0 + stray)
    return np.array([np.interp(grid, x, y) for x, y in zip(moved, rows, strict=True)])
