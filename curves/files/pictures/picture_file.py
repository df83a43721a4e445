"""A picture's file, read exactly, and the words in which one is refused."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType

from curves.errors import RecordError

READABLE = "a TIFF or PNG file of 8 or 16 bit, a JPEG, or a raw file of a camera, grey or RGB"
PLAIN_TIFF = "save the picture as an uncompressed TIFF of 8 or 16 bit, grey or RGB"
RAW_ADVICE = "make a linear 16-bit TIFF with a raw converter, and give that file"

# All that a package may read to find out how a file is built, and the shortest read as it counts: our own choice
# [bytes].
_MOST_LOOKED_AT, _LEAST_READ = 8_000_000, 256


class PictureFile:
    """An open file whose bytes are all there, or an error says so.

    The methods ``seek``, ``tell`` and ``read`` are for a package that finds out how the file is built; its reads are
    limited, so that no damaged file makes it take all memory or time. Values are read by ``at``.

    Args:
        path: the file.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stream = path.open("rb")
        self.size = self._stream.seek(0, 2)
        self._left = _MOST_LOOKED_AT
        self.seek, self.tell, self.close = self._stream.seek, self._stream.tell, self._stream.close

    def read(self, count: int) -> bytes:
        """Return the next bytes, ``count`` at most, or raise if too many were read."""
        self._left -= max(count, _LEAST_READ)
        if count < 0 or self._left < 0:
            raise self.damaged(f"the directories have more than {_MOST_LOOKED_AT / 1e6:.0f} MB")
        return self._stream.read(count)

    def at(self, offset: int, count: int) -> bytes:
        """Return ``count`` bytes from ``offset`` on.

        Raises:
            RecordError: not all of them are in the file, or the disk fails.
        """
        if offset + count > self.size:
            raise self.damaged(f"bytes {offset} to {offset + count} are needed and the file has {self.size}")
        try:
            self._stream.seek(offset)
            found = self._stream.read(count)
        except OSError as error:
            raise RecordError(f"the file cannot be read: {error.strerror}", where=str(self.path)) from error
        if len(found) != count:
            raise self.damaged(f"the file ends at byte {offset + len(found)}, sooner than when it was opened")
        return found

    def package(self, name: str, extra: str = "scan") -> ModuleType:
        """Return a package that decodes pictures, of an extra that installs it.

        Raises:
            RecordError: the package is not installed.
        """
        try:
            return importlib.import_module(name)
        except ImportError as error:
            raise RecordError(
                f"reading this picture needs the package {name}, which is not installed",
                where=self.path.name,
                hint=f"pip install 'stepwedge-curves[{extra}]'",
            ) from error

    def damaged(self, what: str) -> RecordError:
        """Return the error of a file that is cut short or corrupt."""
        hint = "copy the file again, or scan again"
        return RecordError(f"the file is damaged or incomplete: {what}", where=self.path.name, hint=hint)

    def refused(self, what: str, needed: str = READABLE, hint: str = PLAIN_TIFF) -> RecordError:
        """Return the error of a file that is whole, but of a kind that is not read."""
        return RecordError(what, where=self.path.name, needed=needed, hint=hint)
