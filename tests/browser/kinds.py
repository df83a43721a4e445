"""Every kind of page that the tool writes, with titles of the test's choice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from curves import Choices, analyse, load_strip
from curves.app.blank_sheet import blank_sheet
from curves.app.pictures.balance_job import BalancedPicture, balance_notes
from curves.files.filters.drawer import read_drawer
from curves.files.results.content import strip_content
from curves.sensitometry.balance.neutral import balance_of
from curves.sensitometry.comparison.differences import Tolerances, compare_strips
from curves.sensitometry.control.watch import watch_process
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.prediction import ideal_pack
from curves.sensitometry.filters.stacks import find_stacks
from curves.sensitometry.grain.comparison import compare_films
from curves.sensitometry.series.strips import strip_series
from curves.sensitometry.uncertainty.results import Analysis
from curves.views.many.archive import archive_page
from curves.views.many.comparison import comparison_page
from curves.views.many.control import control_page
from curves.views.many.series_page import series_page
from curves.views.pages.card import card
from curves.views.pages.filters import filters_page
from curves.views.pages.reading_sheet import reading_sheet
from curves.views.pages.report import report_page
from curves.views.pictures.balance import balance_page
from curves.views.pictures.grain import grain_page
from curves.views.pictures.scan import patches_page
from curves.views.plans.checklist import checklist
from tests.draws import NO_DRAWS
from tests.grain_demo import film
from tests.simulate import FOLDER
from tests.views import sample
from tests.views.pictures.test_patches_page import SHOWN
from tests.views.plans.test_checklist import FACTS, roll

_FEW = Choices(draws=100, most_draws=0)


@cache
def _read(name: str, choices: Choices = _FEW) -> Analysis:
    """Return the results of a demo strip."""
    return analyse(load_strip(FOLDER / f"{name}.toml"), choices)


def _titled(analysis: Analysis, title: str) -> Analysis:
    """Return results whose strip bears the title wherever it can."""
    return replace(analysis, strip=replace(analysis.strip, title=title, film=title, process=title, reader=title))


def _two(title: str) -> list[Analysis]:
    return [_titled(_read(name), title) for name in ("times/first-500", "times/first-1000")]


def _filters(title: str) -> str:
    analysis = _titled(_read("heron-reversal"), title)
    bare = BareStrip.of(analysis, _FEW, "net")
    return filters_page(analysis, bare, ideal_pack(bare), find_stacks(bare, read_drawer(FOLDER / "drawer.csv"), most=1))


def _grain(title: str) -> str:
    films = [film(f"{title}{n}", 10.0, seed=n, samples=3, side=200) for n in (1, 2)]
    return grain_page(films, compare_films(films))


def _control(title: str) -> str:
    runs = [_read(f"control/{path.stem}", NO_DRAWS) for path in sorted((FOLDER / "control").glob("*.toml"))]
    return control_page(watch_process([_titled(one, title) for one in runs], 10))


def _archive(title: str) -> str:
    return archive_page([(title, strip_content(one)) for one in _two(title)])


def _blank(title: str) -> str:
    return reading_sheet(replace(blank_sheet(Path("absent.toml"), None, None), title=title), title)


def _bracket(title: str, *, small: bool) -> str:
    return checklist(roll(), {**FACTS, "title": title, "film": title, "process": title}, "roll-1", small=small)


def _balance(title: str) -> str:
    found = balance_of(_titled(_read("heron-reversal"), title))
    light = np.random.default_rng(5).uniform(0.0, 1.0, (40, 60, 3))
    picture = BalancedPicture(Path(title[:200]), Path(title[:200]), light, light[::-1], {"red": 0.1}, title)
    return balance_page(found, balance_notes(found, picture), picture)


KINDS: Mapping[str, Callable[[str], str]] = {
    "report": lambda title: report_page([_titled(sample.colour_reversal(), title)]),
    "filters": _filters,
    "patches": lambda title: patches_page(replace(SHOWN, title=title, image=title, kept=title)),
    "grain": _grain,
    "comparison": lambda title: comparison_page(compare_strips(_two(title)), Tolerances(), "log-h"),
    "control": _control,
    "series": lambda title: series_page(strip_series(_two(title), "first_developer_minutes")),
    "archive": _archive,
    "bracket": lambda title: _bracket(title, small=False),
    "bracket on A6": lambda title: _bracket(title, small=True),
    "card": lambda title: card(_titled(sample.colour_reversal(), title), title),
    "balance": _balance,
    "blank sheet": _blank,
}
"""The page of each kind by its title."""


@cache
def page_of(kind: str, title: str) -> str:
    """Return the page of a kind with a title, made once for all tests."""
    return KINDS[kind](title)
