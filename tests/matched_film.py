"""Films from spectra, read by a camera and by a densitometer: dyes absorb beside their bands, and bands overlap.

Shares no code with the matching that it tests. A film's layers form amounts of three dyes; what an instrument reads is
minus the log of the light that its band gets through all of them. A camera's bands are wide and overlap, under a lamp
of its own; a densitometer's are narrow, near those of status A or M (peaks from memory of ISO 5-3). Everything is drawn
from film to film and from camera to camera.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from tests.simulate import Array, Film, Layer, emulsions
from tests.spectral import DAYLIGHT, LAYERS, bell

Status = Literal["status A", "status M"]

PEAKS = {"status A": (620.0, 530.0, 445.0), "status M": (645.0, 540.0, 450.0)}
"""Middle of a densitometer's red, green and blue band [nm]."""

EYE = bell(557.0, 44.0)
"""The eye's band, near V of lambda (from memory)."""

INCREMENT, STEPS = 0.15, 21


@dataclass(frozen=True)
class TwiceRead:
    """A strip of 21 steps through a wedge of 0.15, as a camera sees it, and as a densitometer would.

    Attributes:
        log_h: of the steps, step 1, the most exposed, first [log10 lux-seconds].
        camera, true: densities of the steps without any error, (steps, 3) [density].
        film: amounts of dye as densities of the layers, for what follows from them by other code.
        dyes, bands: the dyes and the densitometer's bands over wavelength, (3, wavelengths).
    """

    log_h: Array
    camera: Array
    true: Array
    film: Film
    dyes: Array
    bands: Array

    def densitometer(self, log_h: Array) -> Array:
        """Return what the densitometer would read of film exposed by these log H, (n, 3) [density]."""
        return _seen(_amounts(self.film, log_h) @ self.dyes, self.bands)

    def eye(self, log_h: Array) -> Array:
        """Return visual density of film exposed by these log H, (n,) [density]."""
        return _seen(_amounts(self.film, log_h) @ self.dyes, EYE[None, :])[:, 0]


def twice_read(rng: np.random.Generator, status: Status) -> TwiceRead:
    """Return a strip of an invented reversal film, and what a camera and a densitometer read of it."""
    log_h = np.asarray(1.0 - INCREMENT * np.arange(STEPS), dtype=np.float64)
    film = _film(rng)
    dyes = _dyes(rng)
    bands = np.array([bell(peak, 11.0) for peak in PEAKS[status]])
    spectra = _amounts(film, log_h) @ dyes
    return TwiceRead(log_h, _seen(spectra, _camera(rng)), _seen(spectra, bands), film, dyes, bands)


def _film(rng: np.random.Generator) -> Film:
    """Return layers whose densities stand for amounts of dye; some lie far apart, as after another film's process."""
    apart = rng.choice([0.05, 0.20])
    centre = -0.4 + rng.uniform(-0.2, 0.2)
    layers = {}
    for channel in LAYERS:
        ceiling = float(rng.uniform(2.2, 3.0))
        width, spread = rng.uniform(0.5, 0.8), rng.uniform(0.35, 0.5)
        at = centre + apart * rng.standard_normal()
        layers[channel] = Layer(0.03, float(rng.uniform(0.01, 0.15)), ceiling, emulsions(at, width, spread))
    return Film("reversal", layers)


def _amounts(film: Film, log_h: Array) -> Array:
    return np.column_stack([film.density(channel, log_h) for channel in LAYERS])


def _dyes(rng: np.random.Generator) -> Array:
    """Return cyan, magenta and yellow dye, each with a peak of one, with absorptions beside it, (3, wavelengths)."""
    n = rng.standard_normal
    cyan = bell(650.0 + 7.0 * n(), 50.0) + (0.06 + 0.02 * n()) * bell(550.0, 50.0) + 0.05 * bell(440.0, 45.0)
    magenta = bell(548.0 + 5.0 * n(), 36.0) + (0.10 + 0.03 * n()) * bell(440.0, 35.0) + 0.03 * bell(630.0, 40.0)
    yellow = bell(444.0 + 5.0 * n(), 38.0) + (0.03 + 0.01 * n()) * bell(540.0, 45.0)
    return np.array([dye / dye.max() for dye in (cyan, magenta, yellow)])


def _camera(rng: np.random.Generator) -> Array:
    """Return a camera's three bands under its lamp, white diodes or a continuous one, (3, wavelengths)."""
    diodes = rng.uniform(0.7, 1.1) * bell(450.0, 10.0) + bell(560.0, 55.0)
    lamp = diodes if rng.random() < 0.5 else DAYLIGHT / DAYLIGHT.max()
    width = rng.uniform(0.7, 1.2)
    bands = []
    for peak, spread, beside in ((610.0, 30.0, 540.0), (535.0, 34.0, 600.0), (462.0, 27.0, 540.0)):
        tail = rng.uniform(0.0, 0.05) * bell(beside, 40.0)
        bands.append(lamp * (bell(peak + 6.0 * rng.standard_normal(), spread * width) + tail))
    return np.array(bands)


def _seen(spectra: Array, bands: Array) -> Array:
    """Return densities by bands, (n, 3), of spectra, (n, wavelengths)."""
    return np.asarray(-np.log10((10.0 ** -spectra[:, None, :] * bands).sum(axis=2) / bands.sum(axis=1)))


RECORD = """title = "Heron 80 by a camera"
kind = "reversal"
density = "scan"
readings = "strip.csv"
process = "colour reversal"
[wedge]
steps = 21
increment = 0.15
first = 0.0
uncertainty = 0.0
common = 0.0
scale_uncertainty = 0.0
[exposure]
method = "contact"
lux = 500.0
seconds = 0.02
uncertainty_stops = 0.0
evenness_stops = 0.0
meter_uncertainty_stops = 0.0
meter_constant = 12.5
light = "daylight 5500 K"
[reader]
repeatability = {scatter}
[match]
status = "{status}"
patches = "known.csv"
"""


def write_matched(
    folder: Path,
    strip: TwiceRead,
    status: Status,
    steps: tuple[int, ...],
    rng: np.random.Generator,
    *,
    scatter: float = 0.004,
    known: float = 0.01,
    zero: float = 0.0,
    scale: float = 1.0,
) -> Path:
    """Write the record of a strip that a camera read, of which some steps were read by a densitometer too; return it.

    The exposure is exact, and the record says so: what is left is what densities are worth.

    Args:
        folder: where to write.
        strip: the strip.
        status: the densitometer's kind of density.
        steps: the steps that it read, rounded to 0.01.
        rng: draws the errors of the readings.
        scatter, known: standard deviation of the camera's and of the densitometer's readings [density].
        zero, scale: by what the densitometer's zero and scale are off [density], [unitless].
    """
    camera = strip.camera + scatter * rng.standard_normal(strip.camera.shape)
    read = np.round(zero + scale * strip.true + known * rng.standard_normal(strip.true.shape), 2)
    rows = "".join(f"{n},{r:.4f},{g:.4f},{b:.4f}\n" for n, (r, g, b) in enumerate(camera, start=1))
    (folder / "strip.csv").write_text("step,red,green,blue\n" + rows, encoding="utf-8")
    rows = "".join(f"{n},{r:.2f},{g:.2f},{b:.2f}\n" for n in steps for r, g, b in [read[n - 1]])
    (folder / "known.csv").write_text("step,red,green,blue\n" + rows, encoding="utf-8")
    path = folder / "strip.toml"
    path.write_text(RECORD.format(scatter=scatter, status=status), encoding="utf-8")
    return path
