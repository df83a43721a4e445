"""Columns that hold no densities: what the refusal names, and the densities that come of transmittance."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.imports.readers import TableDescription, import_table

HOW = TableDescription(transmittance="XYZ_Y")


def table(folder: Path, *values: str, name: str = "XYZ_Y") -> Path:
    path = folder / "a.csv"
    rows = "".join(f"{n};{value}\n" for n, value in enumerate(values, start=1))
    path.write_text(f"step;{name}\n{rows}", encoding="utf-8")
    return path


def refused(path: Path, how: TableDescription | None = None) -> str:
    with pytest.raises(RecordError) as refusal:
        import_table(path, how)
    return str(refusal.value)


# Calculated: a density is -log10 of the part of the light that passes; ISO 5-2.
@pytest.mark.parametrize(
    "values", [("100", "50.12", "10", "1"), ("1.0", "0.5012", "0.1", "0.01"), ("100", "50,12", "10", "1")]
)
def test_density_is_the_log_of_the_light_that_passes_in_per_cent_or_as_a_fraction(
    tmp_path: Path, values: tuple[str, ...]
) -> None:
    found = import_table(table(tmp_path, *values), HOW)
    assert found.readings["visual"] == pytest.approx((0.0, 0.30, 1.0, 2.0), abs=1e-4)


def test_what_passes_no_light_is_not_read_and_what_few_decimals_cost_is_told(tmp_path: Path) -> None:
    found = import_table(table(tmp_path, "80.00", "10.00", "1.00", "0.10", "0.00"), HOW)
    assert math.isnan(found.readings["visual"][4])
    assert "1 cells show no light at all, the first at a.csv, line 6: not read." in found.doubtful
    # Calculated: half of 0.01 in 0.10 is 5 per cent, 0.02 of density.
    assert "The least transmittance, 0.1, has few decimals: its density is known to +/-0.02 only." in found.doubtful


def test_more_light_than_an_open_gate_passes_is_refused(tmp_path: Path) -> None:
    assert refused(table(tmp_path, "255", "100", "50", "10"), HOW).startswith(
        "a.csv, line 2, visual: 255 is more than an open gate passes; needed: a transmittance in per cent"
    )


@pytest.mark.parametrize(
    ("header", "told"),
    [
        (
            "step;Value;Remark",
            "none is known to hold densities; needed: columns of densities: red, green, blue or visual.",
        ),
        ("SAMPLE_ID;LAB_L;LAB_A;LAB_B", "colours, and no densities; needed: columns of densities: red, green, blue"),
        ("Stufe;380nm;390nm;400nm", "colours, and no densities"),
        ("Nr;CIE X;CIE Y;CIE Z", "CIE Y is visual transmittance"),
    ],
)
def test_names_without_densities_are_told(tmp_path: Path, header: str, told: str) -> None:
    path = tmp_path / "a.csv"
    row = ";".join(["0.5"] * header.count(";"))
    path.write_text(header + "\n" + "".join(f"{n};{row}\n" for n in range(1, 6)), encoding="utf-8")
    text = refused(path)
    assert told in text
    assert text.startswith(f"a.csv: the columns are {header.replace(';', ', ')}: ")


def test_a_column_that_may_hold_densities_is_named_in_the_option(tmp_path: Path) -> None:
    assert refused(table(tmp_path, "0.1", "0.2", "0.5", "0.9", name="Value")).endswith(
        "Try: say which column holds them, if one does (columns=visual=Value)."
    )
