"""`analyse` runs under any engine that maps a function over values: strip and analysis travel between processes."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial

import pytest

import curves
from curves.files.results.content import as_json
from tests.simulate import FOLDER

NAMES = ("heron-reversal", "heron-negative", "wren-reversal")
FEW = curves.Choices(draws=100, most_draws=100)


@pytest.fixture(params=[ProcessPoolExecutor, ThreadPoolExecutor])
def engine(request: pytest.FixtureRequest) -> Iterator[Executor]:
    """Give an engine with the executor interface of the standard library, as clusters of machines offer it too."""
    with request.param(2) as found:
        yield found


def test_strips_analysed_by_an_engine_have_the_numbers_that_they_have_one_by_one(engine: Executor) -> None:
    strips = [curves.load_strip(FOLDER / f"{name}.toml") for name in NAMES]
    found = list(engine.map(partial(curves.analyse, choices=FEW), strips))
    assert as_json(found) == as_json([curves.analyse(strip, FEW) for strip in strips])
