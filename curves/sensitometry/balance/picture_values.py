"""The map of a picture's numbers to the numbers of the balanced picture, one for each number that a picture can hold.

A number becomes light by the picture's encoding, light a density by the scanner's calibration, density a balanced
density by the tone map; that becomes light again, of which full scale is the open gate, and a number by the encoding
that the picture came with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves.errors import StripError
from curves.sensitometry.balance.tone import ToneMap
from curves.sensitometry.core.units import BoolArray, Channel, FloatArray, density, transmittance
from curves.sensitometry.scan.density_map import Calibration
from curves.sensitometry.scan.encoding import Encoding

FULL = 65535
"""Greatest number of a picture of 16 bits [unitless]."""

_LEAST_LIGHT = 1e-5
"""Least transmittance that a number stands for, a density of 5: our own choice [unitless]."""


@dataclass(frozen=True, eq=False)
class ValueTable:
    """The number that each number of a picture becomes.

    Attributes:
        channels: the channel of each of a picture's samples, in order.
        encoding: the rule by which the numbers of both pictures stand for light.
        values: the number that each number from 0 to 65535 becomes, (65536, samples).
        beyond: True where a number lies beyond the densities that the strip shows, (65536, samples).
    """

    channels: tuple[Channel, ...]
    encoding: Encoding
    values: NDArray[np.uint16]
    beyond: BoolArray

    def applied(self, numbers: NDArray[np.uint16]) -> NDArray[np.uint16]:
        """Return the balanced numbers of a picture, (rows, columns, samples)."""
        found = np.empty(numbers.shape, np.uint16)
        for sample in range(len(self.channels)):
            np.take(self.values[:, sample], numbers[..., sample], out=found[..., sample])
        return found


def value_table(maps: Mapping[Channel, ToneMap], calibration: Calibration, encoding: Encoding) -> ValueTable:
    """Return the table of the numbers of a picture of 16 bits.

    Args:
        maps: the map of each channel.
        calibration: the scanner's, from light to density.
        encoding: the rule by which the picture's numbers stand for light.

    Raises:
        StripError: the calibration is for pictures of other channels than the strip has.
    """
    if tuple(maps) != calibration.channels:
        raise StripError(
            f"the strip has {', '.join(maps)}, and the calibration is for {', '.join(calibration.channels)}",
            where="calibration",
            needed="strip and pictures scanned alike, both in colour or both in grey",
        )
    light = encoding.linearise(np.arange(FULL + 1) / FULL)
    scanned = density_of_light(calibration, light)
    columns, beyond = [], []
    for i, tone_map in enumerate(maps.values()):
        thin, dense = tone_map.known
        columns.append(np.rint(FULL * encoding.numbers(transmittance(tone_map.at(scanned[:, i])))).astype(np.uint16))
        beyond.append((scanned[:, i] < thin) | (scanned[:, i] > dense))
    return ValueTable(tuple(maps), encoding, np.stack(columns, axis=1), np.stack(beyond, axis=1))


def density_of_light(calibration: Calibration, light: FloatArray) -> FloatArray:
    """Return the density that every light stands for, (n, samples) [density].

    Beyond the densities of a calibration wedge, density goes on as the light does; light of less than 1/100,000 of the
    open gate counts as that much.

    Args:
        calibration: the scanner's.
        light: one for all samples, rising, (n,) [of full scale].
    """
    samples = len(calibration.channels)
    each = np.repeat(light[:, None], samples, axis=1)
    left = density(np.maximum(calibration.transmittance(each), _LEAST_LIGHT))
    if not calibration.maps:
        return left
    known = calibration.density(each)
    for i in range(samples):
        there = np.flatnonzero(np.isfinite(known[:, i]))
        for end, part in ((there[0], slice(None, there[0])), (there[-1], slice(there[-1] + 1, None))):
            known[part, i] = known[end, i] + left[part, i] - left[end, i]
    return known
