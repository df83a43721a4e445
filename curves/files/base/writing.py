"""Writing files so that nothing is lost: each is written beside the old file, onto the disk, and then renamed."""

from __future__ import annotations

import contextlib
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from curves.errors import CurvesError, OutputError
from curves.files.base.locking import is_at, take

_OPEN_FILES_STAY = sys.platform == "win32"
"""True where the system neither removes nor renames a file that a process has open; there a lock would be in the way of
reading."""


@contextlib.contextmanager
def all_or_none(*paths: Path) -> Iterator[None]:
    """Remove new files again if the block fails, so that all of them are written or none.

    Args:
        paths: files that the block writes; a file that exists already is left as it is.
    """
    new = [path for path in paths if not path.exists()]
    try:
        yield
    except BaseException:
        for path in new:
            path.unlink(missing_ok=True)
        raise


def write_atomically(
    path: Path, text: str | bytes | Callable[[BinaryIO], None], check: Callable[[Path], None] | None = None
) -> None:
    """Write ``text`` to ``path`` so that at any moment the old file or the whole new file exists.

    Args:
        path: the file; where it is a link, the file that it leads to is written.
        text: contents of the file, or what writes them; a text is written as UTF-8 with line ends as they are.
        check: reads the new file back, before it is renamed, and raises if it is not what was meant.

    Raises:
        OutputError: the file could not be written; the old file is unchanged.
    """
    beside = None
    try:
        path = path.resolve() if path.is_symlink() else path
        remove_left_over(path)
        handle, beside = _file_beside(path)
        # Opened under its name, which packages that write into it ask for, and yet locked.
        with open(beside, "wb", opener=lambda _name, _flags: handle) as file:
            if callable(text):
                text(file)
            else:
                file.write(text.encode("utf-8") if isinstance(text, str) else text)
            file.flush()
            os.fsync(handle)
            if check is not None:
                check(Path(beside))
            # A temporary file is private; the result gets the permissions that the person's umask asks for.
            mask = os.umask(0)
            os.umask(mask)
            Path(beside).chmod(0o666 & ~mask)
            if not _OPEN_FILES_STAY:
                Path(beside).replace(path)
        if _OPEN_FILES_STAY:
            Path(beside).replace(path)
        _sync_folder(path.parent)
    except BaseException as error:
        if beside is not None:
            with contextlib.suppress(OSError):
                Path(beside).unlink()
        if isinstance(error, CurvesError):
            raise OutputError(
                f"what was to be written would not be read back as it was meant ({error.what}); "
                "what was there before is unchanged",
                where=str(path),
            ) from error
        if not isinstance(error, OSError | RuntimeError | ValueError):
            raise
        said = (isinstance(error, OSError) and error.strerror) or str(error)
        raise OutputError(
            f"it could not be written: {said}; what was there before is unchanged",
            where=str(path),
            hint="check that the folder exists, may be written to and has room",
        ) from error


def refuse_other(path: Path, text: str, hint: str = "give another name") -> bool:
    """Refuse a file that is not what a run before, killed between its files, left of the same contents.

    Args:
        path: the file.
        text: the contents that it may have.
        hint: what to try, for the error.

    Returns:
        True if the file is there, with these contents.

    Raises:
        OutputError: the file is there with other contents.
    """
    if not os.path.lexists(path):
        return False
    if not path.is_file() or path.read_bytes() != text.encode("utf-8"):
        raise OutputError("there is already such a file", where=str(path), hint=hint)
    return True


def write_new(path: Path, text: str, check: Callable[[Path], None]) -> None:
    """Write a file that is not there yet, or that a killed run left with the same contents.

    Args:
        path, text, check: as `write_atomically` has them.

    Raises:
        OutputError: the file is there with other contents, or could not be written.
    """
    if not refuse_other(path, text):
        write_atomically(path, text, check)


def remove_left_over(path: Path) -> None:
    """Remove what killed runs left of a file that they were writing; what a run is writing is locked, and stays."""
    for rest in path.parent.iterdir():
        if not re.fullmatch(rf"\.{re.escape(path.name)}\.[a-z0-9_]{{8}}\.part", rest.name):
            continue
        with contextlib.suppress(OSError):
            if _OPEN_FILES_STAY:
                rest.unlink()
                continue
            file = os.open(rest, os.O_RDWR | os.O_NONBLOCK)
            try:
                if take(file):
                    rest.unlink()
            finally:
                os.close(file)


def _file_beside(path: Path) -> tuple[int, str]:
    """Return a new file beside another, open and locked, and its name."""
    while True:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        try:
            if _OPEN_FILES_STAY or not take(handle) or is_at(handle, Path(name)):
                return handle, name
        except OSError:
            os.close(handle)
            Path(name).unlink()
            raise
        # Another run took the file for one that was left over, before it was locked.
        os.close(handle)


def _sync_folder(folder: Path) -> None:
    """Bring the new name of a file, which its folder holds, onto the disk, if the file system can."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
