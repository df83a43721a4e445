"""A strip as a picture: photographed on a light table, as a camera's raw file or JPEG, or scanned on a flatbed.

The physical model, which shares no code with the package: an uneven table, a lens that falls off and scatters light
over the whole frame, a sensor with a black level, shot noise and read noise, a mosaic of 12 bits; or a picture of
8 bits, encoded by the sRGB curve and packed with loss; or a scanner's lamp, a little uneven, and numbers of 16 bits in
proportion to light.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import imagecodecs
import numpy as np
import tifffile
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

_OPEN_AREA = "area:200,6,440,32"
"""An area of the open table, above the strip."""

_BLACK, _WHITE, _OPEN = 256, 4095, 3000.0
_ELECTRONS = 8.0
"""Electrons that one step of the sensor stands for, from memory of cameras [unitless]."""

_READ_NOISE = 2.5
_BALANCE = np.array([0.5, 1.0, 0.65])


_SCANNER_DARK, _SCANNER_OPEN = 300, 58000.0

Form = Literal["raw", "jpeg", "scan"]


@dataclass(frozen=True)
class Camera:
    """One way of making a picture of a strip.

    Attributes:
        name: the way.
        form: a camera's raw file, its JPEG of quality 90, or a scan of 16 bits.
        known: True if a known wedge lies in the frame.
        second: True if a second picture shows the open light; False if an area beside the strip does.
        flare: standard deviation of the light that is scattered over the frame [of the open table's].
        uneven: greatest change of the table's light across the frame, either way [of its light].
        fallen: light that the lens takes from the frame's corners [of the middle's].
    """

    name: str
    form: Form
    known: bool
    second: bool = True
    flare: float = 0.002
    uneven: float = 0.2
    fallen: float = 0.3


CAMERAS = (
    Camera("camera, raw file", "raw", known=False),
    Camera("the same, known wedge", "raw", known=True),
    Camera("the same, no second picture", "raw", known=False, second=False),
    Camera("camera, JPEG at 90", "jpeg", known=False),
    Camera("the same JPEG, known wedge", "jpeg", known=True),
    # A line of light and of sensors: little is scattered, and little falls off.
    Camera("flatbed scanner", "scan", known=False, second=False, uneven=0.02, fallen=0.0),
    Camera("the same flatbed, known wedge", "scan", known=True, second=False, uneven=0.02, fallen=0.0),
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


def light(density: Array, flare: float, tilt: tuple[float, float], fallen: float) -> Array:
    """Return the light on the sensor, (rows, columns) [of the open table's in the middle].

    Args:
        density: of the frame.
        flare: light scattered over the frame [of its mean light].
        tilt: unevenness of the table across and down.
        fallen: light that the lens takes from the frame's corners [of the middle's].
    """
    y, x = np.linspace(-0.5, 0.5, HEIGHT)[:, None], np.linspace(-0.5, 0.5, WIDTH)[None, :]
    passed = 10.0**-density * (1.0 + tilt[0] * x + tilt[1] * y) * (1.0 - fallen * (x * x + 0.2 * y * y))
    return np.asarray((passed + flare) / (1.0 + flare))


def written(form: Form, path: Path, seen: Array, rng: np.random.Generator) -> Path:
    """Write what a camera or a scanner makes of the light on its sensor; return the file."""
    if form == "raw":
        mosaic = np.empty((2 * HEIGHT, 2 * WIDTH))
        for place, colour in enumerate((0, 1, 1, 2)):
            mosaic[place // 2 :: 2, place % 2 :: 2] = _OPEN * _BALANCE[colour] * seen
        noise = np.hypot(np.sqrt(np.maximum(mosaic, 0.0) / _ELECTRONS), _READ_NOISE)
        numbers = np.clip(np.rint(_BLACK + mosaic + noise * rng.standard_normal(mosaic.shape)), 0, _WHITE)
        return write_dng(path.with_suffix(".dng"), numbers.astype(np.uint16))
    electrons = 0.8 * seen[..., None] * np.ones(3) * _OPEN * _ELECTRONS
    noisy = np.maximum(electrons + np.sqrt(electrons) * rng.standard_normal(electrons.shape), 0.0)
    linear = np.clip(noisy / (_OPEN * _ELECTRONS), 0.0, 1.0)
    if form == "scan":
        numbers = np.rint(_SCANNER_DARK + _SCANNER_OPEN * linear)
        tifffile.imwrite(path.with_suffix(".tif"), numbers.astype(np.uint16), photometric="rgb", metadata=None)
        return path.with_suffix(".tif")
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
    flare = camera.flare * abs(rng.standard_normal())
    tilt = (rng.uniform(-camera.uneven, camera.uneven), rng.uniform(-camera.uneven, camera.uneven))
    true = wedge + 0.01 * rng.standard_normal(wedge.size)
    shown = scene(strip, pieces, true if camera.known else None)
    picture = written(camera.form, folder / "strip", light(shown, flare, tilt, camera.fallen), rng)
    clear = _OPEN_AREA
    if camera.second:
        clear = str(written(camera.form, folder / "table", light(0.0 * shown, flare, tilt, camera.fallen), rng))
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
        clear=clear,
        dark=str(_SCANNER_DARK) if camera.form == "scan" else "",
        known=str(folder / "known.csv") if camera.known else "",
        known_corners=f"{_LEFT},{top} {_LEFT},{bottom} {right},{bottom} {right},{top}" if camera.known else "",
        patches=folder / "places.csv",
        encoding={"raw": "", "jpeg": "srgb", "scan": "linear"}[camera.form],
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
