"""The journal of an entry: every accepted line is on the disk before the next is asked for.

A journal is a text file to which events are added, one to a line (JSON). A line that a power cut tore is the last one;
it was not yet accepted, and is left out. While it is open the journal is locked, so that two terminals cannot write one
strip; the lock ends with the process, however that ends.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from types import TracebackType
from typing import Any

from curves.errors import OutputError, RecordError
from curves.files.base.grids import read_text

Event = dict[str, Any]


class Journal:
    """An open journal. Use it in a ``with`` statement.

    Args:
        path: the file; made if need be, and removed at the end if nothing was written.

    Attributes:
        path: the file.
        events: what was written to it, oldest first.

    Raises:
        OutputError: it cannot be written there, or another process has it open.
        RecordError: it is no journal.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = _open_locked(path)
        try:
            self.events, self._size = _events(path.read_bytes(), path)
            # What a power cut left of a last line goes.
            os.ftruncate(self._file, self._size)
        except BaseException:
            os.close(self._file)
            raise

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if not self.events:
            self.path.unlink(missing_ok=True)
        os.close(self._file)

    def add(self, event: Event) -> None:
        """Write an event, and wait until it is on the disk.

        Raises:
            OutputError: it could not be written; the events before it are safe.
        """
        line = (json.dumps(event, ensure_ascii=False) + "\n").encode("utf-8")
        try:
            os.lseek(self._file, self._size, os.SEEK_SET)
            rest = memoryview(line)
            while rest:
                rest = rest[os.write(self._file, rest) :]
            os.fsync(self._file)
        except OSError as error:
            os.ftruncate(self._file, self._size)
            raise OutputError(
                f"the line was not taken: {error.strerror}; all lines before it are safe in this file",
                where=str(self.path),
                hint="make room and type the line again",
            ) from error
        self._size += len(line)
        self.events.append(event)

    def remove(self) -> None:
        """Remove the journal, once the names of the files that hold all of it now are on the disk."""
        _keep_name(self.path.parent)
        self.path.unlink(missing_ok=True)


def read_events(path: Path) -> list[Event]:
    """Return the events of a journal without opening it for writing.

    Raises:
        RecordError: there is no such file, or it is no journal.
    """
    return _events(read_text(path).encode("utf-8"), path)[0]


def _open_locked(path: Path) -> int:
    """Return the open journal, locked."""
    while True:
        made = not path.exists()
        try:
            file = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise OutputError(
                f"no entry can be kept there: {error.strerror}; "
                + ("nothing was typed yet" if made else "what it holds is safe"),
                where=str(path),
                needed="a folder that may be written to",
                hint="name the strip in another folder",
            ) from error
        if not _lock(file):
            os.close(file)
            raise OutputError(
                "this strip is being entered in another terminal",
                where=str(path),
                hint="go on there, or stop there with q and come back",
            )
        # The other terminal may have finished, and removed the file, between the opening and the lock.
        if path.exists() and os.path.samestat(os.fstat(file), path.stat()):
            if made:
                _keep_name(path.parent)
            return file
        os.close(file)


def _keep_name(folder: Path) -> None:
    """Bring a new file's name, which is the folder's, onto the disk."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _lock(file: int) -> bool:
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(file: int) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


def _events(content: bytes, path: Path) -> tuple[list[Event], int]:
    """Return the whole events of a journal, and how many bytes they take."""
    events: list[Event] = []
    size = 0
    lines = content.split(b"\n")
    for number, line in enumerate(lines[:-1], start=1):
        try:
            event = json.loads(line)
        except ValueError:
            event = None
        if not isinstance(event, dict) or "is" not in event:
            if number == len(lines) - 1:
                break
            raise RecordError(
                "this is no line of an entry",
                where=f"{path.name}, line {number}",
                hint="mend the line, or move the file away and begin again",
            )
        events.append(event)
        size += len(line) + 1
    return events, size
