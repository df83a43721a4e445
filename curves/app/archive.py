"""An archive of reports: which strips have one already that still holds, and the page that leads to all of them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import curves
from curves.app.strip_files import RECORD, StripFile
from curves.errors import CurvesError
from curves.files.base.fields import MOST_OF_RECORD, toml_in
from curves.files.base.grids import MOST_READ, decode, read_content
from curves.files.results.report_files import made_from


def fingerprint(path: Path, settings: str) -> str:
    """Return a digest of all that a strip's report is made from; another digest means another report.

    Args:
        path: the strip's record, or its table of readings.
        settings: the options that the report is written with, in words.

    Returns:
        The digest; empty if a file cannot be read: why, is told when the strip is loaded.
    """
    digest = hashlib.sha256(f"{curves.__version__}\n{settings}\n".encode())
    try:
        is_record = path.suffix.lower() == RECORD
        content = read_content(path, MOST_OF_RECORD if is_record else MOST_READ)
        digest.update(hashlib.sha256(content).digest())
        for file in _named_in(content, path) if is_record else ():
            digest.update(hashlib.sha256(read_content(file)).digest())
    except (CurvesError, ValueError):
        return ""
    return digest.hexdigest()


def is_reported(strip: StripFile, folder: Path) -> bool:
    """Return True if a strip's report lies in a folder of reports and would come out the same."""
    page, numbers = (folder / f"{strip.name.as_posix()}{ending}" for ending in (".html", ".json"))
    return page.is_file() and numbers.is_file() and strip.fingerprint == made_from(page) != ""


def results_in(folder: Path, name: Path) -> dict[str, Any] | None:
    """Return the results of one strip as its report holds them; None if the file is not what a report writes."""
    try:
        (content,) = json.loads((folder / f"{name.as_posix()}.json").read_text(encoding="utf-8"))["strips"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return content if isinstance(content, dict) else None


def _named_in(content: bytes, path: Path) -> list[Path]:
    """Return the files that the content of a record names: its readings, its wedge.

    Raises:
        CurvesError, ValueError: the content is not that of a record.
    """
    named = _texts(toml_in(decode(content, path.name)[0], path.name))
    return sorted({file for text in named if (file := path.parent / text).is_file()})


def _texts(content: object) -> Iterator[str]:
    """Yield every text of a record that can be the name of a file."""
    if isinstance(content, dict):
        for value in content.values():
            yield from _texts(value)
    elif isinstance(content, list):
        for value in content:
            yield from _texts(value)
    elif isinstance(content, str) and 0 < len(content) < 255 and content.isprintable():
        yield content
