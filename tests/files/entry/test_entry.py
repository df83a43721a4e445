"""An entry on the disk: what was taken is there, whatever happens between."""

from __future__ import annotations

import contextlib
import json
import os
import random
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from curves.errors import CurvesError, OutputError
from curves.files.base.record_edits import write_record
from curves.files.entry.entry import Entry, one_writer, steps_of, usual_channels
from curves.files.entry.questions import Answers, Draft
from curves.files.entry.sheet import Plan
from curves.files.strips.record import read_setup
from curves.sensitometry.strip.exposure import Frames
from tests.files.entry.kills import DRAFT, OLD_TABLE, PLAN

ONE, TWO, THREE = PLAN.lines[:3]
COMMENTED = """# by hand
film = "Heron 80"
kind = "reversal"
density = "status A"  # the new filter

[wedge]
steps = 3
increment = 0.3

[exposure]
method = "contact"
lux = 25.0
seconds = 1.6
"""
FRAMES: Draft = {"kind": "reversal", "density": "status A", "exposure": {"method": "frames", "ei": 80.0}}
OLD_STATE = """{"is": "draft", "content": {"title": "x"}, "asked": ["all"], "settled": true}
{"is": "read", "step": 1, "channels": ["red", "green"], "values": [0.3, 0.6]}
"""


def begun(folder: Path) -> Entry:
    """Return an entry with two lines read."""
    entry = Entry(folder / "heron.toml")
    entry.keep_answers(Answers(DRAFT, ("all",)))
    entry.write_record()
    entry.begin(PLAN)
    entry.keep(entry.sheet.enter(ONE, {"red": 0.3, "green": 0.6}))
    entry.keep(entry.sheet.enter(TWO, {"red": 0.4, "green": 0.7}))
    return entry


def opened(folder: Path) -> Entry:
    """Return an entry that goes on."""
    entry = Entry(folder / "heron.toml")
    entry.resume()
    return entry


@contextlib.contextmanager
def full(*names: str) -> Iterator[None]:
    """Let a disk have no room for files of some names."""
    real = os.replace

    def replace(beside: Path, path: Path) -> None:
        if Path(path).name in names:
            raise OSError(28, "No space left on device")
        real(beside, path)

    with mock.patch("os.replace", replace):
        yield


def refused(record: Path) -> str:
    """Return the words in which an entry does not go on."""
    with pytest.raises(CurvesError) as refusal:
        Entry(record).resume()
    return str(refusal.value).replace(f"{record.parent}/", "")


def test_a_kill_at_any_call_leaves_the_entry_before_or_after_the_act(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.files.entry.kills", str(tmp_path)]
    root = Path(__file__).parents[3]
    done = subprocess.run(command, cwd=root, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    # Regression: computed by this code. Of each call there are some, and none of them escapes the sweep.
    assert done.stdout.splitlines()[0] == "open 72 fsync 54 chmod 27 replace 27 unlink 19"
    assert done.stdout.partition("\n")[2] == "step,red,green\n1,0.30,0.60\n2,0.40,0.70\n4,0.90,\n"


def test_each_file_is_on_the_disk_before_the_next_is_begun(tmp_path: Path) -> None:
    entry = begun(tmp_path)
    calls: list[str] = []
    real_sync, real_replace = os.fsync, os.replace

    def fsync(handle: int) -> None:
        name = Path(f"/proc/self/fd/{handle}").readlink()
        calls.append("folder" if name == tmp_path.resolve() else name.name.split(".")[2])
        real_sync(handle)

    def replace(beside: Path, path: Path) -> None:
        calls.append(f"rename {Path(path).name}")
        real_replace(beside, path)

    state, table = ["entry", "rename heron.entry", "folder"], ["csv", "rename heron.csv", "folder"]
    with mock.patch("os.fsync", fsync), mock.patch("os.replace", replace):
        entry.keep(entry.sheet.enter(THREE, {"red": 0.5}))
        assert calls == state + table
        calls.clear()
        entry.keep(entry.sheet.take_back())
        assert calls == table + state


@pytest.mark.parametrize("name", ["heron.entry", "heron.csv"])
def test_a_change_that_finds_no_room_is_not_made_and_can_be_made_again(tmp_path: Path, name: str) -> None:
    entry = begun(tmp_path)
    before = entry.sheet
    after = before.enter(THREE, {"red": 0.5})
    with full(name), pytest.raises(OutputError, match="No space left on device"):
        entry.keep(after)
    assert entry.sheet == before == opened(tmp_path).sheet
    entry.keep(after)
    assert opened(tmp_path).sheet == after


def test_taking_back_needs_no_room_for_the_state_if_the_table_can_be_written(tmp_path: Path) -> None:
    entry = begun(tmp_path)
    first = entry.sheet.take_back()
    with full("heron.entry"):
        entry.keep(first)
        entry.keep(first.take_back())
        with pytest.raises(OutputError):
            entry.keep(entry.sheet.go_to(THREE))
    assert opened(tmp_path).sheet == entry.sheet == first.take_back()
    entry.keep(first.go_to(THREE))
    for name, back in (("heron.entry", first), ("heron.csv", first.take_back())):
        with full(name), pytest.raises(OutputError):
            entry.keep(back)
    assert opened(tmp_path).sheet == entry.sheet == first.go_to(THREE)


def test_a_writer_that_gets_hold_of_a_file_just_removed_takes_a_new_one(tmp_path: Path) -> None:
    path, real = tmp_path / "heron.entry", os.open

    def open_removed(lock: Path, *flags: int) -> int:
        file = real(lock, *flags)
        if not removed:
            Path(lock).unlink()
            removed.append(lock)
        return file

    removed: list[Path] = []
    with mock.patch("os.open", open_removed), one_writer(path):
        assert len(list(tmp_path.iterdir())) == len(removed) == 1
        with pytest.raises(OutputError), one_writer(path):
            pass


ODD: tuple[object, ...] = (None, 1, [], {}, "x", 1e999)


def damaged(state: str, count: int) -> list[str]:
    """Return copies of a state, each with a slip: a byte changed, left out, doubled or swapped, a cut, a value."""
    rng = random.Random(14)
    found = [state[: rng.randrange(len(state))] for _ in range(count)]
    for _ in range(count):
        at = rng.randrange(len(state) - 2)
        found += [
            state[:at] + rng.choice('0123456789abz"[]{},:- \n\0') + state[at + 1 :],
            state[:at] + state[at + 1 :],
            state[:at] + state[at] + state[at:],
            state[:at] + state[at + 1] + state[at] + state[at + 2 :],
        ]
    content = json.loads(state)
    for path in ("format", "digest", "state"):
        found += [json.dumps(content | {path: odd}) for odd in ODD]
        found.append(json.dumps({k: v for k, v in content.items() if k != path}))
    return [text for text in dict.fromkeys(found) if not same_json(text, state)]


def same_json(text: str, state: str) -> bool:
    """Return True if two texts are the same JSON, whose spaces may differ."""
    try:
        return bool(json.loads(text) == json.loads(state))
    except ValueError:
        return False


def test_a_state_damaged_in_any_way_is_refused_in_words_and_nothing_is_lost(tmp_path: Path) -> None:
    entry = begun(tmp_path)
    whole, table = entry.path.read_text(encoding="utf-8"), entry.table.read_text(encoding="utf-8")
    old = [OLD_STATE, OLD_STATE.partition("\n")[0], "", "[]", "[" * 100_000, '{"format": 2, "answers": null}']
    states = [*old, *damaged(whole, 150)]
    # Of the slips drawn, those drawn twice, and those that make no difference to JSON, are left out.
    assert len(states) > 600
    for state in states:
        entry.path.write_text(state, encoding="utf-8")
        assert refused(entry.record) == (
            "heron.entry: the file is damaged, or of another version: it is not the state of an entry as this version"
            " keeps it; heron.toml and heron.csv are not touched.\n"
            "Try: rename it to heron.entry.old and run the same command again, which goes on from heron.toml and"
            " heron.csv; an editor shows the patches and notes in it."
        )
        assert entry.path.read_text(encoding="utf-8") == state
        assert entry.table.read_text(encoding="utf-8") == table
    entry.path.write_bytes(b"\xff\xfe\x00")
    assert "damaged" in refused(entry.record)
    # The way on that the refusal names is a way on.
    entry.path.rename(tmp_path / "heron.entry.old")
    again = Entry(entry.record)
    assert not again.begun
    again.begin(PLAN)
    assert again.sheet.rows == entry.sheet.rows


def test_an_entry_without_a_reading_goes_back_before_its_sheet_and_the_record_follows(tmp_path: Path) -> None:
    entry = Entry(tmp_path / "heron.toml")
    entry.record.write_text(COMMENTED, encoding="utf-8")
    entry.begin(Plan(("red",), (1.0, 2.0, 3.0)))
    back = entry.reopened()
    assert not back.begun
    assert back.answers is not None
    assert back.answers.asked[-2:] == ("exposure.lux", "exposure.seconds")
    draft = {k: v for k, v in back.answers.draft.items() if k not in ("film", "wedge")}
    back.keep_answers(Answers(draft | {"exposure": {"method": "frames", "ei": 80.0}}, ("all",)))
    back.write_record(whole=True)
    text = entry.record.read_text(encoding="utf-8")
    assert text.startswith("# by hand\nkind = ")
    assert ("film" in text, "lux" in text, "wedge" in text) == (False, False, False)
    assert read_setup(entry.record).exposure == Frames(80.0)


def test_a_table_that_would_lose_its_layout_is_copied_once_and_no_copy_is_written_over(tmp_path: Path) -> None:
    entry = begun(tmp_path)
    texts = (OLD_TABLE, OLD_TABLE.replace("March", "April"), OLD_TABLE.replace("March", "May"))
    for text in texts:
        entry.table.write_text(text, encoding="utf-8")
        copy = Entry(entry.record).resume()
        assert copy is not None
        assert copy.read_text(encoding="utf-8") == text
        assert Entry(entry.record).resume() is None
    copies = [tmp_path / f"heron.csv.before{number}" for number in ("", "2", "3")]
    assert tuple(copy.read_text(encoding="utf-8") for copy in copies) == texts


def test_a_table_that_is_gone_is_written_again_and_so_is_a_record(tmp_path: Path) -> None:
    entry = begun(tmp_path)
    table, record = (path.read_text(encoding="utf-8") for path in (entry.table, entry.record))
    entry.table.unlink()
    entry.record.unlink()
    assert opened(tmp_path).sheet == entry.sheet
    assert (entry.table.read_text(encoding="utf-8"), entry.record.read_text(encoding="utf-8")) == (table, record)


@pytest.mark.parametrize("other", [{**DRAFT, "wedge": {"steps": 11, "increment": 0.15}}, FRAMES])
def test_a_record_that_has_other_steps_now_is_refused(tmp_path: Path, other: Draft) -> None:
    entry = begun(tmp_path)
    entry.record.unlink()
    write_record(entry.record, other)
    assert refused(entry.record) == (
        "heron.toml: the record now has other steps than the 5 that the entry began with.\n"
        "Try: put back what it said, or move heron.entry away to go on from the table."
    )
    entry.record.unlink()
    write_record(entry.record, DRAFT)
    assert opened(tmp_path).sheet == entry.sheet


def test_frames_are_listed_by_their_table_and_channels_go_by_the_last_strip(tmp_path: Path) -> None:
    write_record(tmp_path / "heron.toml", FRAMES)
    assert steps_of(tmp_path / "heron.toml") == ("stops", (), ())
    assert usual_channels(tmp_path / "heron.toml") == ("red", "green", "blue")
    (tmp_path / "heron.csv").write_text("ei,green\n50,1.0\n100,1.2\n50,1.01\n", encoding="utf-8")
    assert steps_of(tmp_path / "heron.toml") == ("ei", (50.0, 100.0), ("green",))
    entry = Entry(tmp_path / "heron.toml")
    entry.begin(Plan(("green",), (50.0, 100.0), "ei"))
    # 50 on a dial for 80 on the dial is two thirds of a stop more, by the usual series.
    assert entry.log_h == pytest.approx([0.2, -0.1], abs=0.001)
    write_record(tmp_path / "wren.toml", FRAMES)
    assert usual_channels(tmp_path / "wren.toml") == ("green",)
    write_record(tmp_path / "wren.toml", {"density": "visual"})
    assert usual_channels(tmp_path / "wren.toml") == ("visual",)
    for table, told in {
        "ei,green\n50,1.0\n25,1.2\n": "line 3: the entry has no ei 25",
        "stops,green\n50,1.2\n": "line 2: the entry has no stops 50",
        "step,green\n1,1.2\n": "rows are listed by step, but the exposure was made by another method",
    }.items():
        entry.table.write_text(table, encoding="utf-8")
        assert told in refused(entry.record)
        assert entry.table.read_text(encoding="utf-8") == table
    # The last strip's own troubles are not the next strip's.
    (tmp_path / "wren.toml").unlink()
    write_record(tmp_path / "teal.toml", FRAMES)
    assert usual_channels(tmp_path / "teal.toml") == ("red", "green", "blue")
