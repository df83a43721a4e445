"""Records whose strip was read with a meter over a light table."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from curves.errors import RecordError
from curves.files.imports.readers import TableDescription, import_table
from curves.files.strips.bare import strip_from_table
from curves.files.strips.record import load_strip
from curves.sensitometry.core.reader_units import ReaderScale, ReaderUnit
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


def with_known_wedge(folder: Path, flare: float) -> None:
    """Write a known wedge as a set-up with flare shows it in stops, by the definition of flare."""
    known = np.arange(0.05, 3.1, 0.30)
    shown = -np.log2((10.0**-known + flare) / (1.0 + flare))
    rows = "".join(f"{d:.2f},{r:.3f}\n" for d, r in zip(known, shown, strict=True))
    (folder / "known.csv").write_text("density,reading\n" + rows, encoding="utf-8")


def test_a_known_wedge_takes_out_the_flare_and_gives_its_uncertainty(tmp_path: Path) -> None:
    with_known_wedge(tmp_path, 0.004)
    shown = -np.log2((10.0**-DENSITIES + 0.004) / 1.004)
    bare = load_strip(written(tmp_path, shown, 'unit = "stops"', 5.0))
    strip = load_strip(written(tmp_path, shown, 'unit = "stops"\nknown_wedge = "known.csv"', 5.0))
    assert np.abs(strip.readings["visual"] - DENSITIES).max() < 0.005
    # 0.4 % of stray light over the 0.2 % that pass density 2.7: log10(0.6) of density is lost.
    assert bare.readings["visual"][-1] < DENSITIES[-1] - 0.4
    flare = sources_of(strip)["reader flare"]
    assert not flare.assumed
    assert flare.u is not None
    assert 0.0 < flare.u < 0.001
    assert "known wedge" in strip.read_as.remark()


@pytest.mark.parametrize("beside", ["flare = 0.001", "flare_uncertainty = 0.001", "scale_uncertainty = 0.01"])
def test_a_known_wedge_goes_with_no_stated_flare_or_scale(tmp_path: Path, beside: str) -> None:
    with_known_wedge(tmp_path, 0.0)
    with pytest.raises(RecordError, match="are both given"):
        load_strip(written(tmp_path, [3.0] * 11, f'unit = "stops"\nknown_wedge = "known.csv"\n{beside}', 5.0))


@pytest.mark.parametrize(
    ("table", "what"),
    [
        ("density,step\n0.1,1\n", "'reading' is missing"),
        ("density,reading\n0.1,0.3\n", "do not tell flare from scale"),
        ("density,reading\n0.1,dark\n", "'dark' is not a number"),
    ],
)
def test_a_known_wedge_that_shows_nothing_is_refused_by_name(tmp_path: Path, table: str, what: str) -> None:
    (tmp_path / "known.csv").write_text(table, encoding="utf-8")
    with pytest.raises(RecordError, match=what) as refusal:
        load_strip(written(tmp_path, [3.0] * 11, 'unit = "stops"\nknown_wedge = "known.csv"', 5.0))
    assert "known.csv" in refusal.value.where


def test_a_bare_table_is_read_in_the_unit_that_is_stated(tmp_path: Path) -> None:
    written(tmp_path, 14.0 - DENSITIES / np.log10(2), 'unit = "ev"\nopen_gate = 14.0', 5.0)
    strip = strip_from_table(
        tmp_path / "strip.csv", kind="reversal", wedge="11x0.30", ei=25, metered_step=6, unit="ev", open_gate="14"
    )
    assert strip.readings["visual"] == pytest.approx(DENSITIES)
    source = sources_of(strip)["readings"]
    assert (source.u, source.assumed) == (0.03, True)
    assert strip.read_as.unit == "ev"


@pytest.mark.parametrize(
    ("unit", "gate", "what", "settings"),
    [
        ("ev", None, "open gate is missing", ("open_gate=14.0",)),
        ("seconds", None, "open gate is missing", ("open_gate=1/1000",)),
        ("ev", "bright", "'bright' is not a reading", ("open_gate",)),
        (None, "14", "the unit of the readings is not", ("unit=ev",)),
    ],
)
def test_a_bare_table_with_half_a_scale_is_refused_with_the_setting(
    tmp_path: Path, unit: ReaderUnit | None, gate: str | None, what: str, settings: tuple[str, ...]
) -> None:
    written(tmp_path, DENSITIES, "", 2.0)
    with pytest.raises(RecordError, match=what) as refusal:
        strip_from_table(tmp_path / "strip.csv", kind="reversal", wedge="11x0.30", unit=unit, open_gate=gate)
    assert refusal.value.settings == settings


def test_an_import_of_exposure_values_reads_them_in_every_dialect(tmp_path: Path) -> None:
    cells = [f"{14 - d / np.log10(2):.1f}".replace(".", ",") for d in DENSITIES]
    text = "Patch;Meter\n" + "".join(f"{n};{cell}\n" for n, cell in enumerate(cells, start=1))
    (tmp_path / "meter.csv").write_text(text, encoding="utf-8")
    described = TableDescription(columns={"step": "Patch", "visual": "Meter"}, scale=ReaderScale("ev", 14.0))
    table = import_table(tmp_path / "meter.csv", described)
    # Rounding to a tenth of a stop errs by at most half of that: 0.015 density.
    assert np.abs(np.array(table.readings["visual"]) - DENSITIES).max() <= 0.0151
    assert table.shown["visual"][0] == pytest.approx(12.9)
