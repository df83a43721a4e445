"""The rows of a table that are the steps: by numbers and names of samples, in the forms of ISO 28178's exchange text.

The texts are written by hand from the public description of the format; nothing was tuned on them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import TableDescription, import_table

DENSE = [0.1, 0.4, 0.9, 1.5, 2.2, 2.6]


def exchange(folder: Path, fields: str, rows: list[str]) -> Path:
    """Write an exchange text with a header of its usual keywords."""
    path = folder / "target.txt"
    path.write_text(
        'CGATS.17\nORIGINATOR\t"a film club"\nDESCRIPTOR\t"Heron 80"\nCREATED\t"2026-03-14"\n'
        'KEYWORD\t"PROCESS"\nPROCESS\t"invented"\n# status A\n\n'
        f"NUMBER_OF_FIELDS\t{len(fields.split())}\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS\t{len(rows)}\nBEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n",
        encoding="utf-8",
    )
    return path


def refused(path: Path, how: TableDescription | None = None) -> str:
    with pytest.raises(RecordError) as refusal:
        import_table(path, how)
    return str(refusal.value)


def target(folder: Path) -> Path:
    """Write a target whose samples have numbers and names, six of them a grey scale behind two colours."""
    names = ["A1", "A2", *(f"GS{n:02d}" for n in range(6))]
    values = [0.7, 1.1, *DENSE]
    rows = [f'{n}\t"{name}"\t{v}' for n, (name, v) in enumerate(zip(names, values, strict=True), start=1)]
    return exchange(folder, "SAMPLE_ID\tSAMPLE_NAME\tD_VIS", rows)


def test_the_grey_scale_of_a_target_is_proposed_and_read_by_its_names(tmp_path: Path) -> None:
    path = target(tmp_path)
    assert refused(path) == (
        "target.txt: the samples have names, from A1 to GS05; needed: which of them are the steps of the wedge, from"
        " its clear end.\nTry: take the grey scale GS00:GS05 (samples=GS00:GS05)."
    )
    found = import_table(path, TableDescription(samples="GS00:GS05"))
    assert (found.positions, found.readings) == ((1.0, 2.0, 3.0, 4.0, 5.0, 6.0), {"visual": tuple(DENSE)})


def test_a_range_of_numbers_is_read_by_the_identities(tmp_path: Path) -> None:
    found = import_table(target(tmp_path), TableDescription(samples="3:8"))
    assert found.readings == {"visual": tuple(DENSE)}


def test_the_column_of_samples_that_a_person_names_is_the_only_one(tmp_path: Path) -> None:
    found = import_table(target(tmp_path), TableDescription(columns={"sample": "SAMPLE_ID"}))
    assert found.positions == tuple(map(float, range(1, 9)))
    assert refused(target(tmp_path), TableDescription(columns={"sample": "2"})).endswith("(samples=GS00:GS05).")


def test_numbers_beside_names_that_are_no_grey_scale_are_steps(tmp_path: Path) -> None:
    path = exchange(
        tmp_path, "SAMPLE_ID SAMPLE_NAME D_VIS", [f"{n} patch-{'abcdef'[n - 1]} {DENSE[n - 1]}" for n in range(1, 7)]
    )
    assert import_table(path).positions == (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)


def test_a_range_that_no_column_has_is_told(tmp_path: Path) -> None:
    assert "sample gs6 is not there" in refused(target(tmp_path), TableDescription(samples="GS00:GS06"))


def test_a_number_of_thousands_of_digits_is_a_name(tmp_path: Path) -> None:
    rows = [f"{n} {v}" for n, v in enumerate(DENSE, start=1)]
    path = exchange(tmp_path, "SAMPLE_ID D_VIS", ["9" * 5000 + " 0.05", *rows])
    assert refused(path).endswith("Try: give samples=FIRST:LAST.")
    found = import_table(exchange(tmp_path, "SAMPLE_ID D_VIS", rows))
    assert found.readings["visual"] == tuple(DENSE)


def test_a_count_of_thousands_of_digits_is_passed_over(tmp_path: Path) -> None:
    path = exchange(tmp_path, "SAMPLE_ID D_VIS", [f"{n} {v}" for n, v in enumerate(DENSE, start=1)])
    path.write_text(path.read_text(encoding="utf-8").replace("SETS\t6", "SETS\t" + "6" * 5000), encoding="utf-8")
    assert import_table(path).readings["visual"] == tuple(DENSE)


def numbered(text: str, folder: Path, **columns: str) -> StripTable:
    path = folder / "curve.txt"
    path.write_text(text, encoding="utf-8")
    return import_table(path, TableDescription(columns=columns))


@pytest.mark.parametrize("sign", [" ", "\t", ";", ","])
def test_a_curve_without_names_is_read_down_by_the_numbers_of_its_columns(tmp_path: Path, sign: str) -> None:
    text = "\n".join(f"{-1.5 + 0.3 * n:.1f}{sign}{v}" for n, v in enumerate(DENSE))
    found = numbered(text, tmp_path, log_h="1", visual="2")
    assert found.positions == pytest.approx((-1.5, -1.2, -0.9, -0.6, -0.3, 0.0))
    assert found.readings == {"visual": tuple(DENSE)}
    assert numbered("\n".join(map(str, DENSE)), tmp_path, visual="1").readings == {"visual": tuple(DENSE)}


@pytest.mark.parametrize("sign", [" ", ";", ","])
def test_a_short_row_of_a_table_without_names_is_refused_in_words(tmp_path: Path, sign: str) -> None:
    rows = [[str(n), f"{v}", f"{v + 0.1:.1f}"] for n, v in enumerate(DENSE, start=1)]
    rows[2] = rows[2][:2]
    with pytest.raises(RecordError, match="line 3: the row has 2 cells, the header 3"):
        numbered("\n".join(sign.join(row) for row in rows), tmp_path, step="1", red="2", green="3")


def test_a_number_past_all_numbers_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="'1e400' is not a number"):
        numbered("step,visual\n1,0.1\n2,1e400\n3,0.5\n4,0.7\n", tmp_path)
