"""Every command line comes to an end in words: any options, any files, at any command."""

from __future__ import annotations

import itertools
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args
from unittest import mock

import hypothesis
import pytest
import typer
from hypothesis import strategies as st

from curves import cli
from curves.sensitometry.next_exposure import expected_gain
from tests.commands.run import run
from tests.fuzz.corpora import NUMBERS, PICTURES, TEXTS, corpora, lay_out, mutants
from tests.fuzz.limits import limited
from tests.fuzz.test_readers import FIRST_SEED, LONG

SMALL = tuple(name for name in corpora() if not name.endswith(PICTURES))
VALUES = (
    *SMALL, "wren-patch.tif", ".", "none.toml", "outputs", "21x0.15", "21x0.15@0.08", "reversal", "negative",
    "status A", "visual", "camera", "red", "red,blue", "GS0:GS3", "area:0,0,9,9", "1/50", "80", "new",
    "orange conversion 131 mired", *(n for n in NUMBERS if len(n) < 99),
    *(t for t in TEXTS if len(t) < 99 and "\x00" not in t and "/" not in t),
)  # fmt: skip
"""Words of a command line. (A word cannot hold a zero byte; one with a slash might lead out of the folder.)"""

FEW = ("--draws", "48")

LIKELY: dict[str, tuple[tuple[str, ...], ...]] = {
    "report": (("heron-reversal.toml", *FEW), ("judged.toml", *FEW)),
    "measure": (("heron-reversal.csv", *FEW), ("heron-planned.toml", "--table", "all.csv", *FEW)),
    "ei": (("heron-reversal.toml", *FEW), ("heron-reversal.toml", "heron-frames.toml", "--together", *FEW)),
    "compare": (("heron-reversal.toml", "heron-filtered.toml", *FEW),),
    "control": (("heron-reversal.toml", "heron-short.toml"),),
    "filters": (("heron-reversal.toml", "--drawer", "drawer.csv", *FEW),),
    "import": (("heron-exchange.txt", "--yes"), ("heron.xlsx", "--yes", "--into", "new")),
    "enter": (("heron",),), "check": (("drawer.csv", "heron.entry"), (".",)), "grain": (("wren-patch.tif",),),
    "balance": (("heron-reversal.toml", *FEW), ("wren-scan.toml", "--other-reader", "--csv", "map.csv", *FEW)),
    "scan": (
        ("wren-patch.tif", "new"),
        ("new", "--frames", "pictures.csv", "--clear", "60000", "--dark", "400", "--kind", "reversal", "--yes"),
        ("grey.dng", "new", "--area", "0,0,36,24", "--clear", "4000", "--yes"),
    ),
    "explain": (("gamma",),), "manual": (("files",),),
    "series": (("times", "--by", "first_developer_minutes", *FEW),),
    "join": (("heron-reversal.toml", "heron-short.toml", "--into", "both", *FEW),),
    "plan": (
        ("--box", "80", "--kind", "reversal", "--wedge", "21x0.15", "--lux", "25"),
        ("--bracket", "--box", "12", "--off", "2", "--kind", "reversal", "--stack", "none", "--write", "roll-1"),
        ("--after", "heron-reversal.toml", "--for", "gamma"),
        ("heron-reversal.toml", "--bracket", "--drawer", "drawer.csv", "--write", "roll-1"),
    ),
}  # fmt: skip
"""Words after which a command gets to work."""

COMMANDS: dict[str, Any] = dict(getattr(typer.main.get_command(cli.command_line()), "commands"))  # noqa: B009


@st.composite
def command_lines(draw: st.DrawFn) -> list[str]:
    """Return the words of a command line: a command, its likely words, and up to four options with any values."""
    command = draw(st.sampled_from(sorted(COMMANDS)))
    values = st.sampled_from(VALUES) | st.text(st.characters(codec="utf-8", exclude_characters="\x00/"), max_size=8)
    words = (
        list(draw(st.sampled_from(LIKELY[command]))) if draw(st.integers(0, 3)) else draw(st.lists(values, max_size=3))
    )
    options = [p for p in COMMANDS[command].params if p.opts[0].startswith("--") and "--help" not in p.opts]
    for option in draw(st.lists(st.sampled_from(options), max_size=4)) if options else []:
        words.append(draw(st.sampled_from((*option.opts, *option.secondary_opts))))
        if not getattr(option, "is_flag", False):
            annotation = getattr(getattr(option, "type_descriptor", None), "annotation", None)
            choices = [choice for choice in get_args(annotation) if isinstance(choice, str)]
            given = st.sampled_from(choices) | values if choices else values
            words += [draw(given) for _ in range(getattr(option, "nargs", 1))]
    return [command, *words]


def fuzz(examples: int, seed: int) -> int:
    """Run command lines on a folder in which one file is changed; return how many came to an end in words.

    Raises:
        Exception: whatever a user would see as a traceback, or a limit that is broken.
    """
    count = itertools.count()

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=examples,
        deadline=None,
        database=None,
        suppress_health_check=list(hypothesis.HealthCheck),
        # To make a failing command line shorter takes longer than to read it.
        phases=[hypothesis.Phase.generate],
    )
    @hypothesis.given(
        command_lines(),
        st.sampled_from(SMALL).flatmap(lambda n: st.tuples(st.just(n), mutants(n))),
        st.text(max_size=9),
    )
    def trial(words: list[str], changed: tuple[str, bytes], typed: str) -> None:
        next(count)
        with tempfile.TemporaryDirectory() as folder:
            files = {**corpora(), changed[0]: changed[1]}
            lay_out(Path(folder), {n: c for n, c in files.items() if not n.endswith(".tif") or n in words})
            # A plan that is tried on all its films takes longer than the limit by itself.
            with limited(Path(folder)), mock.patch.object(expected_gain, "FILMS", 3):
                done = run(Path(folder), *words, typed=f"{typed}\n\n\n")
        assert done.returncode in (0, 1, 2, 3)
        assert done.returncode == 0 or done.stdout or done.stderr
        if done.returncode == 2:
            # A slip in usage quotes the person's own words as they were typed.
            return
        assert not {chr(code) for code in (*range(9), *range(11, 32), *range(127, 160))} & set(
            done.stdout + done.stderr
        )

    trial()
    return next(count)


def test_a_command_line_comes_to_an_end_in_words() -> None:
    assert fuzz(25, 1) >= 25


@pytest.mark.slow
def test_a_command_line_comes_to_an_end_in_words_for_long(record_property: Callable[[str, object], None]) -> None:
    ends, inputs = time.monotonic() + LONG, 0
    for seed in itertools.count(FIRST_SEED):
        inputs += fuzz(100, seed)
        if time.monotonic() > ends:
            break
    record_property("inputs", inputs)
    assert inputs
