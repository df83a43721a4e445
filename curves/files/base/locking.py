"""Locks on files, so that two processes never write the same thing at once; a lock ends with its process."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from curves.errors import OutputError

_PAUSE = 0.05
"""Time between two attempts at a lock that another process holds [s]."""

if sys.platform == "win32":
    import msvcrt

    def take(file: int) -> bool:
        """Lock an open file if no other process has; return False if one has."""
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def take(file: int) -> bool:
        """Lock an open file if no other process has; return False if one has."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file while the block runs; wait while another process holds the lock.

    Args:
        path: a file that serves for nothing else: made if missing, and removed at the end.

    Raises:
        OutputError: the file cannot be made.
    """
    while not is_at(file := _taken_in_turn(path), path):
        # The process before removed the file between the opening and the locking.
        os.close(file)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            path.unlink()
        os.close(file)


def is_at(file: int, path: Path) -> bool:
    """Return True if an open file is the file at a path, and not one that was there before."""
    try:
        return os.path.samestat(os.fstat(file), path.stat())
    except FileNotFoundError:
        return False


def _taken_in_turn(path: Path) -> int:
    """Return a file open and locked, as soon as no other process has it locked."""
    try:
        file = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise OutputError(
            f"it could not be written: {error.strerror}",
            where=str(path),
            hint="check that the folder may be written to",
        ) from error
    while not take(file):
        time.sleep(_PAUSE)
    return file
