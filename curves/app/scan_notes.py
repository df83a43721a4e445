"""What to mind of a scan as a whole: what was taken for granted, and what in the picture speaks against it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from curves.app.scan_job import ScanCalibration
from curves.files.scans.light import Light
from curves.files.scans.measurement import ScanMeasurement
from curves.files.scans.scan import Scan
from curves.sensitometry.core.units import FloatArray, density
from curves.sensitometry.scan.density_map import ASSUMED_FLARE, ASSUMED_UNEVEN, SUSPECT
from curves.sensitometry.scan.patch_light import DUSTY, UNEVEN

_DRIFT = 0.03
"""Share by which the brightest place of a picture may differ from the calibration's clear light: our own choice."""

_DIMMEST_GATE = 0.8
"""Share of clear light below which the brightest place of a picture is no empty gate: our own choice."""

_SATURATED = 0.999
"""Light from which a value is at the scale's end [of full scale]."""

_THINNEST_FILM = 0.02
"""Density that no film goes below: common practice [density]."""

_BRIGHTEST = 0.999


def notes_on(scan: Scan, calibrated: ScanCalibration, measured: ScanMeasurement) -> tuple[str, ...]:
    """Return what to mind of a scan, each a sentence."""
    light = calibrated.light
    return (*_of_numbers(scan, calibrated), *_of_clear(scan, light, calibrated), *_of_film(measured))


def _of_numbers(scan: Scan, calibrated: ScanCalibration) -> Iterator[str]:
    """Report doubt that numbers are in proportion to light, and what is not known without a calibration wedge."""
    stored = calibrated.stored
    doubt = scan.doubt()
    if doubt:
        yield (
            f"It is read as linear, but {doubt}. If it is encoded, densities are wrong: say how with --encoding, or"
            " scan again without a colour profile."
        )
    for channel, found in stored.doubts():
        yield (
            f"The calibration wedge, {channel}: {found}. Densities go by the wedge; say --encoding if the file is"
            " encoded, and they will be surer."
        )
    if stored.assumed_dark:
        yield (
            "Nobody said what dark is; it is taken for zero. Any offset makes dense patches look thinner: give --dark."
        )
    if stored.wedge is None:
        yield (
            f"Without a calibration wedge (--known) densities above about {SUSPECT:g} are suspect: flare makes dense"
            " film look thinner, by 0.04 at density 2 for each 0.1 % of stray light."
            f" {100 * ASSUMED_FLARE:g} % is taken for its standard uncertainty."
            " Nor does anything check that numbers are in proportion to light."
        )


def _of_clear(scan: Scan, light: Light, calibrated: ScanCalibration) -> Iterator[str]:
    """Report a clear value that the picture contradicts, and light that nobody knows to be even."""
    if light.field is None:
        yield (
            "No scan of the empty gate in this frame (--clear IMAGE) tells how light falls off: it is taken to be even,"
            f" and {ASSUMED_UNEVEN:g} of density for its standard uncertainty."
        )
    for name, corners in light.areas.items():
        found = scan.area(corners)
        dust, uneven = max(p.dust for p in found), max(p.unevenness for p in found)
        if dust > DUSTY or uneven > UNEVEN:
            yield (
                f"The area given for {name} is not even: {dust:.0%} of it is left out, and it changes by {uneven:.2f}"
                " of density from side to side. Nothing but the bare gate may lie in it."
            )
    whole, _ = scan.whole()
    if (light.clear >= _SATURATED).any() and float((whole >= _SATURATED).mean()) > 1.0 - _BRIGHTEST:
        yield (
            "Clear is at the scale's bright end, and so is some of the picture: how bright the gate is, nobody can"
            " tell. Scan with less light."
        )
    brightest = _brightest(whole, light)
    if calibrated.wedge is None and light.field is None and not light.areas and brightest > _DIMMEST_GATE:
        off = float(-density(brightest))
        if abs(brightest - 1.0) > _DRIFT:
            yield (
                f"The brightest place of the picture has {brightest:.2f} of the clear light. If it is the empty gate,"
                f" lamp or settings have changed since, and densities are off by {abs(off):.2f}: calibrate again."
            )


def _brightest(whole: FloatArray, light: Light) -> float:
    """Return the light of the brightest places, the median of the channels [of the clear light]."""
    top = np.quantile(whole.reshape(-1, whole.shape[2]), _BRIGHTEST, axis=0)
    return float(np.median((top - light.dark) / (light.clear - light.dark)))


def _of_film(measured: ScanMeasurement) -> Iterator[str]:
    """Report film that is as bright as the gate."""
    thin = [
        label
        for label, row in zip(measured.areas.labels, measured.density, strict=True)
        if (row < _THINNEST_FILM).any()
    ]
    if thin:
        yield (
            f"{thin[0].capitalize()} is as bright as clear, which no film is: clear may have been measured on film, or"
            " the lamp changed."
        )


def scan_content(
    measured: ScanMeasurement, calibrated: ScanCalibration, notes: tuple[str, ...], page: Path
) -> dict[str, Any]:
    """Return a scan's patches as plain dictionaries, lists, numbers and text.

    Args:
        measured: its patches.
        calibrated: how its light stands for density.
        notes: what to mind of it as a whole, each a sentence.
        page: the page that shows the patches.
    """
    channels = calibrated.stored.channels
    patches = []
    for row, position in enumerate(measured.areas.positions):
        of_channel = {
            channel: {
                "density": _number(measured.density[row, i]),
                "uncertainty": _number(measured.error[row, i]),
                "unevenness": _number(measured.lights[row][i].unevenness),
                "clipped": max(measured.lights[row][i].clipped_low, measured.lights[row][i].clipped_high),
                "dust": measured.lights[row][i].dust,
            }
            for i, channel in enumerate(channels)
        }
        flags = [
            {"code": f.code, "message": f.message, "channel": f.channel} for f in measured.flags if f.patch == row + 1
        ]
        patches.append(
            {measured.areas.column: position, "corners": measured.areas.corners[row].round(2).tolist(),
             "channels": of_channel, "flags": flags}
        )  # fmt: skip
    by_wedge = calibrated.stored.wedge is not None
    warnings = [{"code": "scan", "message": note} for note in notes]
    return {"patches": patches, "by_wedge": by_wedge, "warnings": warnings, "page": page.as_posix()}


def _number(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None
