"""The club's demo scan: the black-and-white strip and the calibrated wedge in one frame.

The strip is that of ``wren-reversal``. ``python -m tests.scan_demo`` writes the picture; ``curves scan`` made the files
beside it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import tifffile

from tests.simulate import FOLDER, WREN_AS_SLIDE, Array, wedge_21
from tests.simulate_scan import Made, ScanScene, scan

DPI = 150
DARK = 131
"""What the scanner records where there is no light [of 65535]."""

CHIPS = {"base": (40, 16, 160, 60), "unexposed": (190, 16, 310, 60), "fully_exposed": (440, 16, 560, 60)}
"""Pieces of the film laid beside the strip: left, top, right, bottom [pixels]."""

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


def main() -> None:
    """Write the demo scan."""
    write(FOLDER / "wren-scan.tif", made().picture.astype(np.uint16), DPI)


if __name__ == "__main__":
    main()
