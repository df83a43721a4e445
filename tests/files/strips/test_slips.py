"""Slips that once ended in a traceback, or passed unseen, are told in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import CurvesError, OutputError
from curves.files.base.writing import write_atomically
from curves.files.strips.record import load_strip
from curves.files.strips.wedges import parse_wedge
from tests.files.strips.test_mistakes import READINGS, RECORD

# Name of the slip: the record, the readings, and the whole error text.
SLIPS: dict[str, tuple[str, str, str]] = {
    "filters as a list of names": (
        'filter = ["orange"]\n' + RECORD,
        READINGS,
        "strip.toml: 'filter' is not a list; needed: a section headed [[filter]] for each filter.",
    ),
    "filters as a list of numbers": (
        "filter = [1]\n" + RECORD,
        READINGS,
        "strip.toml: 'filter' is not a list; needed: a section headed [[filter]] for each filter.",
    ),
    "increment without its decimal point": (
        RECORD.replace("increment = 0.15", "increment = 15"),
        READINGS,
        "strip.toml, [wedge]: the wedge would end at density 300.05; needed: less than 15.\n"
        "Try: write the increment with its decimal point, such as 0.15.",
    ),
    "a wedge of too many steps": (
        RECORD.replace("steps = 21", "steps = 1000000000000"),
        READINGS,
        "strip.toml, [wedge]: no wedge has so many steps; needed: at most 1000 steps.",
    ),
    "a number beyond any light": (
        RECORD.replace("lux = 25.0", "lux = 1" + 400 * "0"),
        READINGS,
        "strip.toml, [exposure] lux: the number is too great; needed: a number such as 0.15.",
    ),
    "a number of thousands of digits": (
        RECORD.replace("lux = 25.0", "lux = 1" + 5000 * "0"),
        READINGS,
        "strip.toml: this is not TOML; needed: key = value; texts in quotes, numbers with a decimal point.",
    ),
    "a name no file can have": (
        RECORD.replace('"strip.csv"', '"a\\u0000.csv"'),
        READINGS,
        "a\\x00.csv: it cannot be read: no file can have such a name; needed: a text file.",
    ),
    "underscore for the decimal point": (
        RECORD,
        READINGS.replace("0.31", "0_31"),
        "strip.csv, line 2, red: '0_31' is not a number; needed: a density such as 1.25, or an empty cell where"
        " nothing was read.",
    ),
    "a cell without end": (
        RECORD,
        READINGS.replace("0.31", 140_000 * "3"),
        "strip.csv, line 2: the row cannot be split into cells: field larger than field limit (131072).\n"
        "Try: save the table as plain text (CSV, UTF-8).",
    ),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_each_slip_is_told_in_words(slip: str, tmp_path: Path) -> None:
    record, readings, told = SLIPS[slip]
    (tmp_path / "strip.toml").write_text(record, encoding="utf-8")
    (tmp_path / "strip.csv").write_text(readings, encoding="utf-8")
    with pytest.raises(CurvesError) as refusal:
        load_strip(tmp_path / "strip.toml")
    assert str(refusal.value).replace(f"{tmp_path}/", "") == told


@pytest.mark.parametrize(
    ("text", "told"),
    [("21x15", "the wedge would end at density 300.05"), ("999999999999x0.15", "no wedge has so many steps")],
)
def test_a_wedge_nobody_can_have_made_is_refused(text: str, told: str) -> None:
    with pytest.raises(CurvesError, match=told):
        parse_wedge(text)


def test_one_stop_is_labelled_in_the_singular(tmp_path: Path) -> None:
    head = RECORD.partition("[wedge]")[0]
    (tmp_path / "strip.toml").write_text(head + '[exposure]\nmethod = "frames"\nei = 80\n', encoding="utf-8")
    (tmp_path / "strip.csv").write_text("stops,red\n2,0.3\n1,0.5\n0,1.1\n-1,1.9\n-1.5,2.4\n", encoding="utf-8")
    assert load_strip(tmp_path / "strip.toml").labels == ("+2 stops", "+1 stop", "+0 stops", "-1 stop", "-1.5 stops")


@pytest.mark.parametrize(
    ("origin", "unit"),
    [
        ("", "relative"),
        ('log_h = "relative"\n', "relative"),
        ('log_h = "lux-seconds"\n', "lux-seconds"),
        ('log_h = "metered grey"\nei = 80\n', "relative to metered mid-grey"),
    ],
    ids=["unsaid", "relative", "absolute", "metered"],
)
def test_log_h_may_be_given_and_counts_from_what_the_record_states(tmp_path: Path, origin: str, unit: str) -> None:
    head = RECORD.partition("[wedge]")[0]
    (tmp_path / "strip.toml").write_text(head + '[exposure]\nmethod = "given"\n' + origin, encoding="utf-8")
    (tmp_path / "strip.csv").write_text("log_h;red\n-1,5;0,31\n-1;0,5\n-0,5;1,1\n0;2\n", encoding="utf-8")
    strip = load_strip(tmp_path / "strip.toml")
    assert strip.log_h_unit == unit
    assert strip.log_h.tolist() == [-1.5, -1.0, -0.5, 0.0]
    assert strip.readings["red"].tolist() == [0.31, 0.5, 1.1, 2.0]


def test_text_that_cannot_be_encoded_leaves_the_old_file_and_no_rest(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.txt", "old")
    with pytest.raises(OutputError, match="could not be written"):
        write_atomically(tmp_path / "a.txt", "lone half \ud800 of a sign")
    assert [(p.name, p.read_text(encoding="utf-8")) for p in tmp_path.iterdir()] == [("a.txt", "old")]


def test_an_interrupted_write_leaves_no_rest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("curves.files.base.writing.os.fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_atomically(tmp_path / "a.txt", "new")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_place_of_the_file_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(OutputError, match=r"a\.txt: it could not be written"):
        write_atomically(tmp_path / "a.txt", "new")
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]
