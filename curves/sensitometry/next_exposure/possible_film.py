"""Films that a strip leaves possible, and the readings that another exposure of one of them would give.

Each is one row of the strip's ensembles: a curve in every channel that was read, with the errors of exposure and of
the meter that belong to the row, and a scatter of readings out of those that the strip's own leave open. Beyond the
strip a curve goes on to the Dmin or Dmax of its row, as fast as it moves at the strip's end. Where the strip shows no
such end, nothing is known but how fast the curve still moves there, and the end is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.core.units import PATCH_NAMES, STOP, Channel, FloatArray, PatchName
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY
from curves.sensitometry.curve.posterior import Scatter
from curves.sensitometry.measures import points
from curves.sensitometry.measures.points import Extreme
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import step_uncertainty

LEFT = (0.5, 3.0)
"""What a curve that still moves at the strip's end has left, in its movement over the last stop, drawn evenly: as much
as an end has that keeps from a third to three quarters of its movement from stop to stop, our own choice [unitless]."""

_LEAST_DENSITY = 0.02
"""No film support is clearer: common practice [density]."""


@dataclass(frozen=True, eq=False)
class PossibleCurve:
    """One possible curve of one channel, on the strip and beyond.

    Attributes:
        grid, density: the curve on the strip, (g,) [log10], [density].
        ends: density far beyond the least and the most exposed end [density].
        slopes: gradient at either end, falling or rising [density per log10 H].
        base: density of the support [density].
        noise: standard deviation of one reading [density].
    """

    grid: FloatArray
    density: FloatArray
    ends: tuple[float, float]
    slopes: tuple[float, float]
    base: float
    noise: float

    def at(self, log_h: FloatArray) -> FloatArray:
        """Return the density at ``log_h``, any shape, counted as the first strip counts it [log10] -> [density]."""
        inside = np.interp(log_h, self.grid, self.density)
        before = self._beyond(0, self.grid[0] - log_h)
        after = self._beyond(1, log_h - self.grid[-1])
        return np.where(log_h < self.grid[0], before, np.where(log_h > self.grid[-1], after, inside))

    def _beyond(self, end: int, distance: FloatArray) -> FloatArray:
        """Return the density at a distance beyond one end of the strip: what is left dies away from the slope there."""
        last = float(self.density[-1 if end else 0])
        left = self.ends[end] - last
        if abs(left) < 1e-6:
            return np.full_like(distance, last)
        return np.asarray(self.ends[end] - left * np.exp(-np.maximum(distance, 0.0) * abs(self.slopes[end] / left)))


@dataclass(frozen=True, eq=False)
class PossibleFilm:
    """One film that a strip leaves possible.

    Attributes:
        curves: its curve in every channel that was read.
        exposure_error: how far true log H lies above the log H that the strip states [log10].
        tone_error: error of an index that lays a tone on the curve, beyond that of log H [log10].
        rng: random numbers of this film's readings.
    """

    curves: Mapping[Channel, PossibleCurve]
    exposure_error: float
    tone_error: float
    rng: np.random.Generator

    def exposed(self, strip: Strip, moved: float) -> Strip:
        """Return a strip with the readings that this film would give.

        Args:
            strip: the strip as its record would state it, with readings of any size at the steps that are read.
            moved: how far the log H that the film receives, counted as the first strip counts it, lies above the log H
                that this strip states [log10].
        """
        log_h = strip.log_h + moved + self._step_errors(strip)
        readings = {c: self._read(self.curves[c].at(log_h), c, strip.readings[c]) for c in strip.readings}
        patches = {name: self.patch(name, getattr(strip.patches, name)) for name in PATCH_NAMES}
        return replace(strip, readings=readings, patches=Patches(**patches))

    def read_again(self, strip: Strip, times: int) -> Strip:
        """Return the strip that the film comes from, with each step read so many times more."""
        steps = np.unique(strip.position, return_index=True)[1]
        noted = step_uncertainty(strip)
        readings = {}
        for channel, read in strip.readings.items():
            curve = self.curves[channel]
            of_noise, on = curve.noise**2, curve.at(strip.log_h)
            slope = (curve.at(strip.log_h + 0.01) - curve.at(strip.log_h - 0.01)) / 0.02
            of_step = (slope * noted) ** 2
            # What a step lies off the curve by is its exposure's error as far as that is likely, else misreading.
            share = of_step / (of_step + of_noise)
            true = on + share * (read - on) + np.sqrt(share * of_noise) * self.rng.standard_normal(on.size)
            more = [self._read(true[steps], channel, read[steps]) for _ in range(times)]
            readings[channel] = np.concatenate([read, *more])
        position = np.concatenate([strip.position, *[strip.position[steps]] * times])
        labels = (*strip.labels, *[strip.labels[i] for i in steps] * times)
        return replace(strip, position=position, readings=readings, labels=labels, scan=None)

    def patch(self, name: PatchName, channels: Mapping[Channel, float]) -> dict[Channel, float]:
        """Return one reading of a patch in the channels named [density]."""
        found = {}
        for c in channels:
            curve = self.curves[c]
            true = {"base": curve.base, "unexposed": curve.ends[0], "fully_exposed": curve.ends[1]}[name]
            found[c] = float(true + curve.noise * self.rng.standard_normal())
        return found

    def _read(self, true: FloatArray, channel: Channel, like: FloatArray) -> FloatArray:
        """Return readings of true densities, with nothing where ``like`` has nothing [density]."""
        read = true + self.curves[channel].noise * self.rng.standard_normal(true.shape)
        return np.where(np.isfinite(like), read, np.nan)

    def _step_errors(self, strip: Strip) -> FloatArray:
        """Return errors of log H from step to step, one for each row and alike at the same position [log10]."""
        drawn = self.rng.standard_normal(int(strip.step_of_row.max()))
        return np.asarray(step_uncertainty(strip) * drawn[strip.step_of_row - 1])


def possible_films(analysis: Analysis, count: int, rng: np.random.Generator) -> list[PossibleFilm]:
    """Return films that a strip leaves possible.

    Args:
        analysis: results of the strip, with at least ``count`` draws.
        count: how many films.
        rng: random numbers, of which each film gets its own.
    """
    read = {c: f for c, f in analysis.channels.items() if not f.estimated}
    one_reading = analysis.strip.repeatability or ASSUMED_REPEATABILITY
    known = {c: _ChannelPosterior.of(f.ensemble, f.curve.scatter.scaled(one_reading)) for c, f in read.items()}
    of_all = next(iter(read.values())).ensemble
    films = []
    for row, own in zip(1 + rng.choice(analysis.draws, count, replace=False), rng.spawn(count), strict=True):
        left = own.uniform(*LEFT)
        curves = {c: posterior.curve(int(row), left, own) for c, posterior in known.items()}
        films.append(PossibleFilm(curves, float(of_all.log_h_error[row]), float(of_all.tone_error[row]), own))
    return films


@dataclass(frozen=True, eq=False)
class _ChannelPosterior:
    """One channel as a strip leaves it open: its ensemble, its thin and its dense end, and the scatter of a reading.

    Attributes:
        ensemble: the curves.
        thin, dense: Dmin and Dmax.
        scatter: how far the readings leave open what one of them scatters by [density].
    """

    ensemble: Ensemble
    thin: Extreme
    dense: Extreme
    scatter: Scatter

    @classmethod
    def of(cls, ensemble: Ensemble, scatter: Scatter) -> _ChannelPosterior:
        """Return the posterior of an ensemble."""
        return cls(ensemble, points.dmin(ensemble), points.dmax(ensemble), scatter)

    def curve(self, row: int, left: float, rng: np.random.Generator) -> PossibleCurve:
        """Return one row as a curve that goes on beyond the strip.

        Args:
            row: the row.
            left: what an end that still moves has left, in its movement over the last stop [unitless].
            rng: random numbers for the scatter of a reading, and for the support where it was not read.
        """
        ensemble = self.ensemble
        density, slopes = ensemble.density[row], (float(ensemble.gradient[row, 0]), float(ensemble.gradient[row, -1]))
        support = ensemble.patches.get("base")
        thinnest = max(float(density.min()), 2.0 * _LEAST_DENSITY)
        base = float(rng.uniform(_LEAST_DENSITY, thinnest)) if support is None else float(support[row])
        ends = []
        for end in (0, -1):
            last, still = float(density[end]), left * STOP * abs(slopes[end])
            lowest = (end == -1) == (ensemble.kind == "reversal")
            extreme = self.thin if lowest else self.dense
            if extreme.reached:
                ends.append(float(extreme.rows[row]))
            elif lowest:
                ends.append(max(last - still, min(base, last)))
            else:
                ends.append(last + still)
        noise = float(self.scatter.draw(1, rng)[1])
        return PossibleCurve(ensemble.grid, density, (ends[0], ends[1]), slopes, base, noise)
