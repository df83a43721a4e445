"""Tables from elsewhere: read to the numbers that made them, or refused with the option that decides."""

from __future__ import annotations

import codecs
import csv
import io
import math
import sys
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.base.strip_table import StripTable
from curves.files.imports.readers import TableDescription, import_table

LANGUAGES: list[dict[str, str]] = [
    {"step": "step", "red": "red", "green": "green", "blue": "blue", "visual": "visual"},
    {"step": "Stufe", "red": "Rot", "green": "Grün", "blue": "Blau", "visual": "visuell"},
    {"step": "palier", "red": "rouge", "green": "vert", "blue": "bleu", "visual": "visuelle"},
    {"step": "Paso", "red": "Rojo", "green": "Verde", "blue": "Azul", "visual": "Visual"},
    {"step": "Step No.", "red": "D_RED", "green": "D_GREEN", "blue": "D_BLUE", "visual": "D_VIS"},
]
DELIMITERS = {"tab": "\t", "semicolon": ";", "comma": ",", "bar": "|", "spaces": "  "}


@dataclass(frozen=True)
class Made:
    """A table that some program might have written, and the numbers that went into it."""

    content: bytes
    steps: tuple[float, ...]
    readings: dict[str, tuple[float, ...]]
    certain: bool


@st.composite
def made(draw: st.DrawFn) -> Made:
    channels = draw(st.lists(st.sampled_from(["red", "green", "blue", "visual"]), min_size=1, max_size=4, unique=True))
    count = draw(st.integers(1, 24))
    cell = st.one_of(st.just(math.nan), st.integers(0, 450).map(lambda n: n / 100))
    readings = {c: tuple(draw(st.lists(cell, min_size=count, max_size=count))) for c in channels}
    steps = tuple(float(n) for n in range(1, count + 1))
    words = draw(st.sampled_from(LANGUAGES))
    delimiter = draw(st.sampled_from(sorted(DELIMITERS)))
    comma = draw(st.booleans())
    quoted = draw(st.booleans())
    decimals = draw(st.sampled_from([2, 3]))

    def text(value: float, whole: bool = False) -> str:
        if math.isnan(value):
            return "-" if delimiter == "spaces" else ""
        shown = f"{value:.0f}" if whole else f"{value:.{decimals}f}"
        return shown.replace(".", ",") if comma else shown

    extra = draw(st.booleans())
    numbered = draw(st.booleans())
    rows = [[words["step"], *(words[c] for c in channels), *(["Kommentar"] if extra else [])]]
    if draw(st.booleans()):
        rows.append(["", *("[D]" for _ in channels), *([""] if extra else [])] if delimiter != "spaces" else [])
    for i, step in enumerate(steps):
        rows.append([text(step, True), *(text(readings[c][i]) for c in channels), *(["ok"] if extra else [])])
    rows = [row if numbered else row[1:] for row in rows if row]
    if delimiter == "spaces":
        rows = [[cell.replace(" ", "_") for cell in row] for row in rows]
    if draw(st.booleans()):
        rows = [list(row) for row in zip(*rows, strict=True)]
    title = draw(st.sampled_from([[], ["Heron 80"], ["Heron 80", "club; test"], ["Grauskala, 21 Stufen"]]))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    out = io.StringIO(newline="")
    if delimiter == "spaces":
        lines = [DELIMITERS[delimiter].join(row) for row in rows]
    else:
        writer = csv.writer(
            out,
            delimiter=DELIMITERS[delimiter],
            lineterminator="\n",
            quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_NONE,
            escapechar="\\",
        )
        if quoted:
            writer.writerows(rows)
            lines = out.getvalue().splitlines()
        else:
            lines = [DELIMITERS[delimiter].join(row) for row in rows]
    body = end.join([*title, *lines, *draw(st.sampled_from([[], [""]]))])
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
    read = [v for values in readings.values() for v in values if not math.isnan(v)]
    lost = comma and delimiter == "comma" and not quoted
    certain = not lost and any(v != int(v) for v in read)
    # Where place alone numbers the steps, an empty line may be one that was not read.
    gap = not numbered and any("" in row or not any(row) for row in rows)
    return Made(mark + body.encode(encoding), steps, readings, certain and not gap)


def same(found: StripTable, table: Made) -> bool:
    """Return whether a table was read to its numbers; rows that hold none may be missing."""
    read_by_name = {str(c): v for c, v in found.readings.items()}
    for channel, values in table.readings.items():
        true = {s: v for s, v in zip(table.steps, values, strict=True) if not math.isnan(v)}
        read = zip(found.positions, read_by_name.get(channel, [math.nan] * len(found.positions)), strict=True)
        if {s: v for s, v in read if not math.isnan(v)} != true:
            return False
    return True


def attempt(path: Path) -> StripTable | None:
    """Return what a table was read to; None if it was refused, which it must be in words."""
    try:
        return import_table(path)
    except RecordError as refusal:
        return None if str(refusal) else pytest.fail("refused without a word")


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(made())
def test_a_table_in_any_dialect_is_read_to_its_numbers_or_not_at_all(tmp_path: Path, table: Made) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(table.content)
    found = attempt(path)
    # Commas for both, or whole numbers alone: nobody can tell. All others must be read.
    assert found is not None or not table.certain
    assert found is None or same(found, table)


def written(tmp_path: Path, text: str, name: str = "table.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode())
    return path


def refused(path: Path, how: TableDescription | None = None) -> str:
    with pytest.raises(RecordError) as refusal:
        import_table(path, how)
    return str(refusal.value)


def test_what_was_understood_is_said(tmp_path: Path) -> None:
    text = "Club;test\n\nStufe;Rot;Bemerkung\n;[D];\n1;0,31;gut\n2;0,50;\n"
    found = import_table(written(tmp_path, text), TableDescription())
    assert found.understood == (
        "Cells are separated by semicolon, steps run down, decimals have a comma.",
        "Columns: step is 'Stufe', red is 'Rot'.",
        "A row of units under the names is passed over.",
        "Not used: Bemerkung.",
    )


def test_thousands_of_columns_are_read_and_most_passed_over(tmp_path: Path) -> None:
    wavelengths = [f"nm{n}" for n in range(5000)]
    rows = [["step", *wavelengths, "D_VIS"]] + [[str(n), *["0.5"] * 5000, f"0.{n}1"] for n in range(1, 5)]
    found = import_table(written(tmp_path, "\n".join("\t".join(row) for row in rows)), TableDescription())
    assert found.readings["visual"] == (0.11, 0.21, 0.31, 0.41)
    assert found.understood[-1] == "Not used: nm0, nm1, nm2, nm3, nm4, nm5 and 4994 more."


def test_steps_across_a_thousand_columns(tmp_path: Path) -> None:
    steps = range(1, 1001)
    text = ",".join(["step", *map(str, steps)]) + "\n" + ",".join(["red", *(f"{n / 400:.3f}" for n in steps)])
    found = import_table(written(tmp_path, text), TableDescription())
    assert found.positions == tuple(float(n) for n in steps)
    assert found.readings["red"][999] == 2.5


def test_rows_without_numbers_of_steps_are_taken_in_order_and_that_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, "red\n0.31\n0.50\n0.90\n")
    found = import_table(path)
    assert found.positions == (1.0, 2.0, 3.0)
    assert found.understood[-1] == "No column numbers the steps: the 3 rows are taken in order, from the clear end."
    assert import_table(path, TableDescription(first_end="dark")).positions == (3.0, 2.0, 1.0)


def test_a_table_without_names_is_read_with_its_columns_numbered(tmp_path: Path) -> None:
    path = written(tmp_path, "1 0.31 0.4\n2 0.50 0.6\n")
    assert refused(path) == (
        "table.csv: no row names the columns; needed: a row with names such as step, red, green, blue.\n"
        "Try: say which column is which (columns=step=1 columns=visual=2)."
    )
    found = import_table(path, TableDescription(columns={"step": "1", "visual": "3"}))
    assert found.readings == {"visual": (0.4, 0.6)}


def test_whole_numbers_are_hundredths_only_if_the_person_says_so(tmp_path: Path) -> None:
    path = written(tmp_path, "step,red\n1,31\n2,50\n")
    assert refused(path) == (
        "table.csv: every density is a whole number; needed: densities such as 2.91, not the numbers of pixels.\n"
        "Try: say whether they are hundredths, as instruments without a point show them, or densities (no_point=True or"
        " no_point=False)."
    )
    assert import_table(path, TableDescription(no_point=True)).readings == {"red": (0.31, 0.5)}
    assert refused(path, TableDescription(no_point=False)) == (
        "table.csv, line 2, red: 31 is not a density; needed: densities with their decimal point, such as 2.91."
        "\nTry: if the instrument shows no point, divide by 100: 0.31."
    )
    decimals = written(tmp_path, "step,red\n1,0.31\n2,50\n")
    assert refused(decimals, TableDescription(no_point=True)) == (
        "no_point: some numbers have decimals; needed: whole numbers alone."
    )


def test_spaces_separate_words_and_none_leaves_a_line_whole(tmp_path: Path) -> None:
    words, lines = written(tmp_path, "step red\n1 0.31\n2 0.50\n"), written(tmp_path, "Rot D\n0.31\n0.50\n", "one.txt")
    found = import_table(words, TableDescription(delimiter="spaces"))
    assert (found.positions, found.readings) == ((1.0, 2.0), {"red": (0.31, 0.5)})
    assert refused(words, TableDescription(delimiter="none")).startswith("table.csv: no row names the columns")
    found = import_table(lines, TableDescription(delimiter="none"))
    assert found.readings == {"red": (0.31, 0.5)}
    assert found.understood[0] == "There is one column, steps run down, decimals have a point."
    assert "the row has 1 cells, the header 2" in refused(lines, TableDescription(delimiter="spaces"))


def test_a_column_that_two_names_fit_is_told_by_its_number(tmp_path: Path) -> None:
    path = written(tmp_path, "probe,patch,D_VIS\n1,GS0,0.31\n2,GS1,0.50\n")
    assert "Try: say which column it is (columns=sample=1)." in refused(path)
    assert import_table(path, TableDescription(columns={"sample": "1"})).positions == (1.0, 2.0)


def test_a_table_that_reads_two_ways_is_read_in_neither(tmp_path: Path) -> None:
    # The one name may head its column or its row.
    path = written(tmp_path, "red;0.5\n0.7;0.9\n")
    assert refused(path) == (
        "table.csv: it can be read in 2 ways: step 1 with red 0.7; or step 1 with red 0.5.\n"
        "Try: say which (delimiter, decimal or steps)."
    )
    assert import_table(path, TableDescription(steps="down")).readings == {"red": (0.7,)}
    assert import_table(path, TableDescription(steps="across")).readings == {"red": (0.5,)}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "step,D_VIS,Visual\n1,0.31,0.32\n2,0.5,0.51\n",
            "table.csv, line 1: 'D_VIS' (column 2) and 'Visual' (column 3) could both be visual; needed: one of them.\n"
            "Try: say which column it is (columns=visual=2).",
        ),
        (
            "step;red\n1;0,31\n2;O,50\n",
            "table.csv, line 3, red: 'O,50' is not a number with a decimal comma; needed: a density such as 1.25, or an"
            " empty cell where nothing was read.",
        ),
        (
            "step,red,green\n1,0.31,0.40\n2,0.50\n",
            "table.csv, line 3: the row has 2 cells, the header 3; needed: one cell for each column, empty where"
            " nothing was read.\nTry: give delimiter or decimal.",
        ),
        (
            "step,red,green\n1,0,31,0,40\n",
            "table.csv, line 2: the row has 5 cells, the header 3 (a decimal comma?); needed: one cell for each column,"
            " empty where nothing was read.\nTry: separate the cells by semicolons if the numbers have decimal commas.",
        ),
        (
            "step,red\n0,0.31\n1,0.5\n",
            "table.csv, line 2, step: 0 is not a step number; needed: a whole number from 1, the step at the"
            " wedge's clear end.\nTry: give samples=FIRST:LAST.",
        ),
        (
            "step,red\n1,-0.31\n2,0.5\n",
            "table.csv, line 2, red: -0.31 is below zero; needed: densities counted from an empty gate, not from"
            " the base.\nTry: zero the instrument on an empty gate and read again.",
        ),
        (
            "step,red\n1,0.31\n2,291.5\n",
            "table.csv, line 3, red: 291.5 is not a density; needed: densities with their decimal point, such as"
            " 2.91.\nTry: if the instrument shows no point, divide by 100: 2.92.",
        ),
        (
            "step,stops,red\n1,0,0.31\n2,1,0.5\n",
            "table.csv: step and stops both say which step a row is; needed: one of them: step or stops.",
        ),
        ("step,red\n", "table.csv, line 1: no row of readings follows the names."),
        (
            "",
            "table.csv: no row names the columns; needed: a row with names such as step, red, green, blue.\n"
            "Try: say which column is which (columns=step=1 columns=red=2).",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_in_words(tmp_path: Path, text: str, told: str) -> None:
    assert refused(written(tmp_path, text)) == told


def test_a_step_that_was_not_read_keeps_its_place(tmp_path: Path) -> None:
    found = import_table(written(tmp_path, "red\tgreen\n-\t-\n0.31\t0.40\n"), TableDescription())
    assert found.positions == (1.0, 2.0)
    assert math.isnan(found.readings["red"][0])
    found = import_table(written(tmp_path, "red;green;note\n;;torn\n0.31;0.40;\n"), TableDescription())
    assert found.readings["green"][1] == 0.40
    assert refused(written(tmp_path, "red\n0.31\n\n0.40\n")) == (
        "table.csv, line 3: a line is left out between two rows, and no column numbers the steps; needed: a column that"
        " numbers the steps, or rows without a gap."
    )


def workbook(tmp_path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "table.xlsx"
    book.save(path)
    return path


ROWS: list[list[object]] = [["Stufe", "Rot", "Grün"], [1, 0.31, 0.4], [2, 0.5, None], [3, 0.9, 1.05]]


def test_a_sheet_is_read_numbers_and_texts_alike(tmp_path: Path) -> None:
    found = import_table(workbook(tmp_path, {"a": [["Heron 80"], [], *ROWS], "empty": []}))
    assert found.readings["red"] == (0.31, 0.5, 0.9)
    assert math.isnan(found.readings["green"][1])
    texts = [[f"{c}".replace(".", ",") if isinstance(c, float) else c for c in row] for row in ROWS]
    assert import_table(workbook(tmp_path, {"a": texts}), TableDescription()).readings["red"] == (0.31, 0.5, 0.9)


def test_a_sheet_with_steps_across_is_read(tmp_path: Path) -> None:
    turned = [list(row) for row in zip(*ROWS, strict=True)]
    assert import_table(workbook(tmp_path, {"a": turned}), TableDescription()).readings["red"] == (0.31, 0.5, 0.9)


def test_one_of_two_sheets_is_picked_by_name_not_guessed(tmp_path: Path) -> None:
    path = workbook(tmp_path, {"one": ROWS, "two": ROWS})
    assert refused(path) == "table.xlsx: 2 sheets hold readings: one, two.\nTry: say which (sheet)."
    assert import_table(path, TableDescription(sheet="two")).understood[0] == "Steps run down, decimals have a point."
    assert refused(path, TableDescription(sheet="three")) == (
        "table.xlsx: the file has no sheet three; needed: one of: one, two.\nTry: give sheet."
    )


def test_a_formula_that_was_never_computed_is_told(tmp_path: Path) -> None:
    path = workbook(tmp_path, {"a": [["step", "red"], [1, 0.31], [2, "=B2*2"]]})
    assert refused(path) == (
        "table.xlsx, sheet a: cell B3 holds a formula that was never computed.\n"
        "Try: open the workbook in a spreadsheet, and save it again."
    )


def test_what_is_no_workbook_is_told(tmp_path: Path) -> None:
    path = written(tmp_path, "hello", "table.xlsx")
    assert refused(path).startswith("table.xlsx: it is not a workbook that can be read: ")


def test_without_the_reader_of_workbooks_the_way_to_get_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = workbook(tmp_path, {"a": ROWS})
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert refused(path) == (
        "table.xlsx: reading a workbook needs the package openpyxl, which is not installed.\n"
        "Try: pip install openpyxl, or save the sheet as CSV."
    )


@given(st.text(alphabet='stepred,;\t |.0123\n"-', max_size=60))
def test_any_text_is_read_or_refused_in_words(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("any") / "a.csv"
    path.write_bytes(text.encode())
    found = attempt(path)
    assert found is None or all(len(v) == len(found.positions) for v in found.readings.values())
