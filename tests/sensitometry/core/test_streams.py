"""Random numbers are those of what they stand for, however it was written down or computed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from curves import Strip, load_strip
from curves.sensitometry.core.streams import identity, stream
from curves.sensitometry.uncertainty.sources import Errors
from tests.simulate import FOLDER


def test_numbers_are_named_alike_when_they_differ_by_rounding_only() -> None:
    assert identity(np.array([0.1 + 0.2, -1e-17, 3.0])) == identity(np.array([0.3, 0.0, 3.0 - 1e-15]))
    assert identity(np.array([-np.nan, -0.0])) == identity(np.array([np.nan, 0.0]))


@pytest.mark.parametrize("other", [[0.31001, 1.0], [1.0, 0.31], [0.31], [np.nan, 1.0]])
def test_numbers_that_a_reader_tells_apart_are_named_apart(other: list[float]) -> None:
    assert identity(np.array(other)) != identity(np.array([0.31, 1.0]))


def test_a_stream_is_that_of_its_words() -> None:
    one, same, apart = (stream(1, *words).random(3) for words in (("wedge", "a"), ("wedge", "a"), ("wedge", "b")))
    assert np.array_equal(one, same)
    assert not np.isclose(one, apart).any()


def _computed_elsewhere(strip: Strip) -> Strip:
    """Return a strip whose numbers are off by what another order of sums leaves."""
    assert strip.wedge is not None
    readings = {channel: values * (1.0 + 2e-16) for channel, values in strip.readings.items()}
    return replace(strip, readings=readings, wedge=replace(strip.wedge, density=strip.wedge.density + 1e-15))


@pytest.mark.parametrize("name", ["heron-reversal", "heron-filtered", "wren-reversal"])
def test_a_strip_computed_elsewhere_draws_the_same_errors(name: str) -> None:
    strip = load_strip(FOLDER / f"{name}.toml")
    one, other = (Errors.of(each, 16, 3) for each in (strip, _computed_elsewhere(strip)))
    assert set(one.sources) == set(other.sources)
    assert {key: source.belongs_to for key, source in one.sources.items()} == {
        key: source.belongs_to for key, source in other.sources.items()
    }


def test_a_wedge_by_steps_is_the_wedge_of_its_list() -> None:
    # 0.15 from step to step is not a binary number: a sum and a product differ in the last bit.
    by_product = np.array([0.05 + 0.15 * step for step in range(21)])
    by_sum = np.cumsum(np.array([0.05, *[0.15] * 20]))
    assert not np.array_equal(by_product, by_sum)
    assert identity(by_product) == identity(by_sum)
