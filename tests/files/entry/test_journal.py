"""The journal: what was accepted is there, whatever happens."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from curves.errors import OutputError, RecordError
from curves.files.entry.journal import Journal, read_events

EVENTS = [{"is": "read", "step": n, "channels": ["visual"], "values": [n / 10]} for n in range(1, 5)]


def test_what_was_added_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    with Journal(path) as journal:
        for event in EVENTS:
            journal.add(event)
    with Journal(path) as journal:
        assert journal.events == EVENTS
    assert read_events(path) == EVENTS


def test_each_event_is_synced_before_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[int] = []
    real = os.fsync

    def fsync(handle: int) -> None:
        synced.append(os.fstat(handle).st_size)
        real(handle)

    with Journal(tmp_path / "a.entry") as journal:
        monkeypatch.setattr(os, "fsync", fsync)
        journal.add(EVENTS[0])
        first = (tmp_path / "a.entry").stat().st_size
        journal.add(EVENTS[1])
    assert synced == [first, 2 * first]


def test_a_journal_torn_anywhere_loses_at_most_its_last_line(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    whole = b"".join(json.dumps(e).encode() + b"\n" for e in EVENTS[:2])
    ends = [i + 1 for i, byte in enumerate(whole) if byte == 10]
    for cut in range(len(whole) + 1):
        path.write_bytes(whole[:cut])
        with Journal(path) as journal:
            assert journal.events == EVENTS[: sum(end <= cut for end in ends)]
            journal.add({"is": "back"})
            assert read_events(path)[-1] == {"is": "back"}
        path.unlink()


def test_a_torn_line_of_zeros_is_left_out(tmp_path: Path) -> None:
    # What some file systems leave of a block that was never written.
    path = tmp_path / "a.entry"
    path.write_bytes(json.dumps(EVENTS[0]).encode() + b"\n" + b"\0" * 40)
    with Journal(path) as journal:
        assert journal.events == EVENTS[:1]


def test_a_line_that_is_none_in_the_middle_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    path.write_text('{"is": "back"}\nhello\n{"is": "back"}\n', encoding="utf-8")
    with pytest.raises(RecordError) as refusal:
        Journal(path)
    assert str(refusal.value) == (
        "a.entry, line 2: this is no line of an entry.\nTry: mend the line, or move the file away and begin again."
    )


def test_an_empty_journal_leaves_no_file(tmp_path: Path) -> None:
    with Journal(tmp_path / "a.entry"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_second_writer_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    with Journal(path) as journal:
        journal.add(EVENTS[0])
        with pytest.raises(OutputError) as refusal:
            Journal(path)
    assert str(refusal.value) == (
        f"{path}: this strip is being entered in another terminal.\n"
        "Try: go on there, or stop there with q and come back."
    )
    with Journal(path) as journal:
        assert journal.events == EVENTS[:1]


def test_the_lock_ends_with_the_process_that_held_it(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    code = (
        "import os, sys; from pathlib import Path; from curves.files.entry.journal import Journal\n"
        "journal = Journal(Path(sys.argv[1])); journal.add({'is': 'back'}); os.kill(os.getpid(), 9)"
    )
    assert subprocess.run([sys.executable, "-c", code, str(path)], check=False).returncode == -9
    with Journal(path) as journal:
        assert journal.events == [{"is": "back"}]


def test_a_place_that_cannot_be_written_to_is_told_before_anything_is_typed(tmp_path: Path) -> None:
    # A file where the folder should be: no right of any user makes it writable.
    (tmp_path / "folder").write_text("", encoding="utf-8")
    with pytest.raises(OutputError) as refusal:
        Journal(tmp_path / "folder" / "a.entry")
    assert str(refusal.value) == (
        f"{tmp_path / 'folder' / 'a.entry'}: no entry can be kept there: Not a directory; nothing was typed yet;"
        " needed: a folder that may be written to.\n"
        "Try: name the strip in another folder."
    )


FULL = """
import resource, signal, sys
from pathlib import Path
from curves.errors import OutputError
from curves.files.entry.journal import Journal, read_events
path = Path(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))
with Journal(path) as journal:
    count = 0
    try:
        while True:
            journal.add({"is": "read", "step": count})
            count += 1
    except OutputError as error:
        print(error)
    assert len(read_events(path)) == count > 20
    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, resource.RLIM_INFINITY))
    journal.add({"is": "read", "step": count})
assert [e["step"] for e in read_events(path)] == list(range(count + 1))
"""


def test_a_line_that_finds_no_room_is_not_taken_and_can_be_typed_again(tmp_path: Path) -> None:
    path = tmp_path / "a.entry"
    done = subprocess.run([sys.executable, "-c", FULL, str(path)], capture_output=True, encoding="utf-8", check=False)
    assert done.stderr == ""
    assert done.stdout == (
        f"{path}: the line was not taken: File too large; all lines before it are safe in this file.\n"
        "Try: make room and type the line again.\n"
    )
