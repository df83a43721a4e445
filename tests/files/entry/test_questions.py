"""The questions of a record: what they take, what they refuse, what they leave."""

from __future__ import annotations

from pathlib import Path

import pytest

from curves.errors import RecordError
from curves.files.entry.drafts import answer, bracket_stops, carry_over
from curves.files.entry.questions import QUESTIONS, Draft, Question, open_questions
from curves.sensitometry.core.units import STOP
from tests.simulate import FOLDER

BY_KEY = {q.key: q for q in QUESTIONS}
CAMERA: Draft = {"exposure": {"method": "camera"}, "wedge": {"steps": 21, "increment": 0.15, "first": 0.05}}


@pytest.mark.parametrize(
    ("key", "text", "content"),
    [
        ("title", "Heron 80", {"title": "Heron 80"}),
        ("title", "", {}),
        ("kind", "r", {"kind": "reversal"}),
        ("kind", "negative", {"kind": "negative"}),
        ("density", "A", {"density": "status A"}),
        ("density", "status m", {"density": "status M"}),
        ("density", "v", {"density": "visual"}),
        ("date", "2026-03-14", {"date": "2026-03-14"}),
        ("exposure.method", "ca", {"exposure": {"method": "camera"}}),
        ("exposure.lux", "25,5", {"exposure": {"lux": 25.5}}),
        ("exposure.seconds", "1/50", {"exposure": {"seconds": 0.02}}),
        ("exposure.seconds", "1.6", {"exposure": {"seconds": 1.6}}),
        ("wedge", "21x0.15", {"wedge": {"steps": 21, "increment": 0.15, "first": 0.05}}),
        ("wedge", "11 x 0,30 @ 0,08", {"wedge": {"steps": 11, "increment": 0.3, "first": 0.08}}),
        ("wedge", "wedge-21.csv", {"wedge": {"table": "wedge-21.csv"}}),
    ],
)
def test_an_answer_goes_into_the_record(key: str, text: str, content: Draft) -> None:
    assert answer({}, BY_KEY[key], text, FOLDER) == content


@pytest.mark.parametrize(
    ("key", "text", "told"),
    [
        ("kind", "slide", "'slide' is not one of the choices; needed: negative, reversal."),
        ("kind", "", "'' is not one of the choices; needed: negative, reversal."),
        ("density", "s", "'s' is not one of the choices; needed: status A, status M, visual, scan."),
        ("date", "14.3.2026", "'14.3.2026' is not a date; needed: a date such as 2026-03-14."),
        ("exposure.lux", "bright", "'bright' is not a number; needed: a number such as 0.15."),
        ("exposure.lux", "0", "the answer: 0 is out of range; needed: more than 0."),
        ("exposure.metered_step", "0", "'0' is not a step; needed: a whole number from 1."),
        (
            "exposure.metered_step",
            "25",
            "the wedge has 21 steps, so there is no step 25; needed: a step from 1 to 21.",
        ),
        (
            "wedge",
            "21",
            "wedge: '21' does not describe a wedge; needed: steps x increment, such as 21x0.15, or 21x0.15@0.05"
            " with the density of step 1.",
        ),
    ],
)
def test_an_answer_that_makes_no_sense_is_refused_in_words(key: str, text: str, told: str) -> None:
    with pytest.raises(RecordError) as refusal:
        answer(CAMERA, BY_KEY[key], text, FOLDER)
    assert str(refusal.value) == told


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda q: q.key)
def test_every_question_is_explained_with_an_example_that_it_takes(question: Question, tmp_path: Path) -> None:
    assert question.explains.endswith(".")
    assert len(question.meanings) == len(question.choices)
    folder = with_known_wedge(tmp_path) if question.key == "reader.known_wedge" else FOLDER
    draft = {**CAMERA, "reader": {"unit": "stops"}} if question.key == "reader.known_wedge" else CAMERA
    assert question.answer_in(answer(draft, question, question.example, folder)) == question.example


def with_known_wedge(folder: Path) -> Path:
    """Write a known wedge read in stops, without flare; return the folder."""
    rows = "".join(f"{density},{density / STOP:.1f}\n" for density in (0.05, 0.65, 1.25, 1.85, 2.45))
    (folder / "known-wedge.csv").write_text(f"density,reading\n{rows}", encoding="utf-8")
    return folder


@pytest.mark.parametrize("question", [q for q in QUESTIONS if q.may_be_empty], ids=lambda q: q.key)
def test_a_dash_stands_for_no_answer_where_none_is_needed(question: Question, tmp_path: Path) -> None:
    first: dict[str, object] = {"reader": {"unit": "stops"}} if question.key == "reader.known_wedge" else {}
    before = answer(first, question, question.example, with_known_wedge(tmp_path))
    assert before != answer(before, question, "-", tmp_path) == first


def test_another_unit_of_the_readings_drops_the_open_gate_and_the_known_wedge(tmp_path: Path) -> None:
    draft = answer({}, BY_KEY["reader.unit"], "sec", tmp_path)
    draft = answer(draft, BY_KEY["reader.open_gate"], "1/1000", tmp_path)
    assert draft == {"reader": {"unit": "seconds", "open_gate": "1/1000"}}
    assert answer(draft, BY_KEY["reader.unit"], "seconds", tmp_path) == draft
    assert answer(draft, BY_KEY["reader.unit"], "stops", tmp_path) == {"reader": {"unit": "stops"}}
    assert answer(draft, BY_KEY["reader.unit"], "density", tmp_path) == {}
    named = {"reader": {"unit": "ev", "open_gate": 14, "name": "old meter", "repeatability": 0.02}}
    kept = {"reader": {"name": "old meter", "repeatability": 0.02}}
    assert answer(named, BY_KEY["reader.unit"], "density", tmp_path) == kept


def test_a_known_wedge_in_another_unit_is_refused_at_once(tmp_path: Path) -> None:
    draft = {"reader": {"unit": "percent"}}
    with pytest.raises(RecordError, match="from what the known densities would show"):
        answer(draft, BY_KEY["reader.known_wedge"], "known-wedge.csv", with_known_wedge(tmp_path))


def test_only_what_the_method_needs_is_asked() -> None:
    keys = [q.key for q in open_questions({"exposure": {"method": "frames"}}, every=True)]
    assert "wedge" not in keys
    assert "exposure.lux" not in keys
    assert keys[-1] == "exposure.ei"


def test_a_record_is_asked_only_what_it_lacks() -> None:
    draft: Draft = {"kind": "reversal", "exposure": {"method": "contact", "lux": 25.0}}
    assert [q.key for q in open_questions(draft, every=False)] == ["density", "wedge", "exposure.seconds"]


def test_another_method_drops_the_answers_of_the_old() -> None:
    draft = answer(CAMERA, BY_KEY["exposure.method"], "frames", FOLDER)
    assert draft == {"exposure": {"method": "frames"}}
    same = answer(CAMERA, BY_KEY["exposure.method"], "camera", FOLDER)
    assert same == CAMERA


def test_the_next_strip_takes_over_all_but_what_is_its_own() -> None:
    last: Draft = {"title": "x", "date": "2026-01-01", "kind": "reversal", "patches": {}, "notes": "y", "readings": "z"}
    assert carry_over({**last, "reader": {"repeatability": 0.01}}) == {
        "kind": "reversal",
        "reader": {"repeatability": 0.01},
    }


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [("lux", "500 lux", 500.0), ("lux", "12,5lux", 12.5), ("seconds", "1/50 s", 0.02), ("seconds", "2 seconds", 2.0)],
)
def test_a_unit_may_stand_behind_the_number_that_a_question_asks_for(
    key: str, typed: str, value: float, tmp_path: Path
) -> None:
    assert answer({}, BY_KEY[f"exposure.{key}"], typed, tmp_path)["exposure"][key] == value


@pytest.mark.parametrize(
    ("key", "typed"), [("lux", "500 fc"), ("seconds", "20 ms"), ("seconds", "s"), ("ei", "80 lux")]
)
def test_another_unit_is_refused(key: str, typed: str, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=f"'{typed}' is not a number"):
        answer({}, BY_KEY[f"exposure.{key}"], typed, tmp_path)


def test_a_bracket_is_three_numbers() -> None:
    assert bracket_stops("-3 3 1") == (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
    assert bracket_stops("1 -1 0,5") == (1.0, 0.5, 0.0, -0.5, -1.0)
    for text in ("", "3", "1 1 1", "0 2 0", "a b c", "0 2 5", "-3 3 -0.001", "0 41 1"):
        with pytest.raises(RecordError, match="is not a bracket; needed: first, last and spacing in stops"):
            bracket_stops(text)


def test_a_wedge_table_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="there is no such file"):
        answer({}, BY_KEY["wedge"], "wedge.csv", tmp_path)


def test_a_scanned_strip_hands_on_neither_its_scan_nor_its_scanner() -> None:
    last = {"kind": "reversal", "scan": {"image": "a.tif"}, "reader": {"name": "scanner"}, "readings": "a.csv"}
    assert carry_over(last) == {"kind": "reversal"}
