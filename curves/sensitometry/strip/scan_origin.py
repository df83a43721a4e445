"""The scan that the densities of a strip come from, with remarks on single patches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from curves.sensitometry.core.units import Channel, FloatArray


@dataclass(frozen=True)
class Flag:
    """A remark on a patch, numbered from 1: a code for machines, a clause for people; on one channel, or on all."""

    patch: int
    code: str
    message: str
    channel: Channel | None = None


@dataclass(frozen=True)
class ScanOrigin:
    """The scan of a strip, and the way from its light to density.

    Attributes:
        image: name of the scan.
        by_wedge: True if a calibration wedge tells density, False if clear and dark alone do.
        flags: remarks on single patches, numbered as the rows of the strip's readings, from 1.
        calibration: what tells density is called; scans that share it share its error.
        common: by channel, for each row of the readings, the part of its standard uncertainty that it has in common
            with the others, (rows,) [density]; NaN where it is not known.
        doubts: why the calibration itself is doubtful, each a sentence.
    """

    image: str
    by_wedge: bool
    flags: tuple[Flag, ...] = ()
    calibration: str = ""
    common: Mapping[Channel, FloatArray] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()

    def scale_error(self, channel: Channel, readings: FloatArray, density: FloatArray) -> FloatArray:
        """Return the standard uncertainty of the scan's scale at densities, any shape [density].

        Between the densities of the patches it runs straight, and beyond them it stays.

        Args:
            channel: which one; a channel that was not scanned, such as an estimated one, takes the layers' mean.
            readings: densities of the rows in that channel, (rows,) [density].
            density: where to know it [density].
        """
        if channel in self.common:
            errors = self.common[channel]
        elif self.common:
            errors = np.mean(list(self.common.values()), axis=0)
        else:
            return np.zeros_like(density)
        known = np.isfinite(errors) & np.isfinite(readings)
        if not known.any():
            return np.zeros_like(density)
        order = np.argsort(readings[known])
        return np.asarray(np.interp(density, readings[known][order], errors[known][order]))

    def notes(self, patch: int, channel: Channel) -> str | None:
        """Return the remarks on a patch in a channel, as a clause; None if there are none."""
        found = [f.message for f in self.flags if f.patch == patch and f.channel in (None, channel)]
        return "; ".join(found) or None
