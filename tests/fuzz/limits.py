"""What no input may bring about: more than 5 s, more than 500 MB, a write outside, the network, another program."""

from __future__ import annotations

import contextlib
import os
import resource
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

MOST_SECONDS = 5.0
"""CPU time that one input may take [s]."""

MOST_BYTES = 500_000_000
"""Memory that one input may take beyond what the process has [bytes]."""

_NETWORK = ("socket.connect", "socket.getaddrinfo", "socket.bind", "socket.sendto")
_PROGRAMS = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "pty.spawn")
_CHANGES = ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod")

_within: list[Path] = []
_trespasses: list[str] = []
_installed: list[bool] = []


def _watch(event: str, args: tuple[object, ...]) -> None:
    """Note what nothing may do while a block of `limited` runs; a hook cannot be taken out again."""
    if not _within:
        return
    if event in _NETWORK or event in _PROGRAMS:
        _trespasses.append(f"{event} {args}")
    elif event == "open":
        path, mode, flags = args
        writes = (isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)) or set(str(mode)) & set(
            "wax+"
        )
        if writes and not isinstance(path, int):
            _refuse_outside(event, path)
    elif event in _CHANGES:
        _refuse_outside(event, args[0])


def _refuse_outside(event: str, path: object) -> None:
    if not isinstance(path, str | bytes | os.PathLike):
        return
    found = Path(os.path.realpath(Path.cwd() / os.fsdecode(path)))
    own = found.suffix in (".pyc",) or found.name.startswith("__pycache__") or str(found).startswith("/dev/")
    if not own and not any(found.is_relative_to(folder) for folder in _within):
        _trespasses.append(f"{event} {found}")


def _too_long(*_: object) -> None:
    raise AssertionError(f"more than {MOST_SECONDS:g} s of CPU")


@contextlib.contextmanager
def limited(folder: Path) -> Iterator[None]:
    """Let a block stay within the limits.

    Args:
        folder: the only one that the block may write into.

    Raises:
        AssertionError: the block went beyond a limit.
        MemoryError: the block asked for more memory than it may take.
    """
    if not _installed:
        sys.addaudithook(_watch)
        _installed.append(True)
    _trespasses.clear()
    before = resource.getrlimit(resource.RLIMIT_AS)
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    resource.setrlimit(resource.RLIMIT_AS, (pages * resource.getpagesize() + MOST_BYTES, before[1]))
    _within.append(folder.resolve())
    alarm = signal.signal(signal.SIGPROF, _too_long)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, alarm)
        _within.pop()
        resource.setrlimit(resource.RLIMIT_AS, before)
    assert not _trespasses, _trespasses
