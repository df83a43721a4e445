"""Writing files so that nothing is lost: each is written beside the old file, onto the disk, and then renamed."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from curves.errors import OutputError


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
    path: Path, text: str, encoding: str = "utf-8", check: Callable[[Path], None] | None = None
) -> None:
    """Write ``text`` to ``path`` so that at any moment the old file or the whole new file exists.

    Args:
        path: the file; where it is a link, the file that it leads to is written.
        text: contents of the file, written with line ends as they are.
        encoding: encoding of the file.
        check: reads the new file before it takes the old one's place, and raises where it does not say what is meant.

    Raises:
        OutputError: the file could not be written; the old file is unchanged.
    """
    beside = None
    try:
        path = path.resolve() if path.is_symlink() else path
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(handle, "w", encoding=encoding, newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if check is not None:
            check(Path(beside))
        # A temporary file is private; the result gets the permissions that the person's umask asks for.
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
    """Bring the new name of a file, which its folder holds, onto the disk, if the file system can."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
