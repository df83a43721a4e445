"""Exchange text (ISO 28178, CGATS.17), written by hand from the public description of the format, and its oddities."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.base.strip_table import StripTable
from curves.files.imports.formats.cgats import exchange_text, read_exchange, recognises
from curves.files.imports.readers import TableDescription, TableFile, import_table
from curves.files.strips.record import load_strip
from curves.sensitometry.strip.exposure import Contact, GivenExposure
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from tests.simulate import FOLDER, scenarios

WHOLE = """CGATS.17
ORIGINATOR\t"a small film club"
DESCRIPTOR\t"Heron 80, grey scale"
CREATED\t"2026-03-14"
INSTRUMENTATION\t"transmission densitometer"
KEYWORD\t"DENSITY_STATUS"
DENSITY_STATUS\t"Status A"
NUMBER_OF_FIELDS\t5
BEGIN_DATA_FORMAT
SAMPLE_ID\tD_RED\tD_GREEN\tD_BLUE\tD_VIS
END_DATA_FORMAT
NUMBER_OF_SETS\t5
BEGIN_DATA
A1\t1.11\t1.12\t1.13\t1.14
GS0\t0.31\t0.40\t0.46\t0.38
GS1\t0.52\t0.61\t0.67\t0.59
GS2\t1.10\t1.22\t1.31\t1.19
GS3\t1.90\t2.05\t2.11\t2.01
END_DATA
"""
GREEN = (0.40, 0.61, 1.22, 2.05)


def taken(tmp_path: Path, text: str, how: TableDescription | None = None) -> StripTable:
    path = tmp_path / "target.txt"
    path.write_bytes(text.encode())
    return import_table(path, TableDescription(samples="GS0:GS3") if how is None else how)


def test_a_whole_file_reads_to_its_steps(tmp_path: Path) -> None:
    found = taken(tmp_path, WHOLE)
    assert found.positions == (1.0, 2.0, 3.0, 4.0)
    assert found.readings["green"] == GREEN
    assert set(found.readings) == {"red", "green", "blue", "visual"}
    assert (found.density, found.title, found.date) == ("status A", "Heron 80, grey scale", "2026-03-14")
    assert found.doubtful == ()


FORMAT = "SAMPLE_ID\tD_RED\tD_GREEN\tD_BLUE\tD_VIS\n"
ODDITIES = {
    "runs of spaces": WHOLE.replace("\t", "   "),
    "a format over several lines": WHOLE.replace(FORMAT, "SAMPLE_ID\n  D_RED D_GREEN\nD_BLUE\n\nD_VIS\n"),
    "a format on the line of its keyword": WHOLE.replace(f"BEGIN_DATA_FORMAT\n{FORMAT}", f"BEGIN_DATA_FORMAT {FORMAT}"),
    "trailing tabs": WHOLE.replace("\n", "\t\t\n"),
    "carriage returns": WHOLE.replace("\n", "\r"),
    "both line ends": WHOLE.replace("\n", "\r\n"),
    "repeated keywords": WHOLE.replace("ORIGINATOR", 'DENSITY_STATUS "Status A"\nDESCRIPTOR "again"\nORIGINATOR', 1)
    .replace('DESCRIPTOR "again"\n', "")
    .replace('ORIGINATOR\t"a', 'ORIGINATOR "x"\nORIGINATOR\t"a'),
    "comments anywhere": WHOLE.replace("BEGIN_DATA\n", "# by hand\nBEGIN_DATA\n# and here\n").replace(
        "GS1\t0.52\t0.61\t0.67\t0.59", "GS1\t0.52\t0.61\t0.67\t0.59 # dust"
    ),
    "blank lines": WHOLE.replace("\n", "\n\n"),
    "a keyword nobody announced": WHOLE.replace('KEYWORD\t"DENSITY_STATUS"\n', "WEATHER fine\n"),
    "samples in quotes": WHOLE.replace("GS1", '"GS1"'),
    "D_VISUAL": WHOLE.replace("D_VIS\n", "D_VISUAL\n"),
    "samples in another order": WHOLE.replace(
        "GS2\t1.10\t1.22\t1.31\t1.19\nGS3\t1.90\t2.05\t2.11\t2.01\n",
        "GS3\t1.90\t2.05\t2.11\t2.01\nGS2\t1.10\t1.22\t1.31\t1.19\n",
    ),
    "samples with leading zeros": WHOLE.replace("GS", "GS0"),
    "decimal commas": WHOLE.replace("0.", "0,").replace("1.", "1,").replace("2.", "2,"),
    "other fields beside": WHOLE.replace("D_VIS\n", "D_VIS LAB_L LAB_A LAB_B\n").replace(
        "FIELDS\t5", "FIELDS\t8"
    ).replace(".14\n", ".14\t1\t2\t3\n").replace(".38\n", ".38\t1\t2\t3\n").replace(".59\n", ".59\t1\t2\t3\n").replace(
        ".19\n", ".19\t1\t2\t3\n").replace(".01\n", ".01\t1\t2\t3\n"),
    "a set over two lines": WHOLE.replace("0.61\t0.67", "0.61\n0.67"),
    "a mark of UTF-8 before it": "\ufeff" + WHOLE,
    "no number of sets": WHOLE.replace("NUMBER_OF_SETS\t5\n", ""),
    "no number of fields": WHOLE.replace("NUMBER_OF_FIELDS\t5\n", ""),
    "a second table without densities": WHOLE
    + 'DESCRIPTOR "colours"\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n'
    + "BEGIN_DATA\nGS0 1 2 3\nEND_DATA\n",
}  # fmt: skip


@pytest.mark.parametrize("odd", ODDITIES)
def test_an_oddity_that_leaves_no_doubt_is_read_to_the_same_numbers(tmp_path: Path, odd: str) -> None:
    found = taken(tmp_path, ODDITIES[odd])
    assert found.positions == (1.0, 2.0, 3.0, 4.0)
    assert found.readings["green"] == GREEN
    assert found.readings["visual"] == (0.38, 0.59, 1.19, 2.01)
    assert found.density == "status A"


def test_a_status_named_only_in_free_text_is_found_and_said(tmp_path: Path) -> None:
    text = WHOLE.replace('KEYWORD\t"DENSITY_STATUS"\nDENSITY_STATUS\t"Status A"\n', "# read with status-M filters\n")
    found = taken(tmp_path, text)
    assert found.density == "status M"
    assert found.understood[0] == "It is exchange text (ISO 28178); the densities are status M, named in a comment."


def test_a_count_that_disagrees_is_doubtful(tmp_path: Path) -> None:
    found = taken(tmp_path, WHOLE.replace("SETS\t5", "SETS\t24"))
    assert found.readings["green"] == GREEN
    assert found.doubtful == ("NUMBER_OF_SETS says 24, but there are 5 sets: is the file whole?",)
    found = taken(tmp_path, WHOLE.replace("FIELDS\t5", "FIELDS\t7"))
    assert found.doubtful == ("NUMBER_OF_FIELDS says 7, the format names 5; the format counts.",)


def test_an_empty_cell_between_tabs_was_not_read(tmp_path: Path) -> None:
    found = taken(tmp_path, WHOLE.replace("0.61\t0.67", "\t0.67"))
    assert np.isnan(found.readings["green"][1])
    assert found.readings["blue"][1] == 0.67


REFUSED = {
    "a missing format": (
        WHOLE.replace("BEGIN_DATA_FORMAT\n" + FORMAT + "END_DATA_FORMAT\n", ""),
        "target.txt, line 10: table 1 has data, but no BEGIN_DATA_FORMAT block that names its columns; needed:"
        " BEGIN_DATA_FORMAT, the names of the fields, END_DATA_FORMAT, before the data.\n"
        "Try: add the block by hand if you know the order of the columns.",
    ),
    "a second table without format": (
        WHOLE + "BEGIN_DATA\nGS0 0.1\nEND_DATA\n",
        "target.txt, line 20: table 2 has data, but no BEGIN_DATA_FORMAT block that names its columns; needed:"
        " BEGIN_DATA_FORMAT, the names of the fields, END_DATA_FORMAT, before the data.\n"
        "Try: add the block by hand if you know the order of the columns.",
    ),
    "cut short": (
        WHOLE.replace("END_DATA\n", ""),
        "target.txt, line 13: the file ends within BEGIN_DATA: it was cut short; needed: the whole file, to its"
        " END_DATA.",
    ),
    "a value too many": (
        WHOLE.replace("0.61\t0.67", "0.61\t0.62\t0.67"),
        "target.txt, line 16: the set has 6 values, its format 5 fields; needed: one value for each field.",
    ),
    "a value too few": (
        WHOLE.replace("0.61\t0.67", "0.67"),
        "target.txt, line 17: the set has 9 values, its format 5 fields; needed: one value for each field.",
    ),
    "a value too few at the end": (
        WHOLE.replace("2.05\t2.11", "2.11"),
        "target.txt, line 19: the last set has 4 values, its format 5 fields.",
    ),
    "an open quote": (
        WHOLE.replace('club"', "club"),
        "target.txt, line 2: a quote is opened and not closed.",
    ),
    "two visual fields": (
        WHOLE.replace("D_BLUE\tD_VIS", "D_VISUAL\tD_VIS"),
        "target.txt, line 14: 'D_VISUAL' (column 4) and 'D_VIS' (column 5) could both be visual; needed: one of them.\n"
        "Try: say which column it is (columns=visual=4).",
    ),
    "two statuses": (
        WHOLE.replace("ORIGINATOR", 'REMARK "once Status M"\nORIGINATOR'),
        "target.txt: the file names status A and status M; needed: one kind of density.\n"
        "Try: say which (density=status A or density=status M).",
    ),
    "a status of prints": (
        WHOLE.replace("Status A", "Status T"),
        "target.txt: its densities are status T (named in the keyword DENSITY_STATUS); needed: status A for film to be"
        " looked at, status M for film to be printed, or visual density.\n"
        "Try: say what they are, if you know better (density=status A).",
    ),
    "a sample that is not there": (
        WHOLE.replace("GS2", "XX2"),
        "target.txt: sample gs2 is not there; needed: every sample from GS0 to GS3.",
    ),
    "two tables of densities": (
        WHOLE + WHOLE,
        "target.txt: 2 tables hold readings: 1, 2.\nTry: say which (table).",
    ),
    "sets of two over several lines": (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID D_VIS\nEND_DATA_FORMAT\nBEGIN_DATA\n0.31\n0.40\n0.50\n0.60\nEND_DATA\n",
        "target.txt, line 10: sets run over several lines and make 2, but nothing says how many there are; needed: one"
        " line for each set.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("odd", REFUSED)
def test_what_leaves_a_doubt_is_refused_in_words(tmp_path: Path, odd: str) -> None:
    text, told = REFUSED[odd]
    with pytest.raises(RecordError) as refusal:
        taken(tmp_path, text)
    assert str(refusal.value) == told


def test_samples_are_not_guessed(tmp_path: Path) -> None:
    with pytest.raises(RecordError) as refusal:
        taken(tmp_path, WHOLE, TableDescription())
    assert str(refusal.value) == (
        "target.txt: the samples have names, from A1 to GS3; needed: which of them are the steps of the wedge, from its"
        " clear end.\nTry: take the grey scale GS0:GS3 (samples=GS0:GS3)."
    )


def test_one_of_several_tables_is_picked_by_number(tmp_path: Path) -> None:
    second = WHOLE.replace("0.61", "0.66")
    found = taken(tmp_path, WHOLE + second, TableDescription(samples="GS0:GS3", table="2"))
    assert found.readings["green"][1] == 0.66


@pytest.mark.parametrize("name", sorted(scenarios()))
def test_what_is_written_reads_back_identical(tmp_path: Path, name: str) -> None:
    strip = load_strip(FOLDER / f"{name}.toml")
    text = exchange_text(strip)
    assert recognises(TableFile(Path("a.txt"), text.encode()))
    found = taken(tmp_path, text, TableDescription())
    assert found.positions == tuple(strip.position)
    assert found.density == strip.density
    assert set(found.readings) == set(strip.channels)
    for channel in strip.channels:
        assert found.readings[channel] == tuple(strip.readings[channel])


NUMBERS = st.lists(
    st.tuples(*[st.one_of(st.none(), st.floats(0, 4.5).map(lambda x: x + 0.0))] * 2), min_size=1, max_size=12
)


@given(NUMBERS, st.booleans(), st.text(max_size=12))
def test_any_readings_come_back_to_the_last_digit(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[float | None, float | None]], absolute: bool, title: str
) -> None:
    # At least one reading that is not a whole number, and as many as a strip needs.
    rows = [*rows, (0.125, 0.5), (0.25, 1.0), (0.375, 1.5), (0.5, 2.0)]
    position = np.arange(1.0, len(rows) + 1) / (1 if absolute else 7)
    strip = Strip(
        title=title or "x",
        kind="reversal",
        density="status A",
        exposure=Contact(25.0, 1.0) if absolute else GivenExposure("lux-seconds"),
        position=position,
        readings={
            "red": np.array([np.nan if r is None else r for r, _ in rows]),
            "visual": np.array([np.nan if v is None else v for _, v in rows]),
        },
        wedge=Wedge.nominal(50, 0.05) if absolute else None,
    )
    path = tmp_path_factory.mktemp("cgats") / "a.txt"
    path.write_text(exchange_text(strip), encoding="utf-8")
    found = import_table(path, TableDescription())
    assert found.positions == tuple(position)
    for channel in strip.channels:
        np.testing.assert_array_equal(found.readings[channel], strip.readings[channel])


def test_keywords_are_kept_in_order_with_their_repeats() -> None:
    tables = read_exchange(WHOLE.replace("CREATED", 'REMARK "one"\nREMARK "two"\nCREATED'), "a.txt")
    assert [v for k, v in tables[0].keywords if k == "REMARK"] == ["one", "two"]
