"""The files of a report, never written over a file that this tool did not make.

A ledger in the folder (`LEDGER`) holds the digest of every file that was written there. A file whose digest is not in
the ledger was made, or changed, by somebody else, and is left alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from curves.errors import OutputError
from curves.files.base.locking import locked
from curves.files.base.writing import write_atomically

LEDGER, LOCK = ".written-by-curves.json", ".written-by-curves.lock"


def refuse_same_names(names: Sequence[Path], strips: Sequence[Path]) -> None:
    """Refuse strips whose results would have one name.

    Args:
        names: name of each strip's results, without an ending.
        strips: the strips' files.

    Raises:
        OutputError: two strips would write the same files.
    """
    found: dict[Path, Path] = {}
    for name, path in zip(names, strips, strict=True):
        if name in found:
            raise OutputError(
                f"{found[name]} and {path} would both be written as '{name}'",
                needed="strips with different names",
                hint="report them one at a time, each into a folder of its own",
                settings=("into",),
            )
        found[name] = path


def write_report(
    folder: Path,
    name: str,
    *,
    page: str,
    numbers: str,
    steps: str,
    curve: str,
    card: str | None = None,
    library: tuple[str, str] | None = None,
) -> list[Path]:
    """Write the four files of one strip's report and return their paths.

    Args:
        folder: the folder to write into; made if missing.
        name: the strip's name.
        page, numbers, steps, curve: contents of the four files.
        card: contents of the card, where one is asked for.
        library: name and contents of a file that the page needs beside it.

    Raises:
        OutputError: a file of that name was not made by this tool, or the folder cannot be written to.
    """
    texts = {
        folder / f"{name}.html": page,
        folder / f"{name}.json": numbers,
        folder / f"{name}-steps.csv": steps,
        folder / f"{name}-curve.csv": curve,
    }
    if card is not None:
        texts[folder / f"{name}-card.html"] = card
    if library is not None:
        texts[folder / library[0]] = library[1]
    write_files(folder, texts)
    return list(texts)


def write_files(folder: Path, texts: Mapping[Path, str]) -> None:
    """Write files into a folder, none of them over a file that this tool did not make.

    Args:
        folder: the folder to write into; made if missing.
        texts: the contents by path, each path in the folder.

    Raises:
        OutputError: a file of that name was not made by this tool, or the folder cannot be written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made: {error.strerror}", where=str(folder), hint="name another", settings=("into",)
        ) from error
    # Two runs into one folder share the ledger: one after the other reads and writes it.
    with locked(folder / LOCK):
        ledger = _read_ledger(folder)
        # The ledger is written first, with the digests of what is to be written and of what is there, so that an
        # interrupted run leaves only files that the ledger knows.
        for path, text in texts.items():
            there = _own_digest(path, ledger)
            ledger[path.name] = list(dict.fromkeys([_digest(text.encode("utf-8")), *([there] if there else [])]))
        write_atomically(folder / LEDGER, json.dumps(ledger, indent=1) + "\n")
        for path, text in texts.items():
            write_atomically(path, text)


def _read_ledger(folder: Path) -> dict[str, list[str]]:
    try:
        content = json.loads((folder / LEDGER).read_text(encoding="utf-8"))
    except (OSError, RecursionError, ValueError):
        return {}
    whole = content.items() if isinstance(content, dict) else ()
    return {str(k): [str(d) for d in v] for k, v in whole if isinstance(v, list)}


def _own_digest(path: Path, ledger: dict[str, list[str]]) -> str | None:
    """Return the digest of a file that is there, None if none is.

    Raises:
        OutputError: a folder is there, or a file that the ledger does not know.
    """
    if path.is_dir():
        hint = "move it away, or name another folder"
        raise OutputError("a folder has the name of the file to be written", where=str(path), hint=hint)
    if not path.exists():
        return None
    digest = _digest(path.read_bytes())
    if digest not in ledger.get(path.name, []):
        raise OutputError(
            "the file was made or changed by somebody else, so it is left as it is",
            where=str(path),
            hint="move it away, or name another folder",
            settings=("into",),
        )
    return digest


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
