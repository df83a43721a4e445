"""A filter's own density from two pictures of one light: beside the filter, and through it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.scans.scan import Scan, another
from curves.files.strips.calibration import channels_of
from curves.sensitometry.core.units import LAYERS, FloatArray, density
from curves.sensitometry.filters.densities import Filter, default_uncertainty, filter_of
from curves.sensitometry.scan.patch_light import PatchLight

_MOST_CLIPPED = 0.001
"""Share of clipped pixels from which a patch is not measured: our own choice [unitless]."""

_LEAST_DENSITY = -0.02
"""Least density that noise gives a clear filter: our own choice [density]."""

_MIDDLE = (0.35, 0.65)
"""The part of a picture that is measured where no place is given [of its sides]."""


@dataclass(frozen=True)
class FilterPictures:
    """A filter as two pictures show it.

    Attributes:
        one: the filter.
        scatter: standard uncertainty of each density by the pictures alone, (3,) [density].
    """

    one: Filter
    scatter: tuple[float, ...]


def filter_of_pictures(beside: Scan, through: Path, name: str, place: FloatArray | None) -> FilterPictures:
    """Return the filter that two pictures show, taken with one exposure.

    Args:
        beside: the light without the filter, read by its encoding.
        through: the picture through the filter.
        name: what the filter is to be called.
        place: corners of the place that is measured in both, (4, 2) [pixels]; the middle of the picture if None.

    Raises:
        RecordError: a picture is grey or clipped, or shows more light through the filter than beside it.
    """
    if channels_of(beside.facts.samples) != LAYERS:
        raise RecordError(
            "the picture is grey, and a filter is chosen by its density to each layer",
            where=beside.facts.path.name,
            needed="pictures in red, green and blue",
        )
    open_light = _light(beside, place)
    with another(beside, through) as other:
        behind = _light(other, place)
    dark = np.array(beside.facts.dark or (0.0,) * len(LAYERS))
    levels = np.array([[patch.light for patch in found] for found in (open_light, behind)]) - dark
    if not (levels > 0.0).all():
        raise RecordError(
            "no light is left above dark", where=through.name, needed="a longer exposure, for both pictures"
        )
    found = density(levels[1] / levels[0])
    if found.min() < _LEAST_DENSITY:
        raise RecordError(
            f"there is more light through the filter than beside it: density {found.min():.2f}",
            where=through.name,
            needed="the picture beside the filter first; aperture, time and lamp the same in both",
        )
    errors = np.array([[patch.error for patch in patches] for patches in (open_light, behind)])
    rounded = np.array([scan_light * 12.0**-0.5 for scan_light in map(beside.code_at, levels)])
    scatter = np.hypot(*(np.hypot(errors, rounded) / levels)) / np.log(10.0)
    densities = np.maximum(found, 0.0)
    own = default_uncertainty(densities.tolist(), "camera")
    one = filter_of(name, densities.tolist(), "camera", uncertainty=round(float(np.hypot(own, scatter.max())), 3))
    return FilterPictures(one, tuple(float(s) for s in scatter))


def _light(scan: Scan, place: FloatArray | None) -> tuple[PatchLight, ...]:
    low, high = _MIDDLE
    corners = np.array([[low, low], [high, low], [high, high], [low, high]]) * [scan.facts.width, scan.facts.height]
    found = scan.area(corners if place is None else place)
    for channel, patch in zip(LAYERS, found, strict=True):
        if patch.clipped_high > _MOST_CLIPPED:
            raise RecordError(
                f"{channel} is beyond the scale: its light is not known",
                where=scan.facts.path.name,
                needed="a shorter exposure, the same for both pictures",
            )
    return found
