"""Encodings, line ends and delimiters, decided in one place."""

from __future__ import annotations

import codecs
from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.base.grids import Grid, decode, lines_of, read_text, separated

TEXT = "Stufe;Grün\r\n1;0,31\r\n"


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (TEXT.encode(), "UTF-8"),
        (codecs.BOM_UTF8 + TEXT.encode(), "UTF-8"),
        (TEXT.encode("utf-16"), "UTF-16"),
        (TEXT.encode("utf-16-le"), "UTF-16"),
        (TEXT.encode("utf-16-be"), "UTF-16"),
        (TEXT.encode("cp1252"), "Windows-1252"),
    ],
)
def test_every_encoding_gives_the_same_text_and_is_named(content: bytes, encoding: str) -> None:
    assert decode(content, "a.csv") == (TEXT, encoding)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\x89PNG\r\n\x1a\n\xff\xfe\x00", "a.csv: it is not text."),
        (b"\xff\xd8\xff\xe1 binary \x01\x02", "a.csv: it is not text."),
        (b"\x81\x8d\x8f", "a.csv: it is not text."),
        (b"PK\x03\x04 and so on \x00\xff", "a.csv: it is a workbook or another archive, not text."),
    ],
)
def test_what_is_not_text_is_refused(content: bytes, told: str) -> None:
    with pytest.raises(RecordError) as refusal:
        decode(content, "a.csv")
    assert str(refusal.value).splitlines()[0] == told


def test_lines_keep_their_ends_and_end_with_them_alone() -> None:
    assert lines_of("a\nb\r\nc\rd\x0be") == ["a\n", "b\r\n", "c\r", "d\x0be"]


@pytest.mark.parametrize(
    ("delimiter", "text"),
    [
        ("tab", "a\tb\n1\t\n"), ("semicolon", "a;b\n1;\n"), ("comma", "a, b\n1,\n"), ("bar", "a|b\n1|\n"),
        ("comma", '"a","b"\r\n"1",""\r\n'),
    ],
)  # fmt: skip
def test_cells_are_separated_and_blank_lines_and_remarks_left_out(delimiter: str, text: str) -> None:
    grid = separated(f"# the club's \"reader\n\n{text}\n\n", delimiter, "a.csv")
    assert grid.rows == (("a", "b"), ("1", ""))
    assert grid.lines == (3, 4)
    assert (grid.where(1), grid.where(1, 1)) == ("a.csv, line 4", "a.csv, line 4, column 2")


def test_spaces_separate_any_number_of_words_and_none_separates_none() -> None:
    assert separated("a  b\n1 2 3\n", "spaces", "a.txt").rows == (("a", "b", None), ("1", "2", "3"))
    assert separated(' "red" \n0.31\n', "none", "a.txt").rows == (("red",), ("0.31",))


def test_a_cell_over_two_lines_counts_from_its_first() -> None:
    grid = separated('a,"b\nc"\n1,2\n', "comma", "a.csv")
    assert grid.rows == (("a", "b\nc"), ("1", "2"))
    assert grid.lines == (1, 3)


def test_a_turned_grid_still_tells_where_a_cell_stands() -> None:
    grid = Grid.of("a.csv", [["step", "1", "2"], ["red", "0.3"]], [4, 5]).turned()
    assert grid.rows == (("step", "red"), ("1", "0.3"), ("2", None))
    assert (grid.where(2), grid.where(1, 1)) == ("a.csv, column 3", "a.csv, line 5, column 2")


def test_a_file_that_is_not_there_is_told_with_what_lies_beside_it(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text("", encoding="utf-8")
    with pytest.raises(RecordError, match=r"there is no such file\.\nTry: check the name; beside it there is b\.csv\."):
        read_text(tmp_path / "a.csv")
