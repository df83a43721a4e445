"""Records whose strip was read with a meter over a light table."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.strips.record import load_strip
from curves.sensitometry.uncertainty.sources import sources_of

RECORD = """kind = "reversal"
density = "visual"
readings = "strip.csv"
[exposure]
method = "contact"
lux = 500.0
seconds = 0.02
[wedge]
steps = 11
increment = 0.30
[patches]
unexposed = {{ visual = {patch} }}
[reader]
{reader}
"""
DENSITIES = np.array([0.32, 0.33, 0.37, 0.48, 0.74, 1.13, 1.62, 2.11, 2.48, 2.66, 2.71])


def written(folder: Path, cells: Iterable[float | str], reader: str, patch: float | str) -> Path:
    """Write a strip whose cells and one patch are read in a unit; return its record."""
    rows = "\n".join(f"{step},{cell}" for step, cell in enumerate(cells, start=1))
    (folder / "strip.csv").write_text(f"step,visual\n{rows}\n", encoding="utf-8")
    record = folder / "strip.toml"
    record.write_text(RECORD.format(reader=reader, patch=patch), encoding="utf-8")
    return record


def test_stops_below_the_open_gate_become_densities_to_a_twentieth_of_a_stop(tmp_path: Path) -> None:
    stops = np.round(DENSITIES / np.log10(2), 1)
    strip = load_strip(written(tmp_path, stops, 'unit = "stops"', 9.0))
    # Rounding to a tenth of a stop errs by at most half of that: 0.015 density.
    assert np.abs(strip.readings["visual"] - DENSITIES).max() <= 0.5 * 0.1 * np.log10(2) + 1e-9
    assert strip.patches.unexposed["visual"] == pytest.approx(9 * np.log10(2))
    sources = sources_of(strip)
    assert (sources["readings"].u, sources["readings"].assumed) == (0.03, True)
    assert sources["reader flare"].assumed


def test_marked_times_are_read_as_fractions_in_rows_gate_and_patches(tmp_path: Path) -> None:
    times = ["1/500", "1/500", "1/400", "1/320", "1/160", "1/60", "1/25", "1/8", "1/3", "0.5", "0.5"]
    record = written(tmp_path, times, 'unit = "seconds"\nopen_gate = "1/1000"', '"1/2"')
    strip = load_strip(record)
    assert strip.readings["visual"][0] == pytest.approx(np.log10(2))
    assert strip.readings["visual"][5] == pytest.approx(4 * np.log10(2))
    assert strip.patches.unexposed["visual"] == pytest.approx(9 * np.log10(2))


def test_a_stated_repeatability_is_not_assumed(tmp_path: Path) -> None:
    strip = load_strip(written(tmp_path, DENSITIES / np.log10(2), 'unit = "stops"\nrepeatability = 0.02', 9.0))
    assert (sources_of(strip)["readings"].u, sources_of(strip)["readings"].assumed) == (0.02, False)


def test_a_densitometer_has_no_flare_of_a_meter(tmp_path: Path) -> None:
    assert "reader flare" not in sources_of(load_strip(written(tmp_path, DENSITIES, 'unit = "density"', 2.9)))


@pytest.mark.parametrize(
    ("reader", "what"),
    [
        ('unit = "ev"', "open gate is missing"),
        ('unit = "ev"\nopen_gate = 0.0', "stands for a density"),
        ('unit = "candles"', "not known"),
        ('unit = "percent"\nopen_gate = -1', "out of range"),
    ],
)
def test_a_scale_that_cannot_be_is_refused(tmp_path: Path, reader: str, what: str) -> None:
    with pytest.raises(RecordError, match=what):
        load_strip(written(tmp_path, DENSITIES / np.log10(2), reader, 9.0))
