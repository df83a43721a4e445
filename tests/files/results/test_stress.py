"""Strips at the ends of what can be read: each number is finite or has a reason, and the JSON is as the schema says."""

from __future__ import annotations

import json

import numpy as np
import pytest

import curves
from curves.errors import StripError
from curves.files.results.content import as_json
from curves.sensitometry.core.choices import Choices
from tests.files.results.schema import faults, schema
from tests.simulate import Array

FEW = Choices(draws=96)


def falling(steps: int) -> Array:
    """Return the densities of a reversal strip whose step 1 got most, without noise (invented)."""
    return 0.1 + 2.9 / (1.0 + np.exp(-np.linspace(-5.0, 5.0, steps)))


def contact(densities: Array, increment: float = 0.15, lux: float = 25.0) -> curves.Strip:
    light, wedge = curves.Contact(lux=lux, seconds=1.6), curves.Wedge.nominal(len(densities), increment)
    return curves.Strip.from_readings(
        densities.tolist(), title="stress", kind="reversal", exposure=light, wedge=wedge, density="visual"
    )


def valid(strip: curves.Strip) -> None:
    """Analyse a strip; what comes of it must be as the schema says, which knows no NaN."""
    content = json.loads(as_json([curves.analyse(strip, FEW)]))
    whole = schema()
    assert list(faults(content, whole["$defs"]["strips"], whole)) == []


@pytest.mark.parametrize("steps", [4, 5, 7, 50, 300, 1000])
def test_any_number_of_steps(steps: int) -> None:
    valid(contact(falling(steps), 3.0 / steps))


@pytest.mark.parametrize("offset", [0.0, -0.1])
@pytest.mark.parametrize("scale", [1.0, 0.0, 1e-9, 0.01, 1.9])
def test_any_range_of_densities(scale: float, offset: float) -> None:
    valid(contact(np.clip(scale * falling(21) + offset, 0.0, 6.0)))


@pytest.mark.parametrize("ends", [(0.0, 6.0), (0.0, 0.0), (6.0, 6.0)])
@pytest.mark.parametrize("break_at", [1, 10, 20])
def test_a_strip_that_is_all_clear_or_all_dense_with_one_edge(ends: tuple[float, float], break_at: int) -> None:
    densities = np.where(np.arange(21) < break_at, *ends)
    valid(contact(densities))


@pytest.mark.parametrize("lux", [1e-11, 1e-6, 1.0, 1e6, 1e11])
def test_any_light(lux: float) -> None:
    valid(contact(falling(21), lux=lux))


@pytest.mark.parametrize("shift", [-12.0, 0.0, 12.0])
@pytest.mark.parametrize("repeats", [1, 3, 30])
def test_log_h_far_away_and_repeats_that_are_all_equal(shift: float, repeats: int) -> None:
    log_h = np.repeat(np.linspace(-1.5, 1.5, 11) + shift, repeats)
    densities = np.repeat(falling(11)[::-1], repeats)
    strip = curves.Strip.from_readings(
        densities.tolist(), title="stress", kind="reversal", exposure=curves.GivenExposure("relative"),
        positions=log_h.tolist(), density="visual",
    )  # fmt: skip
    valid(strip)


def test_a_channel_that_holds_no_reading_is_refused() -> None:
    with pytest.raises(StripError):
        contact(np.full(21, np.nan))
