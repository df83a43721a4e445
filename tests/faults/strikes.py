"""Calls of the file system that fail, or kill the process, at a moment of one's choice.

Every function by which the package reaches the file system is wrapped: the calls on anything below one folder are
counted, and one of them is struck. A write that is struck has written half.
"""

from __future__ import annotations

import contextlib
import fcntl
import io
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

BY_PATH = ("open", "stat", "lstat", "listdir", "scandir", "mkdir", "chmod", "replace", "unlink", "readlink")
BY_HANDLE = ("fsync", "fstat", "close")

Strike = Callable[[str], None]
"""What a struck call does before, or instead of, its work; it gets the call's name."""


class Moments:
    """The calls so far, of which one is struck.

    Args:
        folder: calls on anything below it are counted.
        at: the number of the call that is struck, from 1; 0 strikes none.
        strike: what happens then.

    Attributes:
        names: of the calls so far.
    """

    def __init__(self, folder: Path, at: int, strike: Strike) -> None:
        self.names: list[str] = []
        self._folder, self._at, self._strike = folder.resolve(), at, strike

    def is_now(self, name: str) -> bool:
        """Count a call, and return True if it is the one to be struck."""
        self.names.append(name)
        return len(self.names) == self._at

    def pass_through(self, name: str) -> None:
        """Count a call, and strike it if its number has come."""
        if self.is_now(name):
            self._strike(name)

    def half(self, name: str, write: Callable[[Any], object], content: Any) -> None:
        """Count a write, and strike it when half of its content is written if its number has come."""
        if self.is_now(name):
            write(content[: len(content) // 2])
            self._strike(name)

    def concern(self, path: object) -> bool:
        """Return True if a path lies below the folder."""
        if isinstance(path, bytes | str | os.PathLike):
            return Path(os.path.normpath(Path.cwd() / os.fsdecode(path))).is_relative_to(self._folder)
        return False


class StruckFile:
    """A file opened for writing whose writes can be struck."""

    def __init__(self, file: Any, moments: Moments) -> None:
        self._file, self._moments = file, moments

    def write(self, content: Any) -> Any:
        self._moments.half("write", self._through, content)
        return self._file.write(content)

    def flush(self) -> None:
        self._moments.pass_through("flush")
        self._file.flush()

    def _through(self, content: Any) -> None:
        self._file.write(content)
        self._file.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __enter__(self) -> StruckFile:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()


@contextlib.contextmanager
def struck(folder: Path, at: int, strike: Strike) -> Iterator[Moments]:
    """Let a call on anything below a folder be struck while the block runs."""
    moments = Moments(folder, at, strike)

    def by_path(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(path: Any = ".", *args: Any, **options: Any) -> Any:
            if moments.concern(path):
                moments.pass_through(name)
            return real(path, *args, **options)

        return call

    def by_handle(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(handle: int, *args: Any) -> Any:
            try:
                moments.pass_through(name)
            except OSError:
                if name == "close":
                    real(handle, *args)
                raise
            # What a process, or a kill of it, leaves does not wait for the disk.
            return None if name == "fsync" else real(handle, *args)

        return call

    real_open, real_fdopen = io.open, os.fdopen

    def opened(path: Any, mode: str = "r", *args: Any, **options: Any) -> Any:
        if not moments.concern(path):
            return real_open(path, mode, *args, **options)
        moments.pass_through("open")
        file = real_open(path, mode, *args, **options)
        return file if mode in ("r", "rb") else StruckFile(file, moments)

    def fdopened(handle: int, *args: Any, **options: Any) -> Any:
        return StruckFile(real_fdopen(handle, *args, **options), moments)

    with contextlib.ExitStack() as hooks:
        for name in BY_PATH:
            hooks.enter_context(mock.patch.object(os, name, by_path(name, getattr(os, name))))
        for name in BY_HANDLE:
            hooks.enter_context(mock.patch.object(os, name, by_handle(name, getattr(os, name))))
        hooks.enter_context(mock.patch.object(fcntl, "flock", by_handle("flock", fcntl.flock)))
        hooks.enter_context(mock.patch.object(os, "fdopen", fdopened))
        hooks.enter_context(mock.patch.object(io, "open", opened))
        hooks.enter_context(mock.patch("builtins.open", opened))
        yield moments
