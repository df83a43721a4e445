"""Records that people write into keep their comments, their order and their layout."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curves.errors import RecordError
from curves.files.base.record_edits import edited, last_record, new_text, record_content, write_record
from curves.files.strips.record import load_strip
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


TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\r\x00"), max_size=30)


@given(TEXTS, TEXTS, st.floats(0, 4, allow_nan=False))
def test_any_text_survives_being_written(title: str, notes: str, base: float) -> None:
    content = {"title": title, "notes": notes, "patches": {"base": {"red": base}}, "filter": [{"name": title}]}
    assert tomllib.loads(new_text(content)) == content
    merged = tomllib.loads(edited(BY_HAND, {k: v for k, v in content.items() if k != "filter"}))
    assert (merged["title"], merged["notes"], merged["patches"]["base"]["red"]) == (title, notes, base)
    assert merged["exposure"] == tomllib.loads(BY_HAND)["exposure"]


def test_the_last_record_is_the_one_changed_last(tmp_path: Path) -> None:
    assert last_record(tmp_path, but=tmp_path / "new.toml") is None
    for age, name in enumerate(("one", "two", "pyproject", "new")):
        path = tmp_path / f"{name}.toml"
        path.write_text(BY_HAND if name != "pyproject" else "[tool]\n", encoding="utf-8")
        os.utime(path, (1000 + age, 1000 + age))
    assert last_record(tmp_path, but=tmp_path / "new.toml") == tmp_path / "two.toml"
