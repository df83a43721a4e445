"""Records written by the tool, into which people write too: comments, order and layout stay as they are.

tomlkit keeps every character that an edit does not touch; the writing itself is that of `files.writing`.
"""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from curves.errors import RecordError
from curves.files.base.grids import read_text
from curves.files.base.writing import write_atomically

_ORDER = ("title", "film", "process", "date", "kind", "density", "readings", "notes")
_SECTIONS = ("wedge", "exposure", "patches", "reader")


def record_path(name: Path) -> Path:
    """Return the record that a person means by a name, with or without .toml.

    Raises:
        RecordError: it is no name of a file.
    """
    if not name.name:
        raise RecordError(f"'{name}' is no name of a file", where="NAME", needed="a name such as heron-7")
    return name if name.suffix.lower() == ".toml" else name.with_name(name.name + ".toml")


def record_content(path: Path) -> dict[str, Any]:
    """Return what a record holds, as plain dictionaries, its date as text.

    Raises:
        RecordError: there is no such file, or it is not TOML.
    """
    try:
        content = tomllib.loads(read_text(path))
    except ValueError as error:
        raise RecordError(f"this is not TOML: {error}", where=path.name) from error
    if isinstance(content.get("date"), datetime.date):
        content["date"] = content["date"].isoformat()
    return content


def last_record(folder: Path, *, but: Path) -> Path | None:
    """Return the strip record in a folder that was changed last, other than ``but``; None if there is none."""
    dated = []
    for path in folder.glob("*.toml"):
        try:
            content = record_content(path)
            if path.name != but.name and isinstance(content.get("exposure"), dict) and "kind" in content:
                dated.append((path.stat().st_mtime, path.name, path))
        except (RecordError, OSError):
            continue
    return max(dated)[2] if dated else None


def write_record(path: Path, content: Mapping[str, Any]) -> None:
    """Write a record so that it says ``content``: a new one, or the one there with only what differs changed.

    What the record there says and ``content`` does not mention stays as it is.

    Args:
        path: the record.
        content: as `record_content` gives it.

    Raises:
        RecordError: there is a record, and it is not TOML.
        OutputError: it could not be written; what was there before is unchanged.
    """
    text = edited(read_text(path), content, path.name) if path.exists() else new_text(content)
    write_atomically(path, text)


def new_text(content: Mapping[str, Any]) -> str:
    """Return the text of a new record."""
    document = tomlkit.document()
    for key in (*_ORDER, *(k for k in content if k not in _ORDER)):
        if key in content and not isinstance(content[key], Mapping | list):
            document.add(key, _item(key, content[key]))
    for name in (*_SECTIONS, *(k for k in content if k not in _SECTIONS)):
        section = content.get(name)
        if isinstance(section, Mapping) and section:
            document.add(tomlkit.nl())
            table = tomlkit.table()
            for key, value in section.items():
                table.add(key, _item(key, value))
            document.add(name, table)
        elif isinstance(section, list):
            document.add(tomlkit.nl())
            document.add(name, tomlkit.item(section))
    return tomlkit.dumps(document)


def edited(text: str, content: Mapping[str, Any], name: str = "the record") -> str:
    """Return the text of a record with only what differs from ``content`` changed.

    Raises:
        RecordError: the text is not TOML.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise RecordError(f"this is not TOML: {error}", where=name) from error
    plain = document.unwrap()
    added = tomlkit.document()
    for key, value in content.items():
        if isinstance(value, Mapping):
            if not value:
                continue
            if key not in document:
                document.add(tomlkit.nl())
                document.add(key, tomlkit.table())
            section, before = document[key], plain.get(key, {})
            assert isinstance(section, dict)
            for inner, new in value.items():
                if before.get(inner) != new:
                    section[inner] = _item(inner, new)
        elif _differs(key, plain.get(key), value):
            (document if key in document else added).update({key: _item(key, value)})
    return _with_keys(tomlkit.dumps(document), tomlkit.dumps(added))


def _with_keys(text: str, keys: str) -> str:
    """Return a record with top-level keys added after those it has, above any comment that belongs to a section."""
    if not keys:
        return text
    lines = text.splitlines(keepends=True)
    plain = {k for k, v in tomllib.loads(text).items() if not isinstance(v, dict | list)}
    for count in range(len(lines) + 1):
        try:
            held = tomllib.loads("".join(lines[:count]))
        except tomllib.TOMLDecodeError:
            # The cut runs through a text of several lines.
            continue
        if plain <= set(held):
            break
    head, rest = "".join(lines[:count]), "".join(lines[count:])
    gap = "" if head.endswith("\n") or not head else "\n"
    return head + gap + keys + ("\n" if not head and rest else "") + rest


def _differs(key: str, before: object, value: object) -> bool:
    if key == "date" and isinstance(before, datetime.date):
        return before.isoformat() != value
    return before != value


def _item(key: str, value: Any) -> Any:
    """Return a value as TOML writes it: dates as dates, patches on one line, notes of several lines as such."""
    if key == "date" and isinstance(value, str):
        return tomlkit.date(value)
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        table.update(dict(value))
        return table
    if isinstance(value, str) and "\n" in value and "'''" not in value and '"""' not in value:
        return tomlkit.string(value, multiline=True)
    return tomlkit.item(value)
