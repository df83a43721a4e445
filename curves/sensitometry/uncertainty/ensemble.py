"""The ensemble: the fitted curve and the curves that the errors allow, on which every number is computed at once.

An `Ensemble` holds these curves as rows of one array: row 0 is the estimate, the others are draws of every source of
error (Monte Carlo, JCGM 101). A number computed row by row comes out as an estimate and its distribution, and
`summarise` turns the two into a `Quantity`. A source of error acts in one of six ways: the source bends the curve,
lifts all densities of a channel, stretches densities, stretches log H, moves all log H, or moves the index that a meter
is set to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from curves.sensitometry.core import streams
from curves.sensitometry.core.quantity import How
from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.curve.posterior import BETWEEN, FIT, READINGS, STEPS
from curves.sensitometry.strip.exposure import Camera, Frames
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.uncertainty.distortions import DensityScale, density_scales, match_error, moved_along_log_h
from curves.sensitometry.uncertainty.sources import Errors

TOUCH_BIAS = 0.02
"""Standard uncertainty of where a line touches a curve that was smoothed: the fit's own bias there, which the draws,
smoothed alike, do not show. Found on simulated strips of six families of curves [log10]."""


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
        constant_error: how far the meter's constant lies above the one taken, (r,) [log10]; row 0 is 0.
        touch_error: what smoothing does to the place where a line touches the curve, (r,) [log10]; row 0 is 0.
        left_to_move: what the least and the most exposed end have left to move, in the uncertainty of it, (r, 2), not
            negative [unitless]; row 0 is 0.
        metered: True if log H counts from the meter of the test.
        estimated: True if the channel was computed from others.
        patch_error: standard uncertainty of each patch's own reading, by the same names [density]; a patch that is not
            named is taken to be exact.
        end_error: standard uncertainty of the fitted curve at its first and its last log H [density].
        end_steps: labels of the least and the most exposed step, such as ("step 21", "step 1"); empty if unknown.
        bracketed: True if the strip is a bracket of frames, whose maker thinks in stops.
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
    left_to_move: FloatArray
    metered: bool = False
    estimated: bool = False
    patch_error: Mapping[str, float] = field(default_factory=dict)
    end_error: tuple[float, float] = (0.0, 0.0)
    end_steps: tuple[str, str] = ("", "")
    bracketed: bool = False

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
        density, gradient = curve.grid_density[None], curve.grid_gradient[None]
        if errors.count:
            shape = (1 + errors.count, curve.grid.size)
            density, gradient = np.broadcast_to(density, shape), np.broadcast_to(gradient, shape)
        if errors.count and (bent_by := errors.active & {READINGS, STEPS, FIT, BETWEEN}):
            own = steps[:, _step_of_ladder(strip, curve) - 1]
            drawn = curve.draw(
                errors.count,
                errors.stream(READINGS, channel),
                own,
                bent_by,
                _pieces_moved(strip, curve, errors),
                errors.stream(FIT, channel),
            )
            density, gradient = np.vstack([density[:1], drawn[0]]), np.vstack([gradient[:1], drawn[1]])
        scales: list[DensityScale] = []
        if errors.count:
            density, gradient = moved_along_log_h(strip, curve.grid, density, gradient, errors)
            scales = density_scales(strip, channel, curve, errors, estimated=estimated)
        # Readings scatter beside the wedge as they do along it, whatever the record states.
        scatter = _scatter(curve, channel, errors)
        one_reading = (errors.sources["patches"].u or 0.0) if "patches" in errors.sources else 0.0
        estimate = density[0]
        for scale in scales:
            density, gradient = scale.moved(density, gradient, estimate)
        matched = match_error(strip, channel, errors)
        if matched is not None:
            density, gradient = matched.moved(curve.kind, curve.grid, density, gradient)
        return cls(
            channel=channel,
            kind=curve.kind,
            grid=curve.grid,
            density=density,
            gradient=gradient,
            patches={
                name: patches[name]
                + scatter * errors.common("patches", channel, name)
                + sum(scale.at(patches[name]) for scale in scales)
                + (0.0 if matched is None else matched.of_patch(name))
                for name in sorted(patches)
            },
            level_error=errors.common("zero", channel),
            log_h_error=errors.log_h("exposure", "wedge", "grey frame") + _metered_step(strip, errors, steps),
            meter_error=errors.log_h("meter", "colour", "light colour"),
            constant_error=errors.log_h("constant"),
            touch_error=_touch_error(errors, channel),
            left_to_move=_left_to_move(errors, channel),
            metered=strip.metering.metered,
            estimated=estimated,
            patch_error=dict.fromkeys(patches, float(scatter[0]) * one_reading),
            end_error=curve.end_error,
            end_steps=_end_steps(strip, curve),
            bracketed=isinstance(strip.exposure, Frames),
        )

    def amount(self, log_h: float) -> str:
        """Return an amount of exposure in words: "0.6 log H"; of a bracket "2 stops" [log10]."""
        if not self.bracketed:
            return f"{log_h:.1f} log H"
        stops = round(log_h / STOP)
        return f"{stops} stop{'' if stops == 1 else 's'}"

    def end_step(self, *, most_exposed: bool) -> str:
        """Return the name of the step at one end of the curve, such as "the most exposed step (step 1)"."""
        label = self.end_steps[1 if most_exposed else 0]
        return f"the {'most' if most_exposed else 'least'} exposed step{f' ({label})' if label else ''}"

    def end_beside(self, log_h: float) -> float:
        """Return the log H of the end of the curve that lies nearer to a point [log10]."""
        return float(self.grid[-1 if log_h > 0.5 * (self.grid[0] + self.grid[-1]) else 0])

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
        """The way in which numbers from the curve were found."""
        return "estimated" if self.estimated else "fitted"

    @property
    def how_read(self) -> How:
        """The way in which the densities of the patches were found."""
        return "estimated" if self.estimated else "measured"


def _step_of_ladder(strip: Strip, curve: Curve) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return the step number of each step of a fitted curve, (n,)."""
    row = np.abs(strip.log_h - curve.log_h[:, None]).argmin(axis=1)
    return np.asarray(strip.step_of_row[row])


def _pieces_moved(strip: Strip, curve: Curve, errors: Errors) -> FloatArray | None:
    """Return the error of each step of a joined strip that its whole exposure shares, (count, n) [log10]; or None."""
    pieces = strip.exposure.pieces
    if pieces is None or BETWEEN not in errors.active:
        return None
    each = np.column_stack([errors.common(BETWEEN, name)[1:] for name in pieces.names])
    row = np.abs(strip.log_h - curve.log_h[:, None]).argmin(axis=1)
    return STOP * each[:, pieces.number_of_row[row]]


def _end_steps(strip: Strip, curve: Curve) -> tuple[str, str]:
    """Return the labels of the least and the most exposed step of a fitted curve."""
    least, most = (strip.labels[int(np.abs(strip.log_h - end).argmin())] for end in curve.grid[[0, -1]])
    return least, most


def _scatter(curve: Curve, channel: Channel, errors: Errors) -> FloatArray:
    """Return the scatter of a reading, in the scatter that was known of it beforehand, (r,) [unitless]."""
    if "patches" not in errors.active or not errors.count:
        return np.full(1 + errors.count, curve.scatter.times)
    return curve.scatter.draw(errors.count, errors.stream("patches", channel, "scatter"))


def _touch_error(errors: Errors, channel: Channel) -> FloatArray:
    """Return the error that smoothing makes in the place where a line touches the curve, (r,) [log10]."""
    rows = 1 + errors.count
    if FIT not in errors.active or not errors.count:
        return np.zeros(rows)
    return TOUCH_BIAS * streams.beside_estimate(errors.stream(FIT, channel, "touch"), rows, 1)[:, 0]


def _left_to_move(errors: Errors, channel: Channel) -> FloatArray:
    """Return the movement that each end of the curve may have left beyond the strip, standardised, (r, 2)."""
    rows = 1 + errors.count
    if FIT not in errors.active or not errors.count:
        return np.zeros((rows, 2))
    return np.abs(streams.beside_estimate(errors.stream(FIT, channel, "ends"), rows, 2))


def _metered_step(strip: Strip, errors: Errors, steps: FloatArray) -> FloatArray:
    """Return the error of all log H that comes from the step that the meter read, (r,) [log10]."""
    exposure = strip.exposure
    if not isinstance(exposure, Camera) or strip.wedge is None or STEPS not in errors.active:
        return np.zeros(1 + errors.count)
    metered = exposure.metered_step - 1
    return np.concatenate([[0.0], strip.wedge.uncertainty[metered] * steps[:, metered]])
