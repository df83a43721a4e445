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
    """Hold the lock of a file, made if missing, while the block runs; wait while another process holds the lock.

    Args:
        path: a file that serves for nothing else.

    Raises:
        OutputError: the file cannot be made.
    """
    try:
        file = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise OutputError(
            f"it could not be written: {error.strerror}",
            where=str(path),
            hint="check that the folder may be written to",
        ) from error
    try:
        while not take(file):
            time.sleep(_PAUSE)
        yield
    finally:
        os.close(file)
