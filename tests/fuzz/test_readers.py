"""Every reader takes any file: it returns what is there, or refuses in the tool's own words."""

from __future__ import annotations

import itertools
import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import hypothesis
import pytest
from hypothesis import strategies as st

from curves.app.file_check import check_file
from curves.errors import CurvesError, visible
from curves.files.base.record_edits import last_record, record_content, write_record
from curves.files.entry.entry import Entry, steps_of, usual_channels
from curves.files.filters.drawer import read_drawer
from curves.files.filters.drawer_writing import keep_filter
from curves.files.imports.readers import TableDescription, import_table
from curves.files.pictures.image import open_image
from curves.files.scans.frames import read_frames
from curves.files.strips.bare import read_bare
from curves.files.strips.calibration import read_calibration
from curves.files.strips.patch_table import read_patches, scan_of
from curves.files.strips.record import load_by_stack, load_strip, read_setup
from curves.files.strips.wedges import read_wedge
from curves.sensitometry.filters.densities import filter_of
from tests.fuzz.corpora import PICTURES, corpora, lay_out, mutants
from tests.fuzz.limits import limited

MOST_WORDS = 3000
"""Length of the longest refusal: nobody reads more [characters]."""

LONG = float(os.environ.get("FUZZ_SECONDS", "600"))
"""Time that each reader gets in a long run [s]."""

FIRST_SEED = int(os.environ.get("FUZZ_SEED", "2"))
"""Seed of the first inputs of a long run: another one tries other inputs."""


@dataclass(frozen=True)
class Reading:
    """A reader and the real files that it is tried on.

    Attributes:
        names: of the files that are changed; the others lie beside them as they are.
        read: the reader.
        examples: number of inputs in a short run.
    """

    names: tuple[str, ...]
    read: Callable[[Path], object]
    examples: int = 25


def _picture(path: Path) -> None:
    with open_image(path) as image:
        image.region(0, 0, min(image.facts.height, 64), min(image.facts.width, 64))
        image.reduced(64)


def _entry(path: Path) -> None:
    entry = Entry(path.with_suffix(".toml"))
    if entry.begun:
        entry.resume()


def _kept(path: Path) -> None:
    keep_filter(path, filter_of("new", (0.1, 0.2, 0.3), "film", uncertainty=0.01))
    assert "new" in [one.name for one in read_drawer(path)]


def _edited(path: Path) -> None:
    write_record(path, {"title": "x", "notes": "a\nb", "patches": {"base": {"red": 0.2}}})
    assert record_content(path)["title"] == "x"


RECORDS = tuple(
    f"{name}.toml"
    for name in (
        "heron-reversal", "heron-filtered", "heron-frames", "wren-scan", "heron-planned", "heron-first", "judged",
        "times/first-500",
    )
)  # fmt: skip
TABLES = ("heron-reversal.csv", "heron-frames.csv", "heron-exchange.txt", "heron.xlsx", "wren-scan-patches.csv")
READERS = {
    "record": Reading(RECORDS, load_strip),
    "readings": Reading(("heron-reversal.csv",), lambda path: load_strip(path.with_suffix(".toml"))),
    "judged frames": Reading(("judged.toml", "roll.csv"), lambda path: load_by_stack(path.with_name("judged.toml"))),
    "pictures of frames": Reading(("pictures.csv",), read_frames),
    "setup": Reading(RECORDS, read_setup),
    "steps": Reading(RECORDS, steps_of),
    "channels": Reading(RECORDS, usual_channels),
    "scan": Reading(("wren-scan.toml",), scan_of),
    "record to be edited": Reading(RECORDS, _edited),
    "last record": Reading(RECORDS, lambda path: last_record(path.parent, but=path)),
    "calibration": Reading(("wren-scan-calibration.toml",), read_calibration),
    "wedge": Reading(("wedge-21.csv",), read_wedge),
    "patches": Reading(("wren-scan-patches.csv",), read_patches),
    "drawer": Reading(("drawer.csv",), read_drawer),
    "drawer to be written": Reading(("drawer.csv",), _kept),
    "table from elsewhere": Reading(TABLES, lambda path: import_table(path, TableDescription())),
    "bare table": Reading(TABLES[:3], read_bare),
    "entry": Reading(("heron.entry",), _entry),
    "picture": Reading(("wren-patch.tif", "heron-patch.tif"), _picture, 20),
    "small picture": Reading(("grey.png", "grey.jpg"), _picture),
    "raw file": Reading(("grey.dng",), _picture, 15),
    "checked": Reading((*RECORDS[:2], *TABLES, "drawer.csv", "heron.entry", "wedge-21.csv"), check_file, 10),
}


def fuzz(name: str, examples: int, seed: int) -> int:
    """Give a reader changed files; return how many it read or refused in words.

    Raises:
        Exception: whatever a reader raises that is not a refusal in words, or a limit that it breaks.
    """
    reading, count = READERS[name], itertools.count()
    refusals: list[str] = []

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=examples, deadline=None, database=None, suppress_health_check=list(hypothesis.HealthCheck)
    )
    @hypothesis.given(st.sampled_from(reading.names).flatmap(lambda file: st.tuples(st.just(file), mutants(file))))
    def trial(drawn: tuple[str, bytes]) -> None:
        file, content = drawn
        next(count)
        with tempfile.TemporaryDirectory() as folder:
            large = (*PICTURES[:1], ".xlsx")
            real = {beside: whole for beside, whole in corpora().items() if not beside.endswith(large)}
            lay_out(Path(folder), {**real, file: content})
            path = Path(folder) / file
            try:
                with limited(Path(folder)):
                    reading.read(path)
            except CurvesError as refusal:
                refusals.append(refusal.in_words())

    trial()
    assert all(visible(words) == words and len(words) < MOST_WORDS for words in refusals)
    return next(count)


@pytest.mark.parametrize("name", READERS)
def test_a_reader_takes_any_file(name: str) -> None:
    assert fuzz(name, READERS[name].examples, 1) >= READERS[name].examples


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
def test_a_reader_takes_any_file_for_long(name: str, record_property: Callable[[str, object], None]) -> None:
    ends, inputs = time.monotonic() + LONG, 0
    for seed in itertools.count(FIRST_SEED):
        inputs += fuzz(name, 200, seed)
        if time.monotonic() > ends:
            break
    record_property("inputs", inputs)
    assert inputs
