"""The files of a report, never written over a file that this tool did not make.

A hidden folder beside them (`LEDGERS`) has a ledger for every report, with the digests of its files. A file whose
digest is not in the ledger was made, or changed, by somebody else, and is left alone. With a ledger for every report a
report costs the same, however many lie in the folder.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from curves.errors import OutputError
from curves.files.base.locking import locked
from curves.files.base.writing import write_atomically

LEDGERS, LOCK = ".written-by-curves", "lock"


@dataclass
class Ledger:
    """The files that were written for one report.

    Attributes:
        files: by name, the digests of the last contents that a file was given.
        made_from: fingerprint of what the report was made from; empty if it is not whole, or nobody asked.
    """

    files: dict[str, list[str]] = field(default_factory=dict)
    made_from: str = ""

    def text(self) -> str:
        """Return the ledger as it stands in its file."""
        return json.dumps({"files": self.files, "made from": self.made_from}, indent=1) + "\n"


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
    fingerprint: str = "",
) -> list[Path]:
    """Write the four files of one strip's report and return their paths.

    Args:
        folder: the folder to write into; made if missing.
        name: the strip's name.
        page, numbers, steps, curve: contents of the four files.
        card: contents of the card, where one is asked for.
        library: name and contents of a file that the page needs beside it.
        fingerprint: digest of all that the report is made from.

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
        write_files(folder, {folder / library[0]: library[1]})
    write_files(folder, texts, fingerprint)
    return [*texts, *([folder / library[0]] if library is not None else [])]


def write_files(folder: Path, texts: Mapping[Path, str], fingerprint: str = "", setting: str = "into") -> None:
    """Write the files of one report into a folder, none of them over a file that this tool did not make.

    Args:
        folder: the folder to write into; made if missing.
        texts: the contents by path, each path in the folder; the first names the report.
        fingerprint: digest of all that the report is made from.
        setting: the parameter that names the folder.

    Raises:
        OutputError: a file of that name was not made by this tool, or the folder cannot be written to.
    """
    path_of_ledger = _ledger_of(next(iter(texts)))
    try:
        path_of_ledger.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made: {error.strerror}", where=str(folder), hint="name another", settings=(setting,)
        ) from error
    # Two runs into one folder may write one report: one after the other reads and writes its ledger.
    with locked(path_of_ledger.parent / LOCK):
        ledger = _read_ledger(path_of_ledger)
        # The ledger is written first, with the digests of what is to be written and of what is there, so that an
        # interrupted run leaves only files that the ledger knows.
        for path, text in texts.items():
            there = _own_digest(path, ledger)
            digests = [_digest(text.encode("utf-8")), *([there] if there else [])]
            ledger.files[path.name] = list(dict.fromkeys(digests))
        ledger.made_from = ""
        write_atomically(path_of_ledger, ledger.text())
        for path, text in texts.items():
            write_atomically(path, text)
        # Only a report that is whole is said to be made.
        if fingerprint:
            ledger.made_from = fingerprint
            write_atomically(path_of_ledger, ledger.text())


def made_from(page: Path) -> str:
    """Return the fingerprint of what a report was made from, by its page; empty if there is no whole report."""
    return _read_ledger(_ledger_of(page)).made_from


def written_in(folder: Path) -> set[str]:
    """Return the names of the files that this tool wrote into a folder as results."""
    return {name for path in (folder / LEDGERS).glob("*.json") for name in _read_ledger(path).files}


def _ledger_of(page: Path) -> Path:
    """Return the path of a report's ledger."""
    return page.parent / LEDGERS / f"{page.stem}.json"


def _read_ledger(path: Path) -> Ledger:
    """Return a ledger; an empty one if there is none, or none that can be read."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, RecursionError, ValueError):
        return Ledger()
    whole = content if isinstance(content, dict) else {}
    files, made = whole.get("files"), whole.get("made from")
    known = files.items() if isinstance(files, dict) else ()
    digests = {str(k): [str(d) for d in v] for k, v in known if isinstance(v, list)}
    return Ledger(digests, made if isinstance(made, str) else "")


def _own_digest(path: Path, ledger: Ledger) -> str | None:
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
    if digest not in ledger.files.get(path.name, []):
        raise OutputError(
            "the file was made or changed by somebody else, so it is left as it is",
            where=str(path),
            hint="move it away, or name another folder",
            settings=("into",),
        )
    return digest


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
