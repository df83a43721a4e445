"""The light of clear and of dark in a scan, and the densities that a calibration wedge gives to the light between."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from curves.errors import RecordError, StripError
from curves.files.scans.places import LightReference
from curves.files.scans.scan import Scan, another, find_in
from curves.files.strips.calibration import CalibrationRecord, WedgeLight, channels_of
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.density_map import Calibration
from curves.sensitometry.scan.ladder import Ladder, LadderSearch
from curves.sensitometry.strip.wedge import Wedge

UNREADABLE = 0.05
"""Share of clipped pixels from which a patch's reading is left out: our own choice [unitless]."""

_LEAST_LIT = 0.1
"""Light of the empty gate, against clear, below which the gate is not empty: our own choice [unitless]."""


@dataclass(frozen=True, eq=False)
class Light:
    """The light of clear and of dark; a scan of the empty gate also shows how light falls off.

    Attributes:
        clear, dark: light, (samples,) [of full scale].
        assumed_dark: True if no dark was given.
        field: the scan of the empty gate; None if clear was given in another way.
        areas: places of the scan in which clear and dark were measured, by name, each (4, 2) [pixels].
    """

    clear: FloatArray
    dark: FloatArray
    assumed_dark: bool
    field: Path | None = None
    areas: Mapping[str, FloatArray] = dataclasses.field(default_factory=dict)


def light_of(scan: Scan, clear: LightReference, dark: LightReference | None) -> Light:
    """Return the light of clear and of dark.

    Raises:
        RecordError: clear or dark cannot be measured, or another scan has other settings.
    """
    above = _level(scan, clear)
    stated = scan.facts.dark if dark is None else ()
    below = np.array(stated) if stated else np.zeros(scan.facts.samples) if dark is None else _level(scan, dark)
    if not (above > below).all():
        raise RecordError(
            "clear is not brighter than dark",
            where=scan.facts.path.name,
            needed="clear: light through the empty gate; dark: light with the gate closed",
            settings=("clear", "dark"),
        )
    given = {"clear": clear.area, "dark": None if dark is None else dark.area}
    areas = {name: corners for name, corners in given.items() if corners is not None}
    return Light(above, below, dark is None and not stated, clear.picture, areas)


def _level(scan: Scan, given: LightReference) -> FloatArray:
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
            "the light of clear or dark is beyond the scale, so it cannot be measured",
            where=scan.facts.path.name,
            needed="clear and dark inside the scale",
            hint="scan with less light, or give the value",
            settings=("clear",),
        )
    return np.array([patch.light for patch in found])


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
                f"the scan of the empty gate is {empty.facts.width} x {empty.facts.height} pixels, and"
                f" {scan.facts.path.name} {scan.facts.width} x {scan.facts.height}",
                where=light.field.name,
                needed="the empty gate scanned in the same frame",
            )
        found = empty.lights(areas)
    if not (found > light.dark + _LEAST_LIT * (light.clear - light.dark)).all():
        raise RecordError(
            "the scan of the empty gate is dark in the place of the strip",
            where=light.field.name,
            needed="a scan of the empty gate, nothing in front of the light",
            hint="give clear as values or as an area",
            settings=("clear",),
        )
    return found


def wedge_light(scan: Scan, light: Light, ladder: Ladder, wedge: Wedge) -> WedgeLight:
    """Return the light of a calibration wedge in its scan.

    Args:
        scan: the picture that the wedge lies in.
        light: clear and dark.
        ladder: the places of the steps.
        wedge: the known densities.
    """
    uncertainty = None if wedge.assumed else float(np.median(wedge.uncertainty))
    plain = Calibration(channels_of(scan.facts.samples), light.clear, light.dark)
    areas = [ladder.patch(step) for step in range(1, ladder.steps + 1)]
    patches = [scan.area(corners) for corners in areas]
    clear = clear_at(scan, light, areas)
    seen = np.array([[p.light if max(p.clipped_low, p.clipped_high) <= UNREADABLE else np.nan for p in patch]
                     for patch in patches])  # fmt: skip
    apparent = plain.apparent(seen, clear)
    lit = np.broadcast_to(plain.lit(clear), apparent.shape)
    whole, _ = scan.whole()
    return WedgeLight(wedge.density, uncertainty, apparent, lit, plain.apparent(whole.mean(axis=(0, 1))))


def known_ladder(scan: Scan, wedge: Wedge, area: FloatArray | None) -> Ladder:
    """Find a calibration wedge.

    Raises:
        RecordError: the wedge is not found for certain.
    """
    search = _wedge_in(scan, wedge, area)
    if search.ladder is None:
        raise RecordError(
            f"the calibration wedge is not certain: {search.doubt}",
            where=scan.facts.path.name,
            hint="give the place of the wedge, or its corners",
            settings=("known_area", "known_corners"),
        )
    return search.ladder


def _wedge_in(scan: Scan, wedge: Wedge, area: FloatArray | None) -> LadderSearch:
    """Find a wedge, from its dense end if clear film lies about it, else from its clear end; step 1 as in its table."""
    dense_first = find_in(scan, wedge.steps, "negative", area)
    search = dense_first if dense_first.ladder is not None else find_in(scan, wedge.steps, "reversal", area)
    if search.ladder is None:
        return dense_first
    if wedge.runs_backwards == (search is dense_first):
        return search
    return replace(search, ladder=search.ladder.reversed())


def stored_of(scan: Scan, title: str, light: Light, wedge: WedgeLight | None) -> CalibrationRecord:
    """Return a calibration to keep.

    Raises:
        RecordError: the light of the wedge does not give a density everywhere.
    """
    stored = CalibrationRecord(
        title, scan.encoding, scan.facts.bits, light.clear, light.dark, light.assumed_dark, wedge
    )
    try:
        stored.calibration()
    except StripError as error:
        raise RecordError.of(error, error.where) from error
    return stored


def agrees(scan: Scan, stored: CalibrationRecord, where: str) -> None:
    """Refuse a calibration made for scans of other settings.

    Raises:
        RecordError: encoding, bits or samples differ.
    """
    own = (scan.encoding.name, scan.facts.bits, scan.facts.samples)
    made = (stored.encoding.name, stored.bits, stored.clear.size)
    if own != made:
        raise RecordError(
            f"the calibration was made for {made[0]} pictures of {made[2]} samples and {made[1]} bits;"
            f" {scan.facts.path.name} has {own[0]}, {own[2]} and {own[1]}",
            where=where,
            needed="a calibration made with the scan's own settings",
        )
