"""The first hour in a real terminal: a strip entered with help, a step back, a change and a stop; then check and ei."""

from __future__ import annotations

import os
from pathlib import Path

from curves.files.base.record_edits import record_content
from tests.commands.test_enter import LINES, WHOLE, names, table
from tests.commands.typist import Typist


def test_the_first_hour_from_an_empty_folder_to_an_index(tmp_path: Path) -> None:
    person = Typist(tmp_path, "heron-1")
    person.answer("\nTitle, Enter for heron-1 > ", "?")
    assert "The name by which" in person.answer("Title, Enter for heron-1 > ", "")
    person.answer("Film, Enter for none > ", "Herron 80")
    person.answer("Process, Enter for none > ", "b")
    person.answer("Film, Enter for Herron 80, - for none > ", "Heron 80")
    person.answer("Process, Enter for none > ", "")
    person.answer("Date, Enter for ", "2026-03-14")
    person.answer("Kind (negative, reversal) > ", "reversal")
    person.answer("Kind of density (status A, status M, visual, scan) > ", "?")
    assert "status M  red, green and blue of negatives" in person.answer("visual, scan) > ", "A")
    person.answer("percent), Enter for density > ", "")
    person.answer("Exposed by (contact, camera, frames) > ", "?")
    assert "curves manual exposing" in person.answer("frames) > ", "q")
    assert person.end().endswith("Stopped; the answers are safe in heron-1.entry.\nGo on with: curves enter heron-1\n")
    assert person.status == 0

    person = Typist(tmp_path, "heron-1")
    person.answer("\nExposed by (contact, camera, frames) > ", "contact")
    person.answer("Enter for 21x0.15 > ", "")
    person.answer("Light on the wedge [lux], Enter for none > ", "2000")
    person.answer("Exposure time [seconds] > ", "1/5")
    person.answer("Enter takes all of this, c changes it > ", "yes")
    person.answer("Not taken: Enter or c is expected.\nEnter takes all of this, c changes it > ", "c")
    for _ in range(10):
        person.answer("Enter for ", "")
    person.answer("Exposure time [seconds], Enter for 0.2 > ", "1/50")
    person.answer("Enter takes all of this, c changes it > ", "")
    person.answer("\n    1 > ", "?")
    assert "in this order: red, green, blue" in person.answer("\n    1 > ", LINES[0])
    person.answer("\n    2 > ", LINES[0])
    person.answer("\n    3 > ", "b")
    person.answer("\n    2 > ", LINES[1])
    person.answer("\n    3 > ", "q")
    assert "Stopped with 2 of 21 lines read; all are safe in heron-1.csv." in person.end()
    assert table(tmp_path / "heron-1.csv") == WHOLE[:3]

    person = Typist(tmp_path, "heron-1")
    for step, line in enumerate(LINES[2:], start=3):
        person.answer(f"\n{step:>5} > ", line)
    for _ in range(3):
        person.answer("Enter if not read\n      > ", "")
    person.answer("notes, Enter for none\n      > ", "")
    assert "heron-1.toml: good\nNow: curves report heron-1.toml\n" in person.end()
    assert names(tmp_path) == ["heron-1.csv", "heron-1.toml"]
    assert table(tmp_path / "heron-1.csv") == WHOLE
    content = record_content(tmp_path / "heron-1.toml")
    assert (content["title"], content["film"]) == ("heron-1", "Heron 80")
    assert content["exposure"] == {"method": "contact", "lux": 2000.0, "seconds": 0.02}

    checked = Typist(tmp_path, "heron-1.toml", command="check")
    assert "heron-1.toml: good" in checked.end()
    assert checked.status == 0
    index = Typist(tmp_path, "heron-1.toml", command="ei")
    shown = index.end()
    assert index.status == os.EX_OK
    assert "\nSet  " in shown.replace("\r", "")
    assert "Traceback" not in shown
