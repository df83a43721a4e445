"""Remarks on a scan as a whole: the assumptions behind it, and signs in the picture against them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from curves.app.pictures.scan_job import ScanCalibration
from curves.app.pictures.scan_writing import MeasuredStrip
from curves.files.scans.light import Light
from curves.files.scans.measurement import ScanMeasurement
from curves.files.scans.scan import Scan
from curves.sensitometry.core.units import FloatArray, density
from curves.sensitometry.scan.density_map import ASSUMED_FLARE, ASSUMED_UNEVEN, SUSPECT
from curves.sensitometry.scan.patch_light import DUSTY, UNEVEN

_DRIFT = 0.03
"""Share by which the brightest place of a picture may differ from the calibration's clear light: our own choice."""

_DIMMEST_GATE = 0.8
"""Share of clear light from which the brightest place of a picture may be the empty gate: our own choice."""

_SATURATED = 0.999
"""Light from which a value is at the scale's end [of full scale]."""

_THINNEST_FILM = 0.02
"""Least density of any film: common practice [density]."""

_BRIGHTEST = 0.999
"""Quantile of a picture's light that counts as its brightest place [unitless]."""


def notes_on(
    scan: Scan, calibrated: ScanCalibration, measured: ScanMeasurement, spell: Callable[[str], str]
) -> tuple[str, ...]:
    """Return remarks on a scan, each a sentence.

    Args:
        scan: the picture.
        calibrated: the calibration of the scan.
        measured: the patches of the scan.
        spell: returns the name of a setting for the reader.
    """
    light = calibrated.light
    return (
        *_of_numbers(calibrated, spell),
        *_of_clear(scan, light, calibrated, spell),
        *_of_film(measured),
    )


def _of_numbers(calibrated: ScanCalibration, spell: Callable[[str], str]) -> Iterator[str]:
    """Report the evidence for an encoding and against it, and the limits without a calibration wedge."""
    stored, choice = calibrated.stored, calibrated.encoding
    if choice.note:
        yield choice.note
    if choice.doubt:
        meant = f"give the right encoding ({spell('encoding')}), or scan again, linear and without a colour profile"
        effect = "Densities follow the wedge all the same" if stored.wedge else "Densities are wrong if that is right"
        yield f"{choice.sentence} {effect}: {meant}."
    for channel, found in () if choice.doubt else stored.doubts():
        yield (
            f"The calibration wedge, {channel}: {found}. Densities follow the wedge all the same; if the file is"
            f" encoded, its encoding ({spell('encoding')}) makes them more certain."
        )
    if stored.assumed_dark:
        yield (
            "Dark is not given and assumed to be zero. Any offset makes dense patches look thinner: give"
            f" {spell('dark')}."
        )
    if stored.wedge is None:
        yield (
            f"Without a calibration wedge ({spell('known')}) densities above about {SUSPECT:g} are suspect: flare makes"
            " dense film look thinner, by 0.04 at density 2 for each 0.1 % of stray light."
            f" {100 * ASSUMED_FLARE:g} % is assumed as its standard uncertainty."
            " Without the wedge it is not checked either that numbers are in proportion to light."
        )


def _of_clear(scan: Scan, light: Light, calibrated: ScanCalibration, spell: Callable[[str], str]) -> Iterator[str]:
    """Report a clear value that the picture contradicts, and light that is assumed to be even."""
    if light.field is None:
        yield (
            f"No scan of the empty gate in this frame ({spell('clear=IMAGE')}) is given to show how light falls off:"
            f" light is assumed to be even, with a standard uncertainty of {ASSUMED_UNEVEN:g} of density."
        )
    for name, corners in light.areas.items():
        found = scan.area(corners)
        dust, uneven = max(p.dust for p in found), max(p.unevenness for p in found)
        if dust > DUSTY or uneven > UNEVEN:
            yield (
                f"The area given for {name} is not even: {dust:.0%} of it is left out, and it changes by {uneven:.2f}"
                " of density from side to side. It must hold the bare gate only."
            )
    whole, _ = scan.whole()
    if (light.clear >= _SATURATED).any() and float((whole >= _SATURATED).mean()) > 1.0 - _BRIGHTEST:
        yield (
            "Clear is at the scale's bright end, and so is some of the picture: the light of the gate is not known."
            " Scan with less light."
        )
    brightest = _brightest(whole, light)
    if calibrated.wedge is None and light.field is None and not light.areas and brightest > _DIMMEST_GATE:
        off = float(-density(brightest))
        if abs(brightest - 1.0) > _DRIFT:
            yield (
                f"The brightest place of the picture has {brightest:.2f} of the clear light. If it is the empty gate,"
                f" lamp or settings have changed since the calibration, and densities are off by {abs(off):.2f}:"
                " calibrate again."
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
            " the lamp may have changed."
        )


def scan_content(strip: MeasuredStrip) -> dict[str, Any]:
    """Return a scan's patches as plain dictionaries, lists, numbers and text."""
    channels, measured = strip.calibrated.stored.channels, strip.measured
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
    by_wedge = strip.calibrated.stored.wedge is not None
    warnings = [{"code": "scan", "message": note} for note in strip.notes]
    match = None if strip.match is None else strip.match.content()
    return {"patches": patches, "by_wedge": by_wedge, "status_match": match, "warnings": warnings}


def _number(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None
