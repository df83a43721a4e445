"""Writing a file so that nothing is lost: beside it first, onto the disk, then renamed."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from curves.errors import OutputError


@contextlib.contextmanager
def all_or_none(*paths: Path) -> Iterator[None]:
    """Take new files back if what goes on inside fails: all of them are written, or none.

    Args:
        paths: files that will be written; one that is there already is left as it is.
    """
    new = [path for path in paths if not path.exists()]
    try:
        yield
    except BaseException:
        for path in new:
            path.unlink(missing_ok=True)
        raise


def write_atomically(path: Path, text: str) -> None:
    """Write ``text`` to ``path`` so that at any moment the old file or the whole new one is there.

    Args:
        path: the file.
        text: its contents, written as UTF-8 with line ends as they are.

    Raises:
        OutputError: it could not be written; whatever was there before is unchanged.
    """
    beside = None
    try:
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is private; the result follows the person's own habit.
        mask = os.umask(0)
        os.umask(mask)
        Path(beside).chmod(0o666 & ~mask)
        Path(beside).replace(path)
        _sync_folder(path.parent)
    except BaseException as error:
        if beside is not None:
            with contextlib.suppress(OSError):
                Path(beside).unlink()
        if not isinstance(error, OSError | UnicodeError):
            raise
        said = (isinstance(error, OSError) and error.strerror) or str(error)
        raise OutputError(
            f"it could not be written: {said}; what was there before is unchanged",
            where=str(path),
            hint="check that the folder exists, may be written to and has room",
        ) from error


def _sync_folder(folder: Path) -> None:
    """Bring a file's new name, which is its folder's, onto the disk; some file systems do so by themselves alone."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        with contextlib.suppress(OSError):
            os.fsync(handle)
        os.close(handle)
