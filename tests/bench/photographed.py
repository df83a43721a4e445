"""A strip photographed on a light table: as the raw file of a camera, or as a JPEG, with the errors that cameras have.

The physical model, which shares no code with the package: an uneven table, a lens that falls off and scatters light
over the whole frame, a sensor with a black level, shot noise and read noise, a mosaic of 12 bits; or a picture of
8 bits, encoded by the sRGB curve and packed with loss.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from curves.app.pictures.scan_job import ScanJob, calibrate, find_patches, measure_areas, measure_pieces
from curves.app.pictures.scan_writing import MeasuredStrip, ScanFiles, write_scan
from curves.files.scans.scan import Scan
from curves.sensitometry.scan.encoding import LINEAR
from tests.files.pictures.dng import write_dng
from tests.simulate import Array

WIDTH, HEIGHT = 640, 260
"""Cells of the frame."""

_PITCH, _LEFT = 24, 40
_STRIP, _PIECES, _KNOWN = (40, 90), (110, 150), (180, 230)
"""Rows of the strip, of the single pieces beside it, and of the known wedge."""

_BLACK, _WHITE, _OPEN = 256, 4095, 3000.0
_ELECTRONS = 8.0
"""Electrons that one step of the sensor stands for, from memory of cameras [unitless]."""

_READ_NOISE = 2.5
_BALANCE = np.array([0.5, 1.0, 0.65])


@dataclass(frozen=True)
class Camera:
    """One way of photographing a strip.

    Attributes:
        name: the way.
        raw: True for a raw file, False for a JPEG of quality 90.
        known: True if a known wedge lies in the frame.
        flare: standard deviation of the light that is scattered over the frame [of the open table's].
    """

    name: str
    raw: bool
    known: bool
    flare: float = 0.002


CAMERAS = (
    Camera("camera, raw file", raw=True, known=False),
    Camera("camera, raw file, known wedge", raw=True, known=True),
    Camera("camera, JPEG at 90", raw=False, known=False),
    Camera("camera, JPEG at 90, known wedge", raw=False, known=True),
)


def scene(strip: Array, pieces: dict[str, float], known: Array | None) -> Array:
    """Return the density of each cell of the frame: the open table about the pieces, (rows, columns) [density]."""
    found = np.zeros((HEIGHT, WIDTH))
    for n, density in enumerate(strip):
        found[slice(*_STRIP), _LEFT + n * _PITCH : _LEFT + (n + 1) * _PITCH] = density
    for n, density in enumerate(pieces.values()):
        found[slice(*_PIECES), _LEFT + n * 100 : _LEFT + n * 100 + 80] = density
    for n, density in enumerate(() if known is None else known):
        found[slice(*_KNOWN), _LEFT + n * _PITCH : _LEFT + (n + 1) * _PITCH] = density
    return found


def light(density: Array, flare: float, tilt: tuple[float, float]) -> Array:
    """Return the light on the sensor, (rows, columns) [of the open table's in the middle].

    Args:
        density: of the frame.
        flare: light scattered over the frame [of its mean light].
        tilt: unevenness of the table across and down.
    """
    y, x = np.linspace(-0.5, 0.5, HEIGHT)[:, None], np.linspace(-0.5, 0.5, WIDTH)[None, :]
    fallen = (1.0 + tilt[0] * x + tilt[1] * y) * (1.0 - 0.3 * (x * x + 0.2 * y * y))
    passed = 10.0**-density * fallen
    return np.asarray((passed + flare) / (1.0 + flare))


def written(camera: Camera, path: Path, seen: Array, rng: np.random.Generator) -> Path:
    """Write what a camera makes of the light on its sensor; return the file."""
    if camera.raw:
        mosaic = np.empty((2 * HEIGHT, 2 * WIDTH))
        for place, colour in enumerate((0, 1, 1, 2)):
            mosaic[place // 2 :: 2, place % 2 :: 2] = _OPEN * _BALANCE[colour] * seen
        noise = np.hypot(np.sqrt(np.maximum(mosaic, 0.0) / _ELECTRONS), _READ_NOISE)
        numbers = np.clip(np.rint(_BLACK + mosaic + noise * rng.standard_normal(mosaic.shape)), 0, _WHITE)
        return write_dng(path.with_suffix(".dng"), numbers.astype(np.uint16))
    electrons = 0.8 * seen[..., None] * np.ones(3) * _OPEN * _ELECTRONS
    noisy = np.maximum(electrons + np.sqrt(electrons) * rng.standard_normal(electrons.shape), 0.0)
    linear = np.clip(noisy / (_OPEN * _ELECTRONS), 0.0, 1.0)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    picture: NDArray[np.uint8] = np.rint(255 * encoded).astype(np.uint8)
    path.with_suffix(".jpg").write_bytes(imagecodecs.jpeg8_encode(picture, level=90))
    return path.with_suffix(".jpg")


def record(
    camera: Camera,
    folder: Path,
    strip: Array,
    pieces: dict[str, float],
    wedge: Array,
    seed: int,
    exposure: dict[str, object],
) -> Path:
    """Photograph a strip, measure it, and write its record; return the record.

    Args:
        camera: the way.
        folder: where everything goes.
        strip: true densities of the steps [density].
        pieces: true densities of the single pieces, by name [density].
        wedge: stated densities of the known wedge, if one lies in the frame [density].
        seed: of the errors.
        exposure: the sections [wedge] and [exposure] of the record.
    """
    rng = np.random.default_rng((9, seed))
    flare, tilt = camera.flare * abs(rng.standard_normal()), (rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2))
    true = wedge + 0.01 * rng.standard_normal(wedge.size)
    seen = light(scene(strip, pieces, true if camera.known else None), flare, tilt)
    picture = written(camera, folder / "strip", seen, rng)
    table = written(camera, folder / "table", light(np.zeros((HEIGHT, WIDTH)), flare, tilt), rng)
    rows = [
        f"{n + 1},{_LEFT + n * _PITCH + 4},{_STRIP[0] + 4},{_LEFT + (n + 1) * _PITCH - 4},{_STRIP[1] - 4}"
        for n in range(strip.size)
    ]
    (folder / "places.csv").write_text("step,left,top,right,bottom\n" + "\n".join(rows) + "\n", encoding="utf-8")
    known = "".join(f"{n},{d:.4f},0.01\n" for n, d in enumerate(wedge, start=1))
    (folder / "known.csv").write_text("step,density,uncertainty\n" + known, encoding="utf-8")
    right, (top, bottom) = _LEFT + wedge.size * _PITCH, _KNOWN
    where = {
        name: f"{_LEFT + n * 100 + 10},{_PIECES[0] + 6},{_LEFT + n * 100 + 70},{_PIECES[1] - 6}"
        for n, name in enumerate(pieces)
    }
    job = ScanJob(
        clear=str(table),
        known=str(folder / "known.csv") if camera.known else "",
        known_corners=f"{_LEFT},{top} {_LEFT},{bottom} {right},{bottom} {right},{top}" if camera.known else "",
        patches=folder / "places.csv",
        encoding="" if camera.raw else "srgb",
        unexposed=where["unexposed"],
        fully_exposed=where["fully_exposed"],
    )
    files = ScanFiles.of(folder / "strip", None)
    with Scan(picture, job.declared or LINEAR) as scan:
        calibrated = calibrate(scan, job, "light table")
        areas = find_patches(scan, job, None, "reversal").areas
        assert areas is not None
        measured = measure_areas(scan, calibrated, areas)
        read, _ = measure_pieces(scan, calibrated, job)
    draft = {"title": f"strip {seed}", "kind": "reversal", "density": "scan", **exposure}
    write_scan(files, MeasuredStrip(picture, draft, calibrated, measured, read, (), None))
    return files.record
