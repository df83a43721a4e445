"""The club's demo scans: the black-and-white strip and the calibrated wedge in one frame, and a patch of either film.

The strip is that of ``wren-reversal``. ``python -m tests.scan_demo`` writes the pictures; ``curves scan`` made the
files beside the first. The patches are scans at 2400 dpi of grey about density 1, the empty gate on their left.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import tifffile

from tests.simulate import FOLDER, WREN_AS_SLIDE, Array, wedge_21
from tests.simulate_grain import grain_field
from tests.simulate_scan import Made, ScanScene, scan

DPI = 150
DARK = 131
"""What the scanner records where there is no light [of 65535]."""

CHIPS = {"base": (40, 16, 160, 60), "unexposed": (190, 16, 310, 60), "fully_exposed": (440, 16, 560, 60)}
"""Pieces of the film laid beside the strip: left, top, right, bottom [pixels]."""

KNOWN_AREA, AREA, CLEAR_AREA = "0,240,760,400", "0,90,760,240", "620,20,740,80"


def strip_densities() -> Array:
    """Return true densities of the strip's steps, (21, 1)."""
    log_h: Array = np.log10(0.02 * 500.0) - wedge_21()
    return WREN_AS_SLIDE.density("visual", log_h)[:, None]


def made() -> Made:
    """Return the demo scan and its truth."""
    scene = ScanScene(
        strip_densities(),
        film=np.array([3.05]),
        base=np.array([0.04]),
        width=760,
        height=400,
        pitch=28.0,
        across=90.0,
        angle=-2.5,
        before=50.0,
        after=50.0,
        beside=14.0,
        beyond="gate",
        wedge=wedge_21()[:, None],
        wedge_pitch=26.0,
        wedge_across=70.0,
        wedge_aside=140.0,
        chips=tuple((*place, WREN_AS_SLIDE.patch(name, "visual")) for name, place in CHIPS.items()),
        fall_off=0.02,
        flare=0.004,
        grain=0.02,
        noise=8e-5,
        dust=14,
        scratch=True,
        dark=DARK / 65535,
    )
    return scan(scene, 7)


def write(path: Path, picture: Array | np.ndarray[tuple[int, ...], np.dtype[np.uint16]], dpi: int) -> None:
    """Write a picture of 16 bits as TIFF, packed without loss."""
    tifffile.imwrite(
        path,
        np.squeeze(picture),
        compression="zlib",
        predictor=2,
        photometric="minisblack" if np.squeeze(picture).ndim == 2 else "rgb",
        resolution=(dpi, dpi),
        resolutionunit="INCH",
        metadata=None,
        software="",
    )


def patch(
    densities: Sequence[float], granularity: float, seed: int
) -> np.ndarray[tuple[int, ...], np.dtype[np.uint16]]:
    """Return a scan of an even patch with the empty gate beside it.

    Args:
        densities: of its layers [density].
        granularity: rms granularity of each through 48 um [1000 x density].
        seed: of its random numbers.
    """
    rng = np.random.default_rng((48, seed))
    rows, columns, gate = PATCH_SHAPE
    light = np.ones((rows, columns, len(densities)))
    for layer, density in enumerate(densities):
        grain = grain_field(rows, columns - gate, 25400.0 / PATCH_DPI, granularity, 3.0, rng)
        light[:, gate:, layer] = 10.0 ** -(density + grain)
    signal = 0.9 * light
    noise = np.sqrt(8e-5**2 + signal / 4e5) * rng.standard_normal(light.shape)
    return np.rint(65535 * np.clip(signal + noise + DARK / 65535, 0.0, 1.0)).astype(np.uint16)


PATCH_DPI = 2400
PATCH_SHAPE = (220, 270, 50)
"""Rows, columns, and of those the ones in the empty gate [pixels]."""

PATCHES = {"heron-patch": ((0.93, 1.01, 1.10), 22.0, 1), "wren-patch": ((1.02,), 11.0, 2)}
"""Densities of the layers, rms granularity of each, and seed."""

GATE_AREA, PATCH_AREA = "4,4,46,216", "56,4,266,216"


def main() -> None:
    """Write the demo scans."""
    write(FOLDER / "wren-scan.tif", made().picture.astype(np.uint16), DPI)
    for name, (densities, granularity, seed) in PATCHES.items():
        write(FOLDER / f"{name}.tif", patch(densities, granularity, seed), PATCH_DPI)


if __name__ == "__main__":
    main()
