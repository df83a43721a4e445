"""A scan measured: from a picture and what is known of it to the density of every patch.

Scan (picture + encoding) ── calibrate ──► Stored ─┐
  │                                                ├─► measure ──► Measured: densities, errors, flags
  └── where the patches are: found, or given ──────┘
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from curves.errors import RecordError, StripError
from curves.files.calibration import Stored, WedgeLight, channels_of
from curves.files.images import Image, open_image
from curves.files.places import Areas, Reference
from curves.sensitometry.encoding import Encoding, signs_of_encoding
from curves.sensitometry.ladder import Ladder, Search, find_ladder
from curves.sensitometry.patches import FEWEST_PIXELS, Flag, PatchLight, flags_of, inside, patch_light
from curves.sensitometry.scan_density import Calibration
from curves.sensitometry.units import FloatArray, Kind
from curves.sensitometry.wedge import Wedge

MOST_PIXELS = 2_000_000
"""Pixels of an area that are measured at most; of a larger one its middle: our own choice [unitless]."""

UNREADABLE = 0.05
"""Share of clipped pixels from which a patch's reading is left out: our own choice [unitless]."""

_LONGEST = 1200


class Scan:
    """An open picture whose numbers are read as light. A context manager.

    Args:
        path: the picture.
        encoding: how its numbers stand for light.

    Raises:
        RecordError: the picture cannot be read.
    """

    def __init__(self, path: Path, encoding: Encoding) -> None:
        self.image: Image = open_image(path)
        self.facts = self.image.facts
        self.encoding = encoding
        self.full_scale = float(2**self.facts.bits - 1)
        self._whole: tuple[FloatArray, int] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.image.close()

    def whole(self) -> tuple[FloatArray, int]:
        """Return light of the whole picture made small, (rows, columns, samples) [of full scale], and the factor."""
        if self._whole is None:
            # The whole file is read for it: once is enough.
            small, factor = self.image.reduced(_LONGEST)
            self._whole = self.encoding.linearise(small), factor
        return self._whole

    def area(self, corners: FloatArray) -> tuple[PatchLight, ...]:
        """Measure an area in each sample; of a large one, its middle.

        Args:
            corners: going round, (4, 2) [pixels].

        Raises:
            RecordError: there are too few pixels in it.
        """
        corners = _middle(corners)
        low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
        high = np.minimum(np.ceil(corners.max(axis=0)).astype(int), [self.facts.width, self.facts.height])
        if (high <= low).any():
            raise RecordError("an area lies outside the picture", where=self.facts.path.name)
        within = inside(corners - low, int(high[1] - low[1]), int(high[0] - low[0]))
        if within.sum() < FEWEST_PIXELS:
            raise RecordError(
                f"an area has only {int(within.sum())} pixels",
                where=self.facts.path.name,
                needed=f"at least {FEWEST_PIXELS}",
                hint="scan at a higher resolution",
            )
        numbers = self.image.region(int(low[1]), int(low[0]), int(high[1]), int(high[0]))
        found = []
        for sample in range(self.facts.samples):
            raw = numbers[..., sample] / self.full_scale
            found.append(patch_light(self.encoding.linearise(raw), raw, within))
        return tuple(found)

    def lights(self, areas: Sequence[FloatArray]) -> FloatArray:
        """Return the mean light of several areas, (areas, samples) [of full scale]."""
        return np.array([[found.light for found in self.area(corners)] for corners in areas])

    def doubt(self) -> str:
        """Return why the picture looks encoded although it is read as linear, as a clause; empty if it does not."""
        if self.encoding.exponent != 1.0:
            return ""
        if self.facts.encoded:
            return self.facts.encoded
        height, width = min(self.facts.height, 700), min(self.facts.width, 700)
        top, left = (self.facts.height - height) // 2, (self.facts.width - width) // 2
        return signs_of_encoding(self.image.region(top, left, top + height, left + width), self.facts.bits)


def _middle(corners: FloatArray) -> FloatArray:
    """Return the corners of an area, drawn in to its middle if it is larger than need be."""
    extent = float(np.prod(np.ptp(corners, axis=0)))
    if extent <= MOST_PIXELS:
        return corners
    centre = corners.mean(axis=0)
    return np.asarray(centre + (corners - centre) * (MOST_PIXELS / extent) ** 0.5)


@dataclass(frozen=True, eq=False)
class Light:
    """Clear and dark, as they were given; a picture of the empty gate also tells how light falls off.

    Attributes:
        clear, dark: light, (samples,) [of full scale].
        assumed_dark: True if nobody said what dark is.
        field: the scan of the empty gate; None if clear was given in another way.
    """

    clear: FloatArray
    dark: FloatArray
    assumed_dark: bool
    field: Path | None = None


def light_of(scan: Scan, clear: Reference, dark: Reference | None) -> Light:
    """Return what clear and dark are.

    Raises:
        RecordError: they cannot be measured, or another scan has other settings.
    """
    above = _level(scan, clear)
    below = np.zeros(scan.facts.samples) if dark is None else _level(scan, dark)
    if not (above > below).all():
        raise RecordError(
            "clear is not brighter than dark",
            where="--clear, --dark",
            needed="clear: light through the empty gate; dark: light with the gate closed",
        )
    return Light(above, below, dark is None, clear.picture)


def _level(scan: Scan, given: Reference) -> FloatArray:
    if given.values is not None:
        return scan.encoding.linearise(given.values)
    if given.area is not None:
        return _lights_of(scan, given.area)
    assert given.picture is not None
    with another(scan, given.picture) as other:
        width, height = other.facts.width, other.facts.height
        # The middle of the frame: a holder may hide its sides.
        sides = np.array([[0.35, 0.35], [0.65, 0.35], [0.65, 0.65], [0.35, 0.65]]) * [width, height]
        return _lights_of(other, sides)


def _lights_of(scan: Scan, area: FloatArray) -> FloatArray:
    found = scan.area(area)
    if max(patch.clipped_high for patch in found) > UNREADABLE:
        raise RecordError(
            "the light there is beyond the scale: how bright it is, nobody can tell",
            where=scan.facts.path.name,
            needed="clear and dark inside the scale",
            hint="scan with less light, or give the value with --clear",
        )
    return np.array([patch.light for patch in found])


def another(scan: Scan, path: Path) -> Scan:
    """Open another scan of the same settings.

    Raises:
        RecordError: it cannot be read, or has other samples or bits.
    """
    other = Scan(path, scan.encoding)
    if (other.facts.samples, other.facts.bits) != (scan.facts.samples, scan.facts.bits):
        other.image.close()
        raise RecordError(
            f"it has {other.facts.samples} samples of {other.facts.bits} bits, and {scan.facts.path.name}"
            f" {scan.facts.samples} of {scan.facts.bits}",
            where=path.name,
            needed="scans made with the same settings",
        )
    return other


def clear_at(scan: Scan, light: Light, areas: Sequence[FloatArray]) -> FloatArray | None:
    """Return the empty gate's light in each area, (areas, samples) [of full scale]; None if no scan shows it.

    Raises:
        RecordError: the scan of the empty gate has another size, or shows no light there.
    """
    if light.field is None:
        return None
    with another(scan, light.field) as empty:
        if (empty.facts.width, empty.facts.height) != (scan.facts.width, scan.facts.height):
            raise RecordError(
                f"it is {empty.facts.width} x {empty.facts.height} pixels, and {scan.facts.path.name}"
                f" {scan.facts.width} x {scan.facts.height}",
                where=light.field.name,
                needed="the empty gate scanned in the same frame",
            )
        found = empty.lights(areas)
    if not (found > light.dark + 0.1 * (light.clear - light.dark)).all():
        raise RecordError(
            "it is dark where the strip lies",
            where=light.field.name,
            needed="a scan of the empty gate, nothing in front of the light",
            hint="give clear as values or as an area with --clear",
        )
    return found


def wedge_light(scan: Scan, light: Light, ladder: Ladder, wedge: Wedge) -> WedgeLight:
    """Return a calibration wedge as it was scanned.

    Args:
        scan: the picture that it lies in.
        light: clear and dark.
        ladder: where its steps are.
        wedge: its known densities.
    """
    uncertainty = None if wedge.assumed else float(np.median(wedge.uncertainty))
    areas = [ladder.patch(step) for step in range(1, ladder.steps + 1)]
    patches = [scan.area(corners) for corners in areas]
    clear = clear_at(scan, light, areas)
    lit = (
        np.ones((ladder.steps, scan.facts.samples))
        if clear is None
        else (clear - light.dark) / (light.clear - light.dark)
    )
    seen = np.array([[p.light if max(p.clipped_low, p.clipped_high) <= UNREADABLE else np.nan for p in patch]
                     for patch in patches])  # fmt: skip
    apparent = (seen - light.dark) / ((light.clear - light.dark) * lit)
    whole, _ = scan.whole()
    surround = (whole.mean(axis=(0, 1)) - light.dark) / (light.clear - light.dark)
    return WedgeLight(wedge.density, uncertainty, apparent, lit, surround)


@dataclass(frozen=True, eq=False)
class Measured:
    """A scan's patches.

    Attributes:
        areas: what was measured, and how it is listed.
        lights: of each patch in each sample.
        density: (patches, samples) [density]; NaN where there is none, which a flag explains.
        error: its standard uncertainty, same shape [density].
        flags: what to mind of single patches; their steps count from 1 in the order of the areas.
    """

    areas: Areas
    lights: tuple[tuple[PatchLight, ...], ...]
    density: FloatArray
    error: FloatArray
    flags: tuple[Flag, ...]


def measure(scan: Scan, areas: Areas, calibration: Calibration, light: Light) -> Measured:
    """Measure every patch.

    Args:
        scan: the picture.
        areas: where the patches are.
        calibration: how light stands for density, in this picture.
        light: clear and dark; the scan of the empty gate, if there is one, takes out uneven light.
    """
    patches = tuple(scan.area(corners) for corners in areas.corners)
    clear = clear_at(scan, light, list(areas.corners))
    level = np.array([[p.light for p in patch] for patch in patches])
    scatter = np.array([[p.error for p in patch] for patch in patches])
    density = calibration.density(level, clear)
    error = calibration.error(level, scatter, clear)
    clipped = np.array([[max(p.clipped_low, p.clipped_high) > UNREADABLE for p in patch] for patch in patches])
    density = np.where(clipped, np.nan, density)
    flags = []
    for row, patch in enumerate(patches):
        for sample, channel in enumerate(channels_of(scan.facts.samples)):
            found = flags_of(row + 1, channel, patch[sample])
            if not np.isfinite(density[row, sample]) and not clipped[row, sample]:
                found.append(Flag(row + 1, "beyond-scale", _beyond(calibration, sample), channel))
            flags += found
    return Measured(areas, patches, density, np.where(np.isfinite(density), error, np.nan), tuple(flags))


def _beyond(calibration: Calibration, sample: int) -> str:
    """Return why a patch has no density."""
    if not calibration.maps:
        return "no light is left above dark: denser than the scan can show; not read"
    return (
        f"it lies beyond the calibration wedge, whose densest step is {calibration.maps[sample].densest:.2f}; not read"
    )


def find_in(scan: Scan, steps: int, kind: Kind, area: FloatArray | None) -> Search:
    """Find the ladder of steps in a scan, or in an area of it.

    Args:
        scan: the picture.
        steps: how many steps there are.
        kind: which end is step 1.
        area: corners of the area to look in, (4, 2) [pixels]; all of it if None.

    Returns:
        The search, its ladders in the scan's own pixels.
    """
    whole, factor = scan.whole()
    if area is None:
        return _moved(find_ladder(whole, steps, kind), factor, np.zeros(2))
    low, high = np.floor(area.min(axis=0) / factor).astype(int), np.ceil(area.max(axis=0) / factor).astype(int)
    part = whole[low[1] : high[1], low[0] : high[0]]
    return _moved(find_ladder(part, steps, kind), factor, low.astype(np.float64) * factor)


def _moved(search: Search, factor: int, by: FloatArray) -> Search:
    ladder, looked = (
        None if found is None else Ladder(found.corners * factor + by, found.steps)
        for found in (search.ladder, search.looked)
    )
    return replace(search, ladder=ladder, looked=looked)


def known_ladder(scan: Scan, wedge: Wedge, area: FloatArray | None) -> Ladder:
    """Find a calibration wedge.

    Raises:
        RecordError: it is not found for certain.
    """
    search = _wedge_in(scan, wedge, area)
    if search.ladder is None:
        raise RecordError(
            f"the calibration wedge is not certain: {search.doubt}",
            where=scan.facts.path.name,
            hint="say where it lies with --known-area, or where its corners are with --known-corners",
        )
    return search.ladder


def _wedge_in(scan: Scan, wedge: Wedge, area: FloatArray | None) -> Search:
    """Find a wedge, from its dense end if clear film lies about it, else from its clear end; step 1 as in its table."""
    dense_first = find_in(scan, wedge.steps, "negative", area)
    search = dense_first if dense_first.ladder is not None else find_in(scan, wedge.steps, "reversal", area)
    if search.ladder is None:
        return dense_first
    if wedge.runs_backwards == (search is dense_first):
        return search
    return replace(search, ladder=search.ladder.reversed())


def stored_of(scan: Scan, title: str, light: Light, wedge: WedgeLight | None) -> Stored:
    """Return a calibration to keep.

    Raises:
        RecordError: the wedge makes no map.
    """
    stored = Stored(title, scan.encoding, scan.facts.bits, light.clear, light.dark, light.assumed_dark, wedge)
    try:
        stored.calibration()
    except StripError as error:
        raise RecordError(error.what, where=error.where, needed=error.needed, hint=error.hint) from error
    return stored


def agrees(scan: Scan, stored: Stored, where: str) -> None:
    """Refuse a calibration made for scans of other settings.

    Raises:
        RecordError: encoding, bits or samples differ.
    """
    own = (scan.encoding.name, scan.facts.bits, scan.facts.samples)
    made = (stored.encoding.name, stored.bits, stored.clear.size)
    if own != made:
        raise RecordError(
            f"it was made for {made[0]} pictures of {made[2]} samples and {made[1]} bits; {scan.facts.path.name} has"
            f" {own[0]}, {own[2]} and {own[1]}",
            where=where,
            needed="a calibration made with the scan's own settings",
        )
