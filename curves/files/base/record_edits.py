"""Writing records into which people write as well: their comments, order and layout stay as they are.

tomlkit keeps every character that an edit does not touch.
"""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Collection, Mapping
from copy import deepcopy
from functools import partial
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from curves.errors import RecordError
from curves.files.base.fields import MOST_OF_RECORD, toml_in
from curves.files.base.grids import read_text
from curves.files.base.writing import write_atomically

_ORDER = ("title", "film", "process", "date", "kind", "density", "readings", "notes")
_SECTIONS = ("wedge", "exposure", "patches", "reader")
_SEVERAL = frozenset({"stack", "exposure"})
"""Columns of a table whose rows belong to several stacks of filters, or to several strips."""


def record_path(name: Path) -> Path:
    """Return the path of a record from its name, given with or without .toml.

    Raises:
        RecordError: the name cannot be the name of a file.
    """
    if not name.name:
        raise RecordError(f"'{name}' is not the name of a file", where="NAME", needed="a name such as heron-7")
    return name if name.suffix.lower() == ".toml" else name.with_name(name.name + ".toml")


def record_content(path: Path) -> dict[str, Any]:
    """Return the contents of a record as plain dictionaries, its date as text.

    Raises:
        RecordError: there is no such file, or the file is not TOML.
    """
    try:
        content = deepcopy(toml_in(read_text(path, MOST_OF_RECORD), path.name))
    except ValueError as error:
        raise RecordError(f"this is not TOML: {error}", where=path.name) from error
    if isinstance(content.get("date"), datetime.date):
        content["date"] = content["date"].isoformat()
    return content


def last_record(folder: Path, *, but: Path) -> Path | None:
    """Return the record in a folder that was changed last and may tell of the next strip; None if none may.

    Args:
        folder: where to look.
        but: a record that is left out.
    """
    dated = []
    for path in folder.glob("*.toml"):
        try:
            content = record_content(path)
            whole = isinstance(content.get("exposure"), dict) and "kind" in content
            if path.name != but.name and whole and _is_of_one_strip(path, content):
                dated.append((path.stat().st_mtime, path.name, path))
        except (RecordError, OSError):
            continue
    return max(dated)[2] if dated else None


def _is_of_one_strip(path: Path, content: Mapping[str, Any]) -> bool:
    """Return True unless a record is a plan without readings, a bracket behind several stacks, or of joined strips.

    What such a record says of exposure and filters holds for no other strip.

    Raises:
        RecordError: the table of readings is not text.
    """
    table = path.parent / str(content.get("readings", ""))
    if not table.is_file():
        return "plan" not in content
    lines = (line for line in read_text(table).splitlines() if line.strip() and not line.startswith("#"))
    return _SEVERAL.isdisjoint(re.split(r"[,;\t]", next(lines, "").lower()))


def write_record(path: Path, content: Mapping[str, Any], gone: Collection[str] = ()) -> None:
    """Write ``content`` into a record: into a new one, or into the record there, of which only differing values change.

    Keys of the record that ``content`` does not have stay as they are.

    Args:
        path: the record.
        content: the contents, as `record_content` returns them.
        gone: sections, and keys with their section, such as "exposure.lux", that the record is to lose first.

    Raises:
        RecordError: the record there is not TOML.
        OutputError: the record could not be written; the old one is unchanged.
    """
    text = edited(read_text(path, MOST_OF_RECORD), content, path.name, gone) if path.exists() else new_text(content)
    write_atomically(path, text, partial(check_says, content))


def check_says(content: Mapping[str, Any], path: Path) -> None:
    """Read a record, or a calibration, and refuse it if it does not say what was meant.

    Args:
        content: what was meant; the file may have further keys.
        path: the file.

    Raises:
        RecordError: a value does not come back.
    """
    found = record_content(path)
    lost = [key for key, value in content.items() if not _same(found.get(key), value)]
    if lost:
        raise RecordError(f"{' and '.join(lost)} would be lost or changed", where=path.name)


def _same(found: object, meant: object) -> bool:
    """Return True if a value read is the value meant; an empty section need not be there."""
    if isinstance(meant, Mapping):
        inner = {} if found is None else found
        return isinstance(inner, Mapping) and all(_same(inner.get(key), value) for key, value in meant.items())
    if isinstance(meant, list | tuple):
        return isinstance(found, list) and len(found) == len(meant) and all(map(_same, found, meant))
    if isinstance(meant, datetime.date):
        return str(found) == meant.isoformat()
    return found == meant


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


def edited(text: str, content: Mapping[str, Any], name: str = "the record", gone: Collection[str] = ()) -> str:
    """Return the text of a record without ``gone``, in which only the values that differ from ``content`` are changed.

    Raises:
        RecordError: the text is not TOML, or has a value where a section is needed.
    """
    try:
        toml_in(text, name)
        document = tomlkit.parse(text)
    except (ValueError, TOMLKitError) as error:
        raise RecordError(f"this is not TOML: {error}", where=name) from error
    for path in gone:
        section, _, key = path.rpartition(".")
        if not section or section in document:
            holder: Any = _section(document, section, name) if section else document
            holder.pop(key, None)
    plain = document.unwrap()
    added = tomlkit.document()
    for key, value in content.items():
        if isinstance(value, Mapping):
            if not value:
                continue
            if key not in document:
                document.add(tomlkit.nl())
                document.add(key, tomlkit.table())
            held, before = _section(document, key, name), plain.get(key, {})
            for inner, new in value.items():
                if before.get(inner) != new:
                    held[inner] = _item(inner, new)
        elif _differs(key, plain.get(key), value):
            (document if key in document else added).update({key: _item(key, value)})
    return _with_keys(tomlkit.dumps(document), tomlkit.dumps(added))


def _section(document: tomlkit.TOMLDocument, key: str, name: str) -> dict[str, Any]:
    """Return a section of a record that has it.

    Raises:
        RecordError: the record has a value, or several sections, in its place.
    """
    held = document[key]
    if not isinstance(held, dict):
        raise RecordError(f"'{key}' is not a table", where=name, needed=f"a section headed [{key}], once")
    return held


def _with_keys(text: str, keys: str) -> str:
    """Return a record with top-level keys added after its own, above any comment that belongs to a section."""
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
    """Return a value as TOML: a date as a date, patches on one line, a text of several lines on several lines."""
    if key == "date" and isinstance(value, str):
        return tomlkit.date(value)
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        table.update(dict(value))
        return table
    # A line that ends with a carriage return would be read back without it, so it is written as \r on one line.
    if isinstance(value, str) and "\n" in value and not any(sign in value for sign in ("\r", "'''", '"""')):
        return tomlkit.string(value, multiline=True)
    return tomlkit.item(value)
