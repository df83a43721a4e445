import codecs
import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.base.tables import read_table

NAMES = ("step", "red", "green", "blue")
CELL = st.one_of(st.none(), st.integers(0, 450).map(lambda n: n / 100))


@st.composite
def written(draw: st.DrawFn) -> tuple[bytes, list[list[float | None]]]:
    """Draw a table and the bytes that some spreadsheet would save it as."""
    rows = draw(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=25))
    numbers: list[list[float | None]] = [[float(n), *row] for n, row in enumerate(rows, start=1)]
    delimiter = draw(st.sampled_from(["\t", ";", ","]))
    point = draw(st.sampled_from([".", ","])) if delimiter != "," else "."
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    space = draw(st.sampled_from(["", " "]))

    def cell(number: float | None) -> str:
        return space + ("" if number is None else f"{number:g}".replace(".", point))

    lines = [delimiter.join(draw(st.sampled_from([str.lower, str.title]))(name) for name in NAMES)]
    lines += [delimiter.join(cell(number) for number in row) for row in numbers]
    if draw(st.booleans()):
        lines.insert(1, "# read on the club's \"instrument, Tür 3")
        lines.insert(2, "")
    text = end.join(lines) + draw(st.sampled_from(["", end]))
    mark, encoding = draw(
        st.sampled_from(
            [
                (b"", "utf-8"),
                (codecs.BOM_UTF8, "utf-8"),
                (codecs.BOM_UTF16_LE, "utf-16-le"),
                (codecs.BOM_UTF16_BE, "utf-16-be"),
                (b"", "utf-16-le"),
                (b"", "cp1252"),
            ]
        )
    )
    return mark + text.encode(encoding), numbers


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(written())
def test_a_table_in_any_dialect_reads_back_to_the_numbers_that_made_it(
    tmp_path: Path, made: tuple[bytes, list[list[float | None]]]
) -> None:
    content, numbers = made
    path = tmp_path / "strip.csv"
    path.write_bytes(content)
    table = read_table(path, NAMES)
    assert table.header == NAMES
    for column, name in enumerate(NAMES):
        for read, true in zip(table.numbers(name), (row[column] for row in numbers), strict=True):
            assert math.isnan(read) if true is None else read == true


def test_lines_are_counted_as_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "strip.csv"
    path.write_text("# title\n\nstep,red\n1,0.2\n# a note\n2,x\n", encoding="utf-8")
    with pytest.raises(RecordError, match=r"strip\.csv, line 6, red: 'x' is not a number"):
        read_table(path, NAMES).numbers("red")


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\x89PNG\r\n\x1a\n\xff\xfe\x00", "it is not text"),
        (b"step,red\n1,0,25\n", "a decimal comma?"),
        (b"\n\n", "the table is empty"),
        (b'step,red\n1,"0.25\n2,0.31\n', "strip.csv, line 2: the row runs over several lines"),
    ],
)
def test_what_is_no_table_is_refused_in_words(tmp_path: Path, content: bytes, told: str) -> None:
    path = tmp_path / "strip.csv"
    path.write_bytes(content)
    with pytest.raises(RecordError) as refusal:
        read_table(path, NAMES)
    assert told in str(refusal.value)


def test_a_folder_is_no_table(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="it cannot be read"):
        read_table(tmp_path, NAMES)
