"""How often a ladder is found where it lies, refused, or found elsewhere; and how far the densities are off.

``python -m tests.bench.scans [COUNT]`` makes so many random scans (`tests.scan_cases`) and takes each the whole way,
from a TIFF file to densities: the ladder searched for in the whole frame, clear from a scan of the empty gate, and a
calibration wedge scanned apart with the same settings.
"""

from __future__ import annotations

import dataclasses
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from curves.app.pictures import scan_job
from curves.files.scans.scan import Scan
from curves.sensitometry.scan.encoding import LINEAR
from curves.sensitometry.scan.ladder import Ladder, LadderSearch, find_ladder
from tests.scan_cases import Case, cases, off_by
from tests.scan_demo import write
from tests.simulate import Array, wedge_21
from tests.simulate_scan import ScanScene, scan

_RANGES = ((0.0, 2.0, 0.01), (2.0, 2.5, 0.02), (2.5, 3.0, 0.03))
"""Densities from and to, and how far they may be off [density]."""

_PLACED = 0.12
"""How far the end of a ladder may lie from the true one [steps]."""


def searched(case: Case) -> tuple[str, LadderSearch]:
    """Return "found", "refused" or "wrong", and the search."""
    full_scale = float(np.iinfo(case.made.picture.dtype).max)
    found = find_ladder(case.made.picture / full_scale, case.asked, case.kind)
    if found.ladder is None:
        return "refused", found
    return ("found" if off_by(found.ladder, case.made.corners) < _PLACED else "wrong"), found


def densities(case: Case, ladder: Ladder, folder: Path) -> tuple[Array, Array]:
    """Return measured less true density of each step and sample, and its standard uncertainty as stated."""
    scene = case.scene
    samples = scene.densities.shape[1]
    gate = dataclasses.replace(
        scene, densities=np.zeros_like(scene.densities), film=np.zeros(samples), beyond="gate", border=0.0, grain=0.0,
        dust=0, scratch=False,
    )  # fmt: skip
    known = ScanScene(
        np.repeat(wedge_21()[:, None], samples, axis=1), np.full(samples, 3.2), np.full(samples, 0.04),
        width=scene.width, height=scene.height, beyond="gate", grain=0.005, fall_off=scene.fall_off, flare=scene.flare,
        noise=scene.noise, dark=scene.dark, turned=scene.turned,
    )  # fmt: skip
    wedge = scan(known, case.number + 9000)
    for name, picture in (
        ("strip", case.made.picture),
        ("gate", scan(gate, case.number).picture),
        ("wedge", wedge.picture),
    ):
        write(folder / f"{name}.tif", picture.astype(np.uint16), 200)
    table = "\n".join(f"{i},{d:.3f},0.003" for i, d in enumerate(wedge_21(), start=1))
    (folder / "wedge.csv").write_text("step,density,uncertainty\n" + table + "\n", encoding="utf-8")
    corners = " ".join(f"{x:.2f},{y:.2f}" for x, y in wedge.corners)
    job = scan_job.ScanJob(
        clear=str(folder / "gate.tif"),
        dark=str(round(65535 * scene.dark)),
        known=str(folder / "wedge.csv"),
        known_image=folder / "wedge.tif",
        known_corners=corners,
    )
    with Scan(folder / "strip.tif", LINEAR) as strip:
        calibrated = scan_job.calibrate(strip, job, "bench")
        found = scan_job.measure_areas(strip, calibrated, scan_job.areas_of(ladder))
    return found.density - scene.densities, found.error


def main() -> None:
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 240
    by: dict[str, Counter[str]] = {}
    off: list[list[float]] = [[] for _ in _RANGES]
    standard: list[float] = []
    unread = 0
    for case in cases(count):
        what, found = searched(case)
        for group in case.groups:
            by.setdefault(group, Counter())[what] += 1
        if what != "found":
            print(f"  {case.number:4} {what:8} {'; '.join(case.groups)}: {found.doubt}", flush=True)
        if found.ladder is None:
            continue
        with tempfile.TemporaryDirectory() as folder:
            error, u = densities(case, found.ladder, Path(folder))
        unread += int(np.isnan(error).sum())
        standard += list((error / u)[np.isfinite(error)])
        for (low, high, _), errors in zip(_RANGES, off, strict=True):
            true = case.scene.densities
            errors += list(np.abs(error[(true >= low) & (true < high) & np.isfinite(error)]))
    print(f"{'':30} found refused wrong")
    for group in sorted(by):
        print(f"{group:30} {by[group]['found']:5} {by[group]['refused']:7} {by[group]['wrong']:5}")
    print(f"\n{'density':>12} {'patches':>8} {'rms':>7} {'95 %':>7} {'99 %':>7} {'most':>7}   within")
    for (low, high, allowed), errors in zip(_RANGES, off, strict=True):
        e = np.array(errors)
        print(
            f"{low:5.1f} to {high:3.1f} {e.size:8} {np.sqrt((e**2).mean()):7.4f} {np.quantile(e, 0.95):7.4f}"
            f" {np.quantile(e, 0.99):7.4f} {e.max():7.4f}   {(e < allowed).mean():.1%} within {allowed:g}"
        )
    print(f"not read: {unread}; error over its standard uncertainty, rms: {np.sqrt(np.mean(np.square(standard))):.2f}")


if __name__ == "__main__":
    main()
