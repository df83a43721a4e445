"""Real files, and what becomes of them: a few changes drawn at random, each of a kind that files suffer in life."""

from __future__ import annotations

import functools
import io
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

import openpyxl
from hypothesis import strategies as st

from curves.files.entry.entry import Entry
from curves.files.entry.questions import Answers
from tests.files.entry.kills import DRAFT, PLAN
from tests.simulate import FOLDER

NUMBERS = (
    "0", "-0", "-1", "1e400", "-1e400", "1e-320", "1e308", "nan", "inf", "9" * 5000, "1_000", "0x10", "1,5", "٣", "1e",
    "", "2.5", "1000000000000",
)  # fmt: skip
"""Numbers, and what looks like one."""

TEXTS = (
    "", " ", "\x00", "\x1b[2J", "\u2028", "\u202e", "\ud7ff", "\ufeff", "#", '"', "'", '"""', "\\", ";", ",", "\t",
    "\r", "\n", "=", "[", "]", "[[", "{", "}", "../", "/dev/zero", "%s", "{0}", "$(id)", "=1+1", "'''\n",
    "a" * 70_000, "a." * 300,
    "[" * 3000, "é", "🎞", "step", "nan", "true", "1979-05-27", "<script>",
)  # fmt: skip
"""Texts that trip readers."""

_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


@functools.cache
def corpora() -> Mapping[str, bytes]:
    """Return real files by name: the demonstration data, a workbook, and the state of an entry."""
    found = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.is_file()}
    book, file = openpyxl.Workbook(), io.BytesIO()
    for row in (("step", "red", "green"), (1, 0.31, 0.40), (2, 0.50, 0.61), (3, 1.10, 1.22), (4, 1.90, 2.05)):
        book.active.append(row)
    book.save(file)
    found["heron.xlsx"] = file.getvalue()
    with tempfile.TemporaryDirectory() as folder:
        entry = Entry(Path(folder) / "heron.toml")
        entry.keep_answers(Answers(DRAFT, ("all",)))
        entry.write_record()
        entry.begin(PLAN)
        found["heron.entry"] = entry.path.read_bytes()
    return found


@st.composite
def mutants(draw: st.DrawFn, name: str) -> bytes:
    """Return a real file with up to four changes; without any now and then."""
    content = corpora()[name]
    for _ in range(draw(st.integers(0, 4))):
        content = draw(changes(content))
    return content


@st.composite
def changes(draw: st.DrawFn, content: bytes) -> bytes:
    """Return a content with one change."""
    at = draw(st.integers(0, len(content)))
    length = draw(st.integers(0, 40) | st.integers(0, max(len(content) - at, 0)))
    text = draw(st.sampled_from(TEXTS) | st.text(st.characters(codec="utf-8"), max_size=20)).encode()
    kind = draw(st.sampled_from(("number", "number", "insert", "cut", "end", "flip", "twice", "line", "encoding")))
    if kind == "number" and (numbers := list(_NUMBER.finditer(content))):
        found = draw(st.sampled_from(numbers))
        return content[: found.start()] + draw(st.sampled_from(NUMBERS)).encode() + content[found.end() :]
    if kind == "cut":
        return content[:at] + content[at + length :]
    if kind == "end":
        return content[:at]
    if kind == "flip":
        return content[:at] + bytes([draw(st.integers(0, 255))]) + content[at + 1 :]
    if kind == "twice":
        return content[: at + length] + content[at:]
    if kind == "line":
        lines = content.splitlines(keepends=True) or [b""]
        one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        lines[one], lines[other] = lines[other], lines[one] if draw(st.booleans()) else b""
        return b"".join(lines)
    if kind == "encoding":
        decoded = content.decode("utf-8", errors="replace")
        return draw(
            st.sampled_from((decoded.encode("utf-16"), decoded.replace("\n", "\r\n").encode(), decoded.encode("utf-7")))
        )
    return content[:at] + text + content[at:]
