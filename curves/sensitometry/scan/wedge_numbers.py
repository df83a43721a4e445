"""The encoding of a picture found from a wedge of known densities in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.density_map import LEAST_SLOPE, MOST_SLOPE, fit_light
from curves.sensitometry.scan.encoding import LINEAR, MOST_EXPONENT, SRGB, Encoding, power

_TIMES, _IN_LINE = 1.5, 0.012
"""An encoding is possible whose residual is so many times the least one, or so small [unitless, density]: our own."""

_FEWEST_STEPS = 6
"""Least number of a wedge's steps that tell encodings apart: our own choice [unitless]."""


@dataclass(frozen=True)
class EncodingFit:
    """An encoding tried on a calibration wedge.

    Attributes:
        encoding: the encoding.
        residual: root mean square difference of the wedge's densities from the line that light in proportion draws,
            flare allowed for [density].
        slope: change of log light for each 1.00 of known density: 1 where light is in proportion [unitless].
        possible: True if the wedge allows the encoding.
    """

    encoding: Encoding
    residual: float
    slope: float
    possible: bool = False


@dataclass(frozen=True, eq=False)
class WedgeNumbers:
    """The numbers of a calibration wedge in its picture, as they stand there.

    Attributes:
        known: density of each step, (n,) [density].
        step: number of each step, (n, samples) [of full scale]; NaN where it could not be read.
        clear: number of the empty gate in the place of each step, same shape [of full scale].
        dark: number without light, (samples,) [of full scale].
    """

    known: FloatArray
    step: FloatArray
    clear: FloatArray
    dark: FloatArray

    def fits(self, *more: Encoding) -> tuple[EncodingFit, ...]:
        """Return the encodings that were tried, the possible ones first, each group by its residual.

        Tried are linear, sRGB, the power law that fits best and, where it does as well, the one with a rounded
        exponent, and any others that are asked for. An encoding is possible if log light falls by 0.8 to 1.25 for each
        1.00 of known density, and no other such encoding leaves less than half of its residual.

        Args:
            more: other encodings to try.
        """
        best = self._power()
        tried = [self._fit(e) for e in dict.fromkeys((LINEAR, SRGB, *more))]
        tried += [] if best is None else [self._fit(power(round(best, 1))), self._fit(power(round(best, 2)))]
        straight = [fit for fit in tried if LEAST_SLOPE <= fit.slope <= MOST_SLOPE]
        most = max(_TIMES * min((fit.residual for fit in straight), default=0.0), _IN_LINE)
        judged = [
            EncodingFit(fit.encoding, fit.residual, fit.slope, fit in straight and fit.residual <= most)
            for fit in {fit.encoding: fit for fit in tried}.values()
        ]
        return tuple(sorted(judged, key=lambda fit: (not fit.possible, fit.residual)))

    def _power(self) -> float | None:
        """Return the exponent that makes light fall in proportion; None if it is next to 1 or no encoding's."""
        exponent = 2.2
        for _ in range(4):
            exponent = min(max(exponent / self._fit(power(exponent)).slope, 0.5), 2.0 * MOST_EXPONENT)
        return exponent if MOST_SLOPE < exponent <= MOST_EXPONENT else None

    def _fit(self, encoding: Encoding) -> EncodingFit:
        """Return an encoding with its residual and slope, the means of the samples."""
        dark = encoding.linearise(self.dark)
        clear = encoding.linearise(self.clear)
        light = (encoding.linearise(self.step) - dark) / (clear - dark)
        lit = (clear - dark) / np.median(clear - dark, axis=0)
        found = []
        for sample in range(self.step.shape[1]):
            read = np.isfinite(light[:, sample]) & (light[:, sample] > 0.0)
            if read.sum() < _FEWEST_STEPS:
                return EncodingFit(encoding, np.inf, np.nan)
            order = np.argsort(self.known[read])
            model = fit_light(light[read, sample][order], self.known[read][order], lit[read, sample][order], 0.01)
            found.append((model.residual, model.slope))
        residual, slope = np.mean(found, axis=0)
        return EncodingFit(encoding, float(residual), float(slope))
