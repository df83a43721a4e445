"""From a scan's light to density: by a clear and a dark value, or better by a calibration wedge scanned alike.

A scanner records of a patch of transmittance T, apart from noise,

    light = dark + (clear - dark) * T + flare

where flare is light scattered in the lens and between film and glass, some tenths of a per cent of the clear light.
Apparent transmittance (light - dark) / (clear - dark) therefore never falls to zero, and apparent density ends near 2.5
while true density goes on. A calibration wedge shows the amount of flare: the flare that brings the wedge's known
densities best in line is subtracted, and a monotone curve maps the apparent density that is left to known density.

Flare comes from the whole picture: a bright surround makes more of it. A wedge scanned in the same frame has the
strip's own flare; the flare of a wedge from another frame is scaled by the mean light of the two frames. It is not
known how well this scaling holds, so half of the change counts as uncertain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import ArrayLike

from curves.errors import StripError
from curves.sensitometry.core.units import Channel, FloatArray, density, transmittance
from curves.sensitometry.curve.fit import Curve, fit_curve

SUSPECT = 2.0
"""Density above which a scan without a calibration wedge is suspect, where flare of 0.1 % hides 0.04: our own choice
[density]."""

FEWEST_KNOWN = 6
"""Least number of steps of known density for a map: our own choice [unitless]."""

ASSUMED_FLARE = 0.002
"""Standard uncertainty of flare without a calibration wedge: our own choice [of the clear light]."""

ASSUMED_UNEVEN = 0.01
"""Standard uncertainty from uneven light without a scan of the empty gate: our own choice [density]."""

ASSUMED_KNOWN = 0.01
"""Standard uncertainty of a calibration wedge's density where it is not given: common practice [density]."""

_READ_ERROR = 0.002
"""Least standard uncertainty of a step of a calibration wedge, even where less is given: our own choice [density]."""

_MOST_FLARE = 0.2
"""Greatest flare that a fit may find: our own choice [of the clear light]."""

_IN_LINE = 0.9
"""Least correlation of a wedge's known densities with their apparent densities: our own choice [unitless]."""

_CLEAR_OF_FLARE = 2.0
"""Least light of a step without flare, in standard uncertainties of the flare: our own choice [unitless]."""

LEAST_SLOPE, MOST_SLOPE = 0.8, 1.25
"""Limits of `ScanMap.slope`, beyond which `ScanMap.doubt` gives a reason for doubt [unitless]."""

_LEAST_LEFT = 0.02
"""Least share of a patch's light that is not flare: our own choice [unitless]."""

_BEYOND = 0.03
"""Density by which a map is extended beyond its densest and its thinnest step: our own choice [density]."""


@dataclass(frozen=True, eq=False)
class ScanMap:
    """The map from apparent to true density of one channel, from a calibration wedge.

    Attributes:
        flare: flare to subtract from a patch's light [of the clear light].
        flare_error: standard uncertainty of the flare [of the clear light].
        surround: mean light of the wedge's picture [of the clear light].
        densest: greatest known density of the wedge [density].
        curve: known density against the negative log of apparent transmittance without flare.
        slope: change of log light for each 1.00 of known density: 1 where numbers are in proportion to light
            [unitless].
        moved_error: standard uncertainty of the flare from the change between the wedge's picture and this one [of the
            clear light]. In the wedge's own picture it is zero: the curve makes up for any error of the flare.
    """

    flare: float
    flare_error: float
    surround: float
    densest: float
    curve: Curve
    slope: float
    moved_error: float = 0.0

    @property
    def doubt(self) -> str:
        """The reason to doubt that numbers are in proportion to light, as a clause; empty if there is none.

        A wedge's silver may look up to a quarter denser to a scanner than to a densitometer, because it scatters light:
        our own choice.
        """
        found = f"its light changes by {self.slope:.2f} for each 1.00 of known density"
        if self.slope < LEAST_SLOPE:
            return f"{found}: the picture looks encoded, by a gamma of about {1.0 / self.slope:.1f}"
        if self.slope > MOST_SLOPE:
            return f"{found}: the picture looks decoded twice, or the table belongs to another wedge"
        return ""

    def for_surround(self, surround: float) -> ScanMap:
        """Return the map for another picture with the mean light ``surround`` [of the clear light]."""
        factor = surround / self.surround if self.surround > 0 else 1.0
        moved = math.hypot(self.flare_error, 0.5 * self.flare) * abs(factor - 1.0)
        return replace(
            self,
            flare=self.flare * factor,
            flare_error=self.flare_error * factor,
            surround=surround,
            moved_error=math.hypot(self.moved_error * factor, moved),
        )

    def transmittance(self, apparent: ArrayLike, lit: ArrayLike = 1.0) -> FloatArray:
        """Return apparent transmittance without flare, any shape [unitless].

        Args:
            apparent: apparent transmittance [unitless].
            lit: clear light at the place over the typical clear light, same shape [unitless].
        """
        return np.asarray(np.asarray(apparent, dtype=np.float64) - self.flare / np.asarray(lit, dtype=np.float64))

    def density(self, apparent: ArrayLike, lit: ArrayLike = 1.0) -> FloatArray:
        """Return true density, any shape [density]; NaN beyond the wedge's own densities."""
        x = density(self.transmittance(apparent, lit))
        grid, known = self.curve.grid, self.curve.grid_density
        # A patch may lie beyond the wedge's densities by the error of a reading: the curve is extended so far only.
        first, last = self.curve.grid_gradient[0], self.curve.grid_gradient[-1]
        grid = np.concatenate([[grid[0] - _BEYOND], grid, [grid[-1] + _BEYOND]])
        known = np.concatenate([[known[0] - _BEYOND * first], known, [known[-1] + _BEYOND * last]])
        return np.asarray(np.interp(x, grid, known, left=np.nan, right=np.nan))

    def error(self, apparent: ArrayLike, light_error: ArrayLike, lit: ArrayLike = 1.0) -> FloatArray:
        """Return the standard uncertainty of `density`, any shape [density].

        Args:
            apparent, lit: as for `density`.
            light_error: standard error of the apparent transmittance [unitless].
        """
        left = self.transmittance(apparent, lit)
        x = density(left)
        curve = self.curve
        fit = np.interp(x, curve.grid, (curve.high - curve.low) / 3.92)
        slope = np.interp(x, curve.grid, curve.grid_gradient)
        light = np.hypot(
            np.asarray(light_error, dtype=np.float64), self.moved_error / np.asarray(lit, dtype=np.float64)
        )
        return np.asarray(np.hypot(fit, slope * light / np.where(left > 0, left, np.nan) / math.log(10.0)))


def fit_map(
    apparent: ArrayLike,
    known: ArrayLike,
    uncertainty: float | None = None,
    *,
    lit: ArrayLike = 1.0,
    surround: float = 1.0,
    where: str = "calibration wedge",
) -> ScanMap:
    """Fit the map of one channel.

    Args:
        apparent: apparent transmittance of each step, (n,) [unitless]; NaN where a step could not be read.
        known: known density of each step, (n,) [density].
        uncertainty: standard uncertainty of one known density [density]; 0.01 is assumed if None.
        lit: clear light at the place of each step over the typical clear light, (n,) or one for all [unitless].
        surround: mean light of the wedge's picture [of the clear light].
        where: name of the wedge in errors.

    Raises:
        StripError: there are too few steps, or light does not fall as density grows.
    """
    t, d = np.asarray(apparent, dtype=np.float64), np.asarray(known, dtype=np.float64)
    there = np.broadcast_to(np.asarray(lit, dtype=np.float64), t.shape)
    read = np.isfinite(t) & (t > 0) & np.isfinite(d)
    t, d, there = t[read], d[read], there[read]
    if t.size < FEWEST_KNOWN:
        raise StripError(
            f"only {t.size} of its steps could be read",
            where=where,
            needed=f"at least {FEWEST_KNOWN} known densities",
        )
    order = np.argsort(d)
    t, d, there = t[order], d[order], there[order]
    if np.ptp(t) == 0 or np.ptp(d) == 0 or np.corrcoef(d, -np.log10(t))[0, 1] < _IN_LINE:
        raise StripError(
            "its light does not fall as its known densities grow",
            where=where,
            hint="check that the table belongs to this wedge, and which of its ends is step 1",
        )
    u = ASSUMED_KNOWN if uncertainty is None else max(uncertainty, _READ_ERROR)
    model = fit_light(t, d, there, u)
    flare, error, slope = model.flare, model.flare_error, model.slope
    left = t - flare / there
    # A step that is hardly lighter than the flare gives no density.
    clear_of_it = left > _CLEAR_OF_FLARE * error
    curve = fit_curve(density(left[clear_of_it]), d[clear_of_it], kind="negative", repeatability=u)
    return ScanMap(flare, error, surround, float(d[clear_of_it].max()), curve, slope)


@dataclass(frozen=True)
class LightModel:
    """The light of a wedge as flare and proportion explain it.

    Attributes:
        flare, flare_error: flare and its standard uncertainty [of the clear light].
        slope: change of log light for each 1.00 of known density [unitless].
        residual: root mean square difference of the steps from the model [density].
    """

    flare: float
    flare_error: float
    slope: float
    residual: float


def fit_light(t: FloatArray, known: FloatArray, lit: FloatArray, u: float) -> LightModel:
    """Return the flare and the slope that fit a wedge best.

    Model: t = gain * 10**-(slope * D) + flare / lit, compared in the log. The slope allows a scanner to see a silver
    wedge a little denser, or less dense, than a densitometer does.

    Args:
        t: apparent transmittance of each step, by rising density, (n,) [unitless].
        known: density of each step, (n,) [density].
        lit: clear light at the place of each step over the typical clear light, (n,) [unitless].
        u: standard uncertainty of one known density [density].
    """

    def residual(p: FloatArray) -> FloatArray:
        gain, slope, flare = p
        return np.asarray((-np.log10(gain * transmittance(slope * known) + flare / lit) + np.log10(t)) / u)

    most = min(_MOST_FLARE, float((t * lit).min()) * 0.999)
    thinnest = float(np.clip(t[0] / transmittance(known[0]), 2e-3, 500.0))
    start = [thinnest, 1.0, 0.3 * most]
    bounds = ([1e-3, 0.2, 0.0], [1e3, 5.0, most])
    found = scipy.optimize.least_squares(
        residual, start, bounds=bounds, loss="soft_l1", x_scale=[1.0, 1.0, max(most, 1e-6)]
    )
    jacobian = np.asarray(found.jac, dtype=np.float64)
    spread = max(float(2.0 * found.cost) / max(t.size - 3, 1), 1.0)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * spread
    error, rms = float(np.sqrt(max(covariance[2, 2], 0.0))), float(u * np.sqrt(np.mean(residual(found.x) ** 2)))
    return LightModel(float(found.x[2]), error, float(found.x[1]), rms)


@dataclass(frozen=True, eq=False)
class Calibration:
    """The conversion of a scan's light to density.

    Attributes:
        channels: the channel of each of the picture's samples, in order.
        clear: light of the empty gate, (samples,) [of full scale].
        dark: recorded value without light, (samples,) [of full scale].
        maps: map from apparent to true density of each channel; empty without a calibration wedge.
        assumed_dark: True if dark was not given and is assumed to be zero.
    """

    channels: tuple[Channel, ...]
    clear: FloatArray
    dark: FloatArray
    maps: tuple[ScanMap, ...] = ()
    assumed_dark: bool = False

    def __post_init__(self) -> None:
        if not (self.clear > self.dark).all():
            raise StripError(
                "the clear value is not brighter than the dark one",
                where="calibration",
                needed="clear: light through the empty gate; dark: light with the gate closed",
            )

    def for_picture(self, picture: FloatArray) -> Calibration:
        """Return the calibration for a picture, its flare scaled by the picture's mean light.

        Args:
            picture: light of the whole picture, (rows, columns, samples) [of full scale].
        """
        if not self.maps:
            return self
        surround = self.apparent(picture.mean(axis=(0, 1)))
        return replace(self, maps=tuple(m.for_surround(float(s)) for m, s in zip(self.maps, surround, strict=True)))

    def lit(self, clear: FloatArray | None) -> FloatArray:
        """Return clear light at a place over the typical clear light, (..., samples) [unitless]; ones if not known."""
        typical = self.clear - self.dark
        return np.ones_like(typical) if clear is None else np.asarray((clear - self.dark) / typical)

    def apparent(self, light: ArrayLike, clear: FloatArray | None = None) -> FloatArray:
        """Return (light - dark) / (clear - dark), (..., samples) [unitless].

        Args:
            light: recorded light, (..., samples) [of full scale].
            clear: light of the empty gate at the place, if measured there, same shape [of full scale].
        """
        above = (self.clear if clear is None else clear) - self.dark
        return np.asarray((np.asarray(light, dtype=np.float64) - self.dark) / above)

    def transmittance(self, light: ArrayLike, clear: FloatArray | None = None) -> FloatArray:
        """Return apparent transmittance, without flare where a wedge shows it, (..., samples) [unitless]."""
        apparent, lit = self.apparent(light, clear), self.lit(clear)
        if not self.maps:
            return apparent
        return np.stack([m.transmittance(apparent[..., i], lit[..., i]) for i, m in enumerate(self.maps)], axis=-1)

    def density(self, light: ArrayLike, clear: FloatArray | None = None) -> FloatArray:
        """Return density, (..., samples) [density]; NaN without light, and beyond the wedge's own densities."""
        apparent, lit = self.apparent(light, clear), self.lit(clear)
        if not self.maps:
            return density(apparent)
        return np.stack([m.density(apparent[..., i], lit[..., i]) for i, m in enumerate(self.maps)], axis=-1)

    def error(self, light: ArrayLike, light_error: ArrayLike, clear: FloatArray | None = None) -> FloatArray:
        """Return the standard uncertainty of `density`, (..., samples) [density].

        Without a calibration wedge flare is not known: 0.2 % of the clear light is assumed as its standard uncertainty,
        and since flare can only hide density, the effect on the dense side counts. Where ``clear`` is None, light may
        be uneven, which adds 0.01 of density.

        Args:
            light, clear: as for `density`.
            light_error: standard error of the light, same shape [of full scale].
        """
        apparent, lit = self.apparent(light, clear), self.lit(clear)
        step = self._relative(light_error, lit)
        uneven = ASSUMED_UNEVEN if clear is None else 0.0
        if not self.maps:
            return np.hypot(np.hypot(_of_density(step, apparent), _hidden(apparent, ASSUMED_FLARE / lit)), uneven)
        errors = [m.error(apparent[..., i], step[..., i], lit[..., i]) for i, m in enumerate(self.maps)]
        return np.hypot(np.stack(errors, axis=-1), uneven)

    def scatter(self, light: ArrayLike, light_error: ArrayLike, clear: FloatArray | None = None) -> FloatArray:
        """Return the part of `error` that differs from patch to patch, from the light alone; arguments as there."""
        return _of_density(self._relative(light_error, self.lit(clear)), self.transmittance(light, clear))

    def _relative(self, light_error: ArrayLike, lit: FloatArray) -> FloatArray:
        """Return an error of light as an error of apparent transmittance."""
        return np.asarray(np.asarray(light_error, dtype=np.float64) / ((self.clear - self.dark) * lit))


def _hidden(apparent: FloatArray, flare: FloatArray) -> FloatArray:
    """Return half of the density that twice the flare would hide [density]; NaN without light."""
    left = np.maximum(apparent - 2.0 * flare, _LEAST_LEFT * apparent)
    return np.asarray(0.5 * (density(left) - density(apparent)))


def _of_density(error: FloatArray, transmittance: FloatArray) -> FloatArray:
    """Return an error of transmittance as an error of density; NaN without light."""
    return np.asarray(error / np.where(transmittance > 0, transmittance, np.nan) / math.log(10.0))
