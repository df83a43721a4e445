"""Real files, and what becomes of them: a few changes drawn at random, each of a kind that files suffer in life."""

from __future__ import annotations

import functools
import io
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

import imagecodecs
import numpy as np
import openpyxl
from hypothesis import strategies as st

from curves.files.entry.entry import Entry
from curves.files.entry.questions import Answers
from tests.files.entry.kills import DRAFT, PLAN
from tests.files.pictures.dng import write_dng
from tests.files.strips.test_judged_frames import JUDGED, RECORD
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

PICTURES = (".tif", ".jpg", ".png", ".dng")

PLANNED = """
[plan]
after = "Heron 80, reversal, grey card bracketed in whole stops"
number = "ei"
films = 19
own_value = [6.5, 10.0, 15.5]
own_half_width = [0.3, 0.5, 0.9]
both_value = [6.0, 10.0, 16.0]
both_half_width = [0.2, 0.4, 0.8]
"""
FIRST = """
[plan]
thin_end = [0.2, 0.3, 0.5]
dense_end = [2.1, 2.4, 2.9]
chance = 0.95
alone = 0.9
strip = 1
strips = 2
box = 80
off_stops = 1.0
"""
"""What a plan writes into a record, after another strip and for the first one."""

_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


@functools.cache
def corpora() -> Mapping[str, bytes]:
    """Return real files by name: the demonstration data, plans, pictures, a workbook, and the state of an entry."""
    found = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.is_file()}
    found |= {f"times/{path.name}": path.read_bytes() for path in sorted((FOLDER / "times").iterdir())[:6]}
    for name, plan in (("heron-planned", PLANNED), ("heron-first", FIRST)):
        found[f"{name}.toml"] = found["heron-reversal.toml"] + plan.encode()
    found |= {"judged.toml": RECORD.encode(), "roll.csv": JUDGED.encode()}
    found["pictures.csv"] = b"picture,ei,left,top,right,bottom\ngrey.png,80,,,,\ngrey.jpg,40,4,4,30,20\n"
    grey = (np.add.outer(np.arange(24), np.arange(36)) * 4).astype(np.uint8)
    found["grey.png"] = bytes(imagecodecs.png_encode(grey.astype(np.uint16) * 257))
    found["grey.jpg"] = bytes(imagecodecs.jpeg_encode(np.dstack([grey, grey, grey])))
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
        found["grey.dng"] = write_dng(Path(folder) / "grey.dng", grey.astype(np.uint16) * 16).read_bytes()
    return found


def lay_out(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files by their names below a folder."""
    for name, content in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)


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
