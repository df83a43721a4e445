"""Drawers: every way of knowing a filter is read, every slip is told word by word, a measured filter is kept."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.app.file_check import check_file
from curves.errors import OutputError, RecordError
from curves.files.filters.drawer import read_drawer, stack_of
from curves.files.filters.drawer_writing import keep_filter
from curves.sensitometry.filters.densities import filter_of, mired_densities
from tests.simulate import FOLDER

HEADER = "name,red,green,blue,visual,source,uncertainty,count,cc,colour,mired,factor\n"


def drawer(folder: Path, *rows: str, header: str = HEADER) -> Path:
    path = folder / "drawer.csv"
    path.write_text(header + "".join(row + "\n" for row in rows), encoding="utf-8")
    return path


def test_each_way_of_knowing_a_filter_is_read(tmp_path: Path) -> None:
    path = drawer(
        tmp_path,
        "read,0.05,0.25,0.64,0.22,densitometer,,,,,,",
        "own,0.04,0.24,0.60,,film,0.007,2,,,,",
        "magenta,,,,,,,,40,Magenta,,",
        "orange,,,,,,,,,,131,",
        "old,,,,,,,,,,,4",
    )
    read, own, magenta, orange, old = read_drawer(path)
    assert (read.red, read.green, read.blue, read.visual) == (0.05, 0.25, 0.64, 0.22)
    # Common practice: a densitometer is good to 0.04 for a strong colour.
    assert (read.source, read.uncertainty, read.count) == ("densitometer", 0.04, 1)
    assert (own.source, own.uncertainty, own.count, own.visual_estimated) == ("film", 0.007, 2, True)
    assert (magenta.green, magenta.source, magenta.given) == (0.40, "nominal", "CC40 magenta")
    assert orange.densities == pytest.approx(mired_densities(131))
    assert orange.given == "+131 mired"
    assert old.densities == pytest.approx([0.60206] * 3)
    assert old.visual == pytest.approx(0.60206)
    assert old.warning


def test_the_demo_drawer_is_one() -> None:
    names = [one.name for one in read_drawer(FOLDER / "drawer.csv")]
    assert "orange conversion 131 mired" in names
    assert "magenta CC40" in names
    assert check_file(FOLDER / "drawer.csv").error is None


# The rows, and the whole error text, word by word.
MISTAKES: dict[str, tuple[tuple[str, ...], str]] = {
    "no way": (
        ("plain,,,,,,,,,,,",),
        "drawer.csv, line 2: 'plain' is described in no way; needed: one of: red, green and blue; or cc and colour; or"
        " mired; or factor.",
    ),
    "two ways": (
        ("both,,,,,,,,,,131,4",),
        "drawer.csv, line 2: 'both' is described in more than one way; needed: one of: red, green and blue; or cc and"
        " colour; or mired; or factor.",
    ),
    "half a filter": (
        ("half,0.1,,0.2,,film,,,,,,",),
        "drawer.csv, line 2: 'half' has no density to green; needed: red, green and blue; 0 where the filter passes"
        " that light freely.",
    ),
    "no source": (
        ("mute,0.1,0.1,0.2,,,,,,,,",),
        "drawer.csv, line 2, source: the source of the densities of 'mute' is not given; needed: source = nominal or"
        " densitometer or camera.",
    ),
    "unknown source": (
        ("odd,0.1,0.1,0.2,,guess,,,,,,",),
        "drawer.csv, line 2, source: 'guess' is not a source of a filter's densities; needed: nominal or densitometer"
        " or camera.",
    ),
    "no name": (
        (",0.1,0.1,0.2,,film,,,,,,",),
        "drawer.csv, line 2, name: a filter has no name; needed: a name of your own.",
    ),
    "plus in a name": (
        ("a + b,0.1,0.1,0.2,,film,,,,,,",),
        "drawer.csv, line 2, name: 'a + b' holds a plus sign, which joins the filters of a stack; needed: a name"
        " without +.",
    ),
    "twice": (
        ("one,0.1,0.1,0.2,,film,,,,,,", "one,,,,,,,,20,cyan,,"),
        "drawer.csv, line 3, name: 'one' is there already, in line 2; needed: each name once; two of a kind are one row"
        " with count 2.",
    ),
    "no such density": (
        ("x,0.1,9,0.2,,film,,,,,,",),
        "drawer.csv, line 2, green: 9 is not the density of a filter; needed: -0.05 to 5.",
    ),
    "not a number": (
        ("x,0.1,dark,0.2,,film,,,,,,",),
        "drawer.csv, line 2, green: 'dark' is not a number; needed: a density such as 1.25, or an empty cell where"
        " nothing was read.",
    ),
    "CC without colour": (
        ("x,,,,,,,,20,,,",),
        "drawer.csv, line 2, colour: a CC value without its colour; needed: cyan, magenta, yellow, red, green, blue.",
    ),
    "CC of no colour": (
        ("x,,,,,,,,20,pink,,",),
        "drawer.csv, line 2, colour: 'pink' is not a colour of CC filters; needed: cyan, magenta, yellow, red, green,"
        " blue.",
    ),
    "CC out of range": (
        ("x,,,,,,,,900,red,,",),
        "drawer.csv, line 2, cc: 900 is not a CC value; needed: 0 to 200.",
    ),
    "mired out of range": (
        ("x,,,,,,,,,,5500,",),
        "drawer.csv, line 2, mired: 5500 is not a mired shift; needed: -1000 to 1000.",
    ),
    "factor below one": (
        ("x,,,,,,,,,,,0.5",),
        "drawer.csv, line 2, factor: 0.5 is not a filter factor; needed: 1 to 100000.",
    ),
    "half a count": (
        ("x,,,,,,,1.5,20,red,,",),
        "drawer.csv, line 2, count: 1.5 is not a number of filters; needed: a whole number from 0 (lent out) to 20.",
    ),
    "uncertainty out of range": (
        ("x,0.1,0.1,0.2,,film,2,,,,,",),
        "drawer.csv, line 2, uncertainty: 2 is not a standard uncertainty of density; needed: 0 to 1.",
    ),
    "empty": ((), "drawer.csv: the drawer is empty; needed: a row for each filter."),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_word_by_word(mistake: str, tmp_path: Path) -> None:
    rows, said = MISTAKES[mistake]
    path = drawer(tmp_path, *rows)
    with pytest.raises(RecordError) as caught:
        read_drawer(path)
    assert str(caught.value) == said


def test_a_column_that_is_not_known_and_one_that_lacks_are_told(tmp_path: Path) -> None:
    with pytest.raises(RecordError) as caught:
        read_drawer(drawer(tmp_path, header="name,red,green,blu\n"))
    assert str(caught.value) == "drawer.csv, line 1: 'blu' is not a known column.\nTry: write 'blue'."
    with pytest.raises(RecordError) as caught:
        read_drawer(drawer(tmp_path, "0.1,0.2,0.3,film", header="red,green,blue,source\n"))
    assert str(caught.value) == (
        "drawer.csv: the column 'name' is missing; needed: name, then red, green and blue; or cc and colour; or mired;"
        " or factor."
    )


def test_a_stack_is_named_by_its_filters(tmp_path: Path) -> None:
    at_hand = read_drawer(drawer(tmp_path, "a one,,,,,,,2,20,red,,", "b,,,,,,,,20,cyan,,"))
    assert stack_of("b + a one", at_hand) == (0, 1)
    assert stack_of("a one+a one", at_hand) == (0, 0)
    assert stack_of("none", at_hand) == stack_of("", at_hand) == ()
    with pytest.raises(RecordError) as caught:
        stack_of("a on", at_hand)
    assert str(caught.value) == "stack: 'a on' is not in the drawer.\nTry: write 'a one'."
    with pytest.raises(RecordError) as caught:
        stack_of("b + b", at_hand)
    assert str(caught.value) == "stack: the stack has 'b' 2 times, the drawer 1."


MEASURED = filter_of("new, one", (0.0512, 0.2391, 0.6004), "film", visual=0.222, uncertainty=0.0073)


def test_a_measured_filter_is_kept_below_the_others_and_nothing_else_changes(tmp_path: Path) -> None:
    path = drawer(tmp_path, "# a comment", "magenta,,,,,,,,40,magenta,,")
    before = path.read_text(encoding="utf-8")
    assert keep_filter(path, MEASURED) is None
    assert path.read_text(encoding="utf-8") == before + '"new, one",0.051,0.239,0.600,0.222,film,0.007,,,,,\n'
    kept = read_drawer(path)[1]
    assert (kept.name, kept.source, kept.green, kept.uncertainty) == ("new, one", "film", 0.239, 0.007)


def test_a_filter_of_the_same_name_is_replaced_and_keeps_its_count(tmp_path: Path) -> None:
    path = drawer(tmp_path, "magenta,,,,,,,2,40,magenta,,", "cyan,,,,,,,,10,cyan,,")
    one = filter_of("magenta", (0.06, 0.33, 0.08), "film", uncertainty=0.01)
    assert keep_filter(path, one) == "magenta,,,,,,,2,40,magenta,,"
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[1] == "magenta,0.060,0.330,0.080,,film,0.010,2,,,,"
    assert lines[2] == "cyan,,,,,,,,10,cyan,,"


def test_columns_that_lack_are_added_and_decimal_commas_kept(tmp_path: Path) -> None:
    path = drawer(tmp_path, "old;0,10;0,20;0,30;film", header="name;red;green;blue;source\n")
    keep_filter(path, filter_of("new", (0.05, 0.24, 0.60), "film", uncertainty=0.01))
    assert path.read_text(encoding="utf-8").splitlines() == [
        "name;red;green;blue;source;visual;uncertainty",
        "old;0,10;0,20;0,30;film;;",
        "new;0,050;0,240;0,600;film;;0,010",
    ]
    assert [one.green for one in read_drawer(path)] == [0.20, 0.24]


def test_a_drawer_that_is_not_there_is_made(tmp_path: Path) -> None:
    keep_filter(tmp_path / "mine.csv", MEASURED)
    assert (tmp_path / "mine.csv").read_text(encoding="utf-8").splitlines()[0] == (
        "name,red,green,blue,visual,source,uncertainty"
    )
    with pytest.raises(OutputError, match="there is no such folder"):
        keep_filter(tmp_path / "nowhere" / "mine.csv", MEASURED)


def test_what_is_no_drawer_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "strip.csv"
    path.write_text("step,red\n1,0.2\n", encoding="utf-8")
    with pytest.raises(RecordError):
        keep_filter(path, MEASURED)
    assert path.read_text(encoding="utf-8") == "step,red\n1,0.2\n"


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    st.lists(
        st.text(max_size=12) | st.sampled_from(["#5", " ", "a\nb", "a\u2028b", '"', "a,b", "a;b", "=1"]), max_size=3
    )
)
def test_a_name_is_refused_or_found_again(names: list[str]) -> None:
    # Names come from no list of ours: whatever is drawn, no filter is lost.
    kept: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawer.csv"
        for number, name in enumerate(names):
            try:
                keep_filter(path, filter_of(name, (0.1 * number, 0.2, 0.3), "film", uncertainty=0.01))
            except RecordError:
                continue
            kept[name] = 0.1 * number
        found = {one.name: one.red for one in read_drawer(path)} if kept else {}
    assert found == pytest.approx(kept)


@pytest.mark.parametrize("name", ["#5", "# 5 pale", 'so-called "5"', "a,b", "γ 5"])
def test_likely_names_are_kept(name: str, tmp_path: Path) -> None:
    path = drawer(tmp_path, "old,,,,,,,,,,,4")
    keep_filter(path, filter_of(name, (0.1, 0.2, 0.3), "film", uncertainty=0.01))
    keep_filter(path, filter_of(name, (0.4, 0.2, 0.3), "film", uncertainty=0.01))
    assert [(one.name, round(one.red, 3)) for one in read_drawer(path)] == [("old", 0.602), (name, 0.4)]


@pytest.mark.parametrize("name", ["", " ", "a\nb", "a\u2028b", "\x1b[2J", "a ", "a+b"])
def test_names_that_could_not_be_found_again_are_refused(name: str, tmp_path: Path) -> None:
    path = drawer(tmp_path, "old,,,,,,,,,,,4")
    before = path.read_bytes()
    with pytest.raises(RecordError, match="needed: a name for the drawer"):
        keep_filter(path, filter_of(name, (0.1, 0.2, 0.3), "film", uncertainty=0.01))
    assert path.read_bytes() == before


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_drawer_keeps_its_encoding_and_line_ends(codec: str, end: str, tmp_path: Path) -> None:
    path = tmp_path / "drawer.csv"
    text = end.join(["name,factor", "# pâle, of the club's own box, read on the light table", "pâle,4", ""])
    path.write_bytes(text.encode(codec))
    keep_filter(path, MEASURED)
    after = path.read_bytes().decode(codec)
    assert after.encode(codec) == path.read_bytes()
    assert after.count(end) == after.count("\n") == 4
    assert [one.name for one in read_drawer(path)] == ["pâle", MEASURED.name]


def test_a_drawer_that_is_a_link_stays_one(tmp_path: Path) -> None:
    (tmp_path / "club").mkdir()
    real = drawer(tmp_path / "club", "old,,,,,,,,,,,4")
    link = tmp_path / "mine.csv"
    link.symlink_to(real)
    keep_filter(link, MEASURED)
    assert link.is_symlink()
    assert [one.name for one in read_drawer(real)] == ["old", MEASURED.name]
