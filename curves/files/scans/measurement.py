"""A scan measured: from a picture and its calibration to the density of every patch.

Scan (picture + encoding) ── calibrate ──► Stored ─┐
  │                                                ├─► measure ──► Measured: densities, errors, flags
  └── where the patches are: found, or given ──────┘
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.files.scans.light import UNREADABLE, Light, clear_at
from curves.files.scans.scan import Scan
from curves.files.strips.calibration import channels_of
from curves.files.strips.patch_table import _CORNERS, _STATISTICS, Areas
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.scan.density_map import Calibration
from curves.sensitometry.scan.patch_light import PatchLight, patch_flags
from curves.sensitometry.strip.exposure import Position
from curves.sensitometry.strip.origin import Flag

_ROUNDED = 1.0 / 12.0**0.5
"""Standard uncertainty by rounding to whole numbers [of one]."""


@dataclass(frozen=True, eq=False)
class ScanMeasurement:
    """A scan's patches.

    Attributes:
        areas: the places that were measured, and their numbers in the table.
        lights: of each patch in each sample.
        density: (patches, samples) [density]; NaN where there is none; a flag says why.
        error: standard uncertainty of the density, same shape [density].
        scatter: the part of the error that differs from patch to patch, same shape [density].
        flags: remarks on single patches; their steps count from 1 in the order of the areas.
    """

    areas: Areas
    lights: tuple[tuple[PatchLight, ...], ...]
    density: FloatArray
    error: FloatArray
    scatter: FloatArray
    flags: tuple[Flag, ...]


def measure(scan: Scan, areas: Areas, calibration: Calibration, light: Light) -> ScanMeasurement:
    """Measure every patch.

    Args:
        scan: the picture.
        areas: the places of the patches.
        calibration: the density that light stands for in this picture.
        light: clear and dark; the scan of the empty gate, if there is one, takes out uneven light.
    """
    patches = tuple(scan.area(corners) for corners in areas.corners)
    clear = clear_at(scan, light, list(areas.corners))
    level = np.array([[p.light for p in patch] for patch in patches])
    scattered = np.array([[p.error for p in patch] for patch in patches])
    # Light is rounded to whole numbers: with little noise, the same way in all of a patch.
    light_error = np.hypot(scattered, _ROUNDED * scan.code_at(level))
    clipped = np.array([[max(p.clipped_low, p.clipped_high) > UNREADABLE for p in patch] for patch in patches])
    density = np.where(clipped, np.nan, calibration.density(level, clear))
    read = np.isfinite(density)
    error, scatter = (
        np.where(read, of(level, light_error, clear), np.nan) for of in (calibration.error, calibration.scatter)
    )
    flags = []
    for row, patch in enumerate(patches):
        for sample, channel in enumerate(channels_of(scan.facts.samples)):
            found = patch_flags(row + 1, channel, patch[sample])
            if not np.isfinite(density[row, sample]) and not clipped[row, sample]:
                thin = level[row, sample] > float(calibration.clear[sample] + calibration.dark[sample]) / 2.0
                found.append(Flag(row + 1, "beyond-scale", _beyond(calibration, sample, thin=bool(thin)), channel))
            flags += found
    return ScanMeasurement(areas, patches, density, error, scatter, tuple(flags))


def _beyond(calibration: Calibration, sample: int, *, thin: bool) -> str:
    """Return the reason for which a patch has no density."""
    if calibration.maps and thin:
        return "the patch is thinner than the calibration wedge's thinnest step; not read"
    if not calibration.maps:
        return "no light is left above dark: denser than the scan can show; not read"
    densest = calibration.maps[sample].densest
    return f"the patch lies beyond the calibration wedge, whose densest step is {densest:.2f}; not read"


def patches_text(measured: ScanMeasurement, channels: Sequence[Channel]) -> str:
    """Return the table of patches (CSV): their places, the uncertainty of their light, and the flags.

    Args:
        measured: the patches.
        channels: those of the samples of a pixel.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    column: Position = measured.areas.column
    writer.writerow([column, *_CORNERS, *(f"{c}_{what}" for c in channels for what in _STATISTICS), "flags"])
    for row, position in enumerate(measured.areas.positions):
        statistics = []
        for sample, light in enumerate(measured.lights[row]):
            error, scatter = measured.error[row, sample], measured.scatter[row, sample]
            common = np.sqrt(max(error**2 - scatter**2, 0.0))
            statistics += [
                f"{error:.4f}" if np.isfinite(error) else "",
                f"{common:.4f}" if np.isfinite(common) else "",
                f"{light.unevenness:.3f}" if np.isfinite(light.unevenness) else "",
                f"{max(light.clipped_low, light.clipped_high):.4f}",
                f"{light.dust:.4f}",
            ]
        flags = " | ".join(
            f"{f.code} {f.channel}: {f.message}" if f.channel else f"{f.code}: {f.message}"
            for f in measured.flags
            if f.patch == row + 1
        )
        corners = [f"{v:.2f}" for v in measured.areas.corners[row].ravel()]
        writer.writerow([f"{position:g}", *corners, *statistics, flags])
    return out.getvalue()
