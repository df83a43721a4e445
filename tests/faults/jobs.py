"""Commands that write, each on a small folder of its own, with what takes long done once."""

from __future__ import annotations

import contextlib
import importlib
import json
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

from curves.files.results.report_files import LEDGERS
from curves.sensitometry.next_exposure import expected_gain
from curves.sensitometry.uncertainty.results import Analysis
from tests import scan_demo
from tests.commands.run import Outcome, run
from tests.simulate import FOLDER

Contents = dict[str, bytes]

ALWAYS = ("typer.main:get_command", "curves.files.results.content:json_text")
"""What takes long in many commands."""


@dataclass(frozen=True)
class Job:
    """A command that writes.

    Attributes:
        words: the command line.
        needs: files of the demonstration data that it reads.
        table: name and contents of one more file that it reads; none if empty.
        before: the command line that makes the old files, other than those of the command; none if empty.
        heavy: functions whose results depend on nothing that is struck: computed once for a command line.
        good: exit status of a run in which nothing is struck.
        many: True if a strip that cannot be read is named and left out, and the results of the others are written.
    """

    words: tuple[str, ...]
    needs: tuple[str, ...]
    before: tuple[str, ...] = ()
    heavy: tuple[str, ...] = ()
    good: int = 0
    many: bool = False
    table: tuple[str, str] = ("", "")

    def prepare(self, folder: Path) -> None:
        """Make the folder as it is before the command."""
        for name in self.needs:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(FOLDER / name.removeprefix("archive/"), folder / name)
        if self.table[0]:
            (folder / self.table[0]).write_text(self.table[1], encoding="utf-8")
        if self.before:
            assert self.run(folder, self.before).returncode == self.good

    def run(self, folder: Path, words: tuple[str, ...] = ()) -> Outcome:
        """Run the command, or another command line, in a folder."""
        # A plan that is tried on all its films takes seconds.
        few = mock.patch.object(expected_gain, "FILMS", 3)
        with few, remembered((*self.heavy, *ALWAYS), words or self.words):
            return run(folder, *(words or self.words))


_results: dict[tuple[object, ...], Any] = {}


@contextlib.contextmanager
def remembered(names: tuple[str, ...], words: tuple[str, ...]) -> Iterator[None]:
    """Let functions return, at each of their calls for the same strips, what they returned there the first time."""

    def once(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        calls: Counter[tuple[str, ...]] = Counter()

        def call(*args: Any, **options: Any) -> Any:
            titles = tuple(_titles(args[0] if args else None))
            calls[titles] += 1
            key = (name, words, titles, calls[titles])
            if key not in _results:
                _results[key] = real(*args, **options)
            return _results[key]

        return call

    with contextlib.ExitStack() as hooks:
        for name in names:
            module, function = name.split(":")
            real = getattr(importlib.import_module(module), function)
            hooks.enter_context(mock.patch(f"{module}.{function}", once(name, real)))
        yield


def _titles(given: object) -> list[str]:
    """Return the titles of the strips whose analyses, or results, a function is given."""
    if isinstance(given, Analysis):
        return [given.strip.title]
    if isinstance(given, dict):
        return [str(given["title"])] if "title" in given else _titles(given.get("strips"))
    return [title for each in given for title in _titles(each)] if isinstance(given, list) else []


FEW = ("--draws", "100")
"""Draws enough for every command: what is struck does not depend on them."""

REVERSAL, FILTERED = (("heron-reversal.toml", "heron-reversal.csv"), ("heron-filtered.toml", "heron-filtered.csv"))
LAMP = ("--kind", "reversal", "--wedge", "wedge-21.csv", "--lux", "500", "--seconds", "0.02")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK))
MEASURED = ("filters", "--from", REVERSAL[0], FILTERED[0], "--drawer", "drawer.csv", "--name")
MEASURING = ("curves.sensitometry.filters.from_strips:measure_filter",)
RUNS = tuple(f"control/run-{n:02}.{kind}" for n in range(1, 7) for kind in ("toml", "csv"))

ARCHIVE = tuple(f"archive/{name}" for name in REVERSAL + FILTERED)
TIMES = tuple(f"times/first-{ms}.{kind}" for ms in (500, 600, 700, 830, 1000) for kind in ("toml", "csv"))
PLAN = ("plan", "--box", "80", "--kind", "reversal")
SCANNED = ("wren-scan.toml", "wren-scan.csv", "wren-scan-calibration.toml", "wren-scan-patches.csv", "wedge-21.csv",
           "wren-scan.tif")  # fmt: skip
BALANCE = ("balance", SCANNED[0], "--gamma", "1", "--draws", "48")
FRAMES = "picture,stops,left,top,right,bottom\n" + "".join(
    f"wren-patch.tif,{stops},{left},20,{left + 15},60\n" for stops, left in enumerate((210, 170, 130, 25, 5))
)
"""Frames of a roll, each a place in the one picture."""

JOBS = {
    "report": Job(
        ("report", REVERSAL[0], "--card", *FEW), REVERSAL, ("report", REVERSAL[0], "--card", *FEW, "--seed", "1"),
        ("curves.views.pages.report:report_page", "curves.views.pages.card:card"),
    ),
    "archive": Job(
        ("report", "archive", "--draws", "50", "--again", "--plotly", "beside"), ARCHIVE,
        ("report", "archive", "--draws", "50", "--seed", "1", "--plotly", "beside"),
        ("curves.views.pages.report:report_page", "curves.views.page.frame:plotly_library"), many=True,
    ),
    "table": Job(("measure", REVERSAL[0], FILTERED[0], *FEW, "--table", "all.csv"), REVERSAL + FILTERED, many=True),
    "compare": Job(
        ("compare", REVERSAL[0], FILTERED[0], *FEW), REVERSAL + FILTERED,
        ("compare", REVERSAL[0], FILTERED[0], *FEW, "--seed", "1"),
        (
            "curves.sensitometry.comparison.differences:compare_strips",
            "curves.views.many.comparison:comparison_page",
        ),
    ),
    "control": Job(
        ("control", "control", "--first", "4"), RUNS, ("control", "control", "--first", "5"),
        ("curves.views.many.control:control_page",), many=True,
    ),
    "stacks": Job(
        ("filters", REVERSAL[0], "--drawer", "drawer.csv", *FEW), (*REVERSAL, "drawer.csv"),
        ("filters", REVERSAL[0], "--drawer", "drawer.csv", *FEW, "--seed", "1"),
        (
            "curves.views.pages.filters:filters_page", "curves.sensitometry.filters.stacks:find_stacks",
            "curves.sensitometry.filters.prediction:ideal_pack", "curves.files.filters.results:stacks_json",
            "curves.views.text.filters:stacks_text",
        ),
    ),
    "drawer": Job((*MEASURED, "new"), (*REVERSAL, *FILTERED, "drawer.csv"), heavy=MEASURING),
    "new drawer": Job((*MEASURED, "new"), (*REVERSAL, *FILTERED), heavy=MEASURING),
    "import": Job(
        ("import", "heron-exchange.txt", "--into", "new", "--yes", "--kind", "reversal", "--wedge", "21x0.15",
         "--lux", "25", "--seconds", "1.6"), ("heron-exchange.txt",),
    ),
    "scan": Job(
        ("scan", "wren-scan.tif", "wren", *LIGHT, "--area", scan_demo.AREA, *LAMP, "--yes"),
        ("wren-scan.tif", "wedge-21.csv"),
        heavy=(
            "curves.app.pictures.scan_job:calibrate", "curves.app.pictures.scan_job:find_patches",
            "curves.app.pictures.scan_job:measure_areas",
            "curves.app.pictures.scan_notes:notes_on", "curves.commands.scan_choice:patches_page",
        ),
    ),
    "grain": Job(
        ("grain", "heron-patch.tif", "--clear", f"area:{scan_demo.GATE_AREA}", "--dark", "131", "--patch",
         scan_demo.PATCH_AREA), ("heron-patch.tif",),
        heavy=(
            "curves.app.pictures.grain_job:film_of", "curves.sensitometry.grain.comparison:compare_films",
            "curves.views.pictures.grain:grain_page",
        ),
    ),
    "join": Job(
        ("join", REVERSAL[0], "heron-short.toml", "--into", "both", "--draws", "50"),
        (*REVERSAL, "heron-short.toml", "heron-short.csv"), heavy=("curves.sensitometry.combining.joining:join",),
    ),
    "series": Job(
        ("series", "times", "--by", "first_developer_minutes", *FEW), TIMES,
        heavy=("curves.sensitometry.series.strips:strip_series", "curves.views.many.series_page:series_page"),
        many=True,
    ),
    "plan": Job((*PLAN, "--lux", "25", "--wedge", "21x0.15", "--write", "heron-1"), ()),
    "roll": Job(
        ("plan", "--bracket", "--box", "12", "--off", "2", "--kind", "reversal", "--stack", "none",
         "--write", "roll-1"), (),
    ),
    "next": Job(
        ("plan", "--after", REVERSAL[0], "--frames", "3", "--write", "next"), REVERSAL,
        heavy=("curves.sensitometry.next_exposure.expected_gain:next_exposure",),
    ),
    "frames": Job(
        ("scan", "roll", "--frames", "frames.csv", "--clear", "60000", "--dark", "131", "--kind", "reversal",
         "--ei", "80", "--yes"), ("wren-patch.tif",), table=("frames.csv", FRAMES),
    ),
    "balance": Job(
        (*BALANCE, "--lut", "wren.clf", "--csv", "map.csv", "--apply", SCANNED[-1], "--into", "b.tif"), SCANNED,
        (*BALANCE, "--seed", "1"),
        (
            "curves.sensitometry.balance.neutral:balance_of", "curves.files.pictures.correction_files:common_lut",
            "curves.files.pictures.correction_files:values_text", "curves.views.pictures.balance:balance_page",
            "curves.sensitometry.balance.picture_values:value_table",
        ),
    ),
    "sheet": Job(("enter", "heron-reversal", "--sheet"), (REVERSAL[0],)),
}  # fmt: skip
"""Every command that writes; what `enter` writes line by line is killed at every call by `tests.files.entry.kills`."""


def contents(folder: Path) -> Contents:
    """Return every file below a folder but ledgers, which hold more the more runs there were, and empty locks."""
    files = (p for p in folder.rglob("*") if p.is_file() and p.parent.name != LEDGERS and p.suffix != ".lock")
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def halves(found: Contents, old: Contents, new: Contents, many: bool) -> list[str]:
    """Return the files that are neither the old ones nor the new ones, apart from what is renamed at the end.

    Args:
        found: the files.
        old, new: the files before the command, and after it.
        many: as in `Job`: a file may be whole with the results of fewer strips.
    """
    wrong = [name for name in old if name not in found]
    for name, content in found.items():
        same = content in [files[name] for files in (old, new) if name in files]
        if not (same or name.endswith((".part", ".lock")) or (many and _is_whole(name, content, new[name]))):
            wrong.append(name)
    return wrong


def _is_whole(name: str, content: bytes, new: bytes) -> bool:
    """Return True if a file is whole, though perhaps with the results of fewer strips than ``new``."""
    if name.endswith(".csv"):
        lines = new.splitlines(keepends=True)
        # Rows of a strip whose files could not be digested lack the digest: a later run makes them again.
        plain = {line.rpartition(b",")[0] + b",\r\n" for line in lines} if name == "all.csv" else set()
        return set(content.splitlines(keepends=True)) <= plain | set(lines)
    return content.endswith(b"</html>\n") if name.endswith(".html") else bool(json.loads(content))
