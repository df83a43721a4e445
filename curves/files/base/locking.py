"""Locks on files, so that two processes never write the same thing at once; a lock ends with its process."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Callable, Iterator
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
        """Lock an open file if no other process has; return False if one has.

        A file system without locks is taken to have no other process at work.
        """
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as error:
            if error.errno not in (errno.ENOLCK, errno.ENOSYS, errno.ENOTSUP):
                raise
        return True


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file while the block runs; wait while another process holds the lock.

    Args:
        path: a file that serves for nothing else: made if missing, and removed at the end.

    Raises:
        OutputError: the file cannot be made.
    """
    try:
        file = hold(path, lambda: time.sleep(_PAUSE))
    except OSError as error:
        raise OutputError(
            f"it could not be written: {error.strerror}",
            where=str(path),
            hint="check that the folder may be written to",
        ) from error
    try:
        yield
    finally:
        let_go(file, path)


def hold(path: Path, busy: Callable[[], None]) -> int:
    """Return a file open and locked, made if missing.

    Args:
        path: the file.
        busy: called, again and again, while another process has the file locked; what it raises ends the waiting.
    """
    while True:
        file, ours = os.open(path, os.O_RDWR | os.O_CREAT, 0o666), False
        try:
            while not take(file):
                busy()
            ours = is_at(file, path)
        finally:
            if not ours:
                os.close(file)
        # The process before may have removed the file between the opening and the locking.
        if ours:
            return file


def let_go(file: int, path: Path) -> None:
    """Remove a file that this process holds, and unlock it."""
    with contextlib.suppress(OSError):
        path.unlink()
    os.close(file)


def is_at(file: int, path: Path) -> bool:
    """Return True if an open file is the file at a path, and not one that was there before."""
    try:
        return os.path.samestat(os.fstat(file), path.stat())
    except FileNotFoundError:
        return False
