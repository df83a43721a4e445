"""Records that people write into keep their comments, their order and their layout."""

from __future__ import annotations

import os
import tempfile
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.errors import OutputError, RecordError
from curves.files.base.record_edits import check_says, edited, last_record, new_text, record_content, write_record
from curves.files.strips.readings import check_readings, csv_text
from curves.files.strips.record import load_strip
from curves.sensitometry.core.units import CHANNELS, Channel
from tests.simulate import FOLDER, scenarios

BY_HAND = """# The club's second strip, read on a rainy day.
kind     = "reversal"     # it was developed as a slide
density  = "status A"
readings = "strip.csv"

# The lamp was measured in March.
[exposure]   # contact frame
seconds = 0.02
lux     = 25.0            # at the frame
method  = "contact"

[wedge]
increment = 0.15
steps     = 21            # the old tablet

# end
"""


def test_an_edit_changes_what_differs_and_nothing_else() -> None:
    text = edited(BY_HAND, {"kind": "reversal", "exposure": {"lux": 30.0, "method": "contact"}})
    assert text == BY_HAND.replace("lux     = 25.0 ", "lux     = 30.0 ")


def test_new_keys_go_after_the_old_and_above_the_comment_of_a_section() -> None:
    text = edited(BY_HAND, {"notes": "dusty", "patches": {"base": {"red": 0.16}}})
    assert text == BY_HAND.replace('readings = "strip.csv"\n', 'readings = "strip.csv"\nnotes = "dusty"\n') + (
        "\n[patches]\nbase = {red = 0.16}\n"
    )


def test_an_edit_that_changes_nothing_leaves_every_character() -> None:
    for name in scenarios():
        text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
        assert edited(text, record_content(FOLDER / f"{name}.toml")) == text
    assert edited(BY_HAND, tomllib.loads(BY_HAND)) == BY_HAND


def test_a_key_goes_after_a_text_of_several_lines() -> None:
    text = 'kind = "negative"\nnotes = """a\nb = 1\n"""\n\n[wedge]\nsteps = 3\n'
    assert edited(text, {"title": "x"}) == text.replace('b = 1\n"""\n', 'b = 1\n"""\ntitle = "x"\n')


def test_a_record_without_top_keys_gets_them_on_top() -> None:
    assert edited("[wedge]\nsteps = 3\n", {"title": "x"}) == 'title = "x"\n\n[wedge]\nsteps = 3\n'


@pytest.mark.parametrize("text", ['patches = "strip-patches.csv"\n', "[[patches]]\nred = 0.2\n", "patches = 3\n"])
@pytest.mark.parametrize(
    ("content", "gone"), [({"patches": {"base": {"red": 0.2}}}, ()), ({"title": "x"}, ("patches.base",))]
)
def test_a_value_in_the_place_of_a_section_is_refused(
    text: str, content: dict[str, object], gone: tuple[str, ...]
) -> None:
    with pytest.raises(RecordError, match=r"'patches' is not a table; needed: a section headed \[patches\], once"):
        edited(text, content, gone=gone)


def test_what_is_taken_out_of_a_section_that_is_not_there_leaves_the_record_as_it_is() -> None:
    text = 'kind = "negative"  # as developed\n'
    assert edited(text, {}, gone=("patches.base", "title")) == text


def test_what_is_no_toml_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "strip.toml"
    path.write_text("kind = reversal\n", encoding="utf-8")
    with pytest.raises(RecordError, match=r"strip\.toml: this is not TOML"):
        write_record(path, {"title": "x"})
    assert path.read_text(encoding="utf-8") == "kind = reversal\n"


@pytest.mark.parametrize("name", sorted(scenarios()))
def test_a_new_record_says_what_it_was_given(tmp_path: Path, name: str) -> None:
    content = record_content(FOLDER / f"{name}.toml")
    for table in FOLDER.glob("*.csv"):
        (tmp_path / table.name).write_bytes(table.read_bytes())
    path = tmp_path / f"{name}.toml"
    write_record(path, content)
    assert record_content(path) == content
    assert load_strip(path).patches == load_strip(FOLDER / f"{name}.toml").patches


TEXTS = st.text(st.characters(codec="utf-8"), max_size=30)


@given(TEXTS, TEXTS, st.floats(0, 4, allow_nan=False))
def test_any_text_survives_being_written(title: str, notes: str, base: float) -> None:
    content = {"title": title, "notes": notes, "patches": {"base": {"red": base}}, "filter": [{"name": title}]}
    assert tomllib.loads(new_text(content)) == content
    merged = tomllib.loads(edited(BY_HAND, {k: v for k, v in content.items() if k != "filter"}))
    assert (merged["title"], merged["notes"], merged["patches"]["base"]["red"]) == (title, notes, base)
    assert merged["exposure"] == tomllib.loads(BY_HAND)["exposure"]


@pytest.mark.parametrize("notes", ["a\r\nb", "\r\n", "a\nb\r", "\n\r\n", "two\nlines\n"])
def test_line_ends_of_any_system_come_back(notes: str) -> None:
    assert tomllib.loads(new_text({"title": "x", "notes": notes}))["notes"] == notes
    assert tomllib.loads(edited(BY_HAND, {"notes": notes}))["notes"] == notes


def test_a_plan_a_bracket_behind_stacks_and_joined_strips_tell_nothing_of_the_next_strip(tmp_path: Path) -> None:
    """Their exposure is not that of any strip to come: a roll's filters would all stand before the next strip."""
    said = 'kind = "reversal"\nreadings = "{}.csv"\n[exposure]\nmethod = "{}"\n'
    for name, method in (("strip", "contact"), ("roll", "frames"), ("both", "given"), ("next", "contact")):
        (tmp_path / f"{name}.toml").write_text(said.format(name, method), encoding="utf-8")
    with (tmp_path / "next.toml").open("a", encoding="utf-8") as record:
        record.write("[plan]\nstrip = 1\n")
    (tmp_path / "strip.csv").write_text("step,visual\n1,0.1\n", encoding="utf-8")
    (tmp_path / "roll.csv").write_text("frame,stack,ei,judgement,visual\n1,orange,12,,\n", encoding="utf-8")
    (tmp_path / "both.csv").write_text("# joined\nexposure,log_h,visual\none,0.1,0.1\n", encoding="utf-8")
    for age, name in enumerate(("next", "both", "roll", "strip")):
        os.utime(tmp_path / f"{name}.toml", (1e9 - age, 1e9 - age))
    assert last_record(tmp_path, but=tmp_path / "new.toml") == tmp_path / "strip.toml"
    (tmp_path / "next.csv").write_text("step,visual\n1,0.1\n", encoding="utf-8")
    assert last_record(tmp_path, but=tmp_path / "new.toml") == tmp_path / "next.toml"


def test_the_last_record_is_the_one_changed_last(tmp_path: Path) -> None:
    assert last_record(tmp_path, but=tmp_path / "new.toml") is None
    for age, name in enumerate(("one", "two", "pyproject", "new")):
        path = tmp_path / f"{name}.toml"
        path.write_text(BY_HAND if name != "pyproject" else "[tool]\n", encoding="utf-8")
        os.utime(path, (1000 + age, 1000 + age))
    assert last_record(tmp_path, but=tmp_path / "new.toml") == tmp_path / "two.toml"


NAMES = st.text(max_size=20) | st.sampled_from(
    ['"', "'''", '"""\n"""', "\\", "a\r\nb", "\ud800", "[x]", "#5", "=\n=", "\x00"]
)


@given(NAMES, NAMES, st.booleans())
def test_a_record_written_says_what_was_meant_or_the_old_one_stays(title: str, notes: str, there: bool) -> None:
    content = {"title": title, "notes": notes, "exposure": {"light": title}}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "strip.toml"
        if there:
            path.write_text(BY_HAND, encoding="utf-8")
        try:
            write_record(path, content)
        except OutputError:
            # Half of a pair of surrogates is not a character, and has no place in a text.
            assert any(0xD800 <= ord(c) < 0xE000 for c in title + notes)
            assert not there or path.read_text(encoding="utf-8") == BY_HAND
        else:
            found = record_content(path)
            assert (found["title"], found["notes"], found["exposure"]["light"]) == (title, notes, title)
        assert [p.name for p in Path(folder).iterdir()] == ["strip.toml"] * path.exists()


@pytest.mark.parametrize(
    ("says", "meant"),
    [
        ('title = "other"\n', {"title": "strip"}),
        ("", {"title": "strip"}),
        ("exposure = 5\n", {"exposure": {"lux": 5.0}}),
        ("[exposure]\nlux = 4.0\n", {"exposure": {"lux": 5.0}}),
        ('filter = [{name = "a"}]\n', {"filter": [{"name": "a"}, {"name": "b"}]}),
        ("date = 2026-03-14\n", {"date": "2026-03-15"}),
    ],
)
def test_a_record_that_does_not_say_what_was_meant_is_refused(
    tmp_path: Path, says: str, meant: dict[str, object]
) -> None:
    path = tmp_path / "strip.toml"
    path.write_text(says, encoding="utf-8")
    with pytest.raises(RecordError, match=f"{next(iter(meant))} would be lost or changed"):
        check_says(meant, path)
    path.write_text(new_text(meant), encoding="utf-8")
    check_says(meant, path)


@pytest.mark.parametrize("text", ["step,red\n1,0.10\n2,0.21\n", "step,red\n1,0.10\n", "step,green\n1,0.10\n2,0.20\n"])
def test_readings_that_do_not_come_back_are_refused(tmp_path: Path, text: str) -> None:
    rows: list[tuple[float, dict[Channel, float]]] = [(1.0, {"red": 0.10}), (2.0, {"red": 0.20})]
    path = tmp_path / "strip.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError, match="a row would be lost or changed"):
        check_readings(rows, path)
    path.write_text(csv_text("step", rows, ["red"]), encoding="utf-8")
    check_readings(rows, path)


POSITIONED = st.floats(-9, 9) | st.integers(1, 1000).map(float)
READ = st.dictionaries(st.sampled_from(CHANNELS), st.floats(0, 6))


@given(st.lists(st.tuples(POSITIONED, READ), min_size=1))
def test_any_readings_come_back(rows: list[tuple[float, dict[Channel, float]]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "strip.csv"
        path.write_text(csv_text("log_h", rows, ["red"]), encoding="utf-8")
        check_readings(rows, path)
