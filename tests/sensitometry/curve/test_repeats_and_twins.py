"""Suspicions about repeats and about one patch read twice; the swap search against a plain one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.checks.suspicion import _best_swap, _roughness, suspicions
from curves.sensitometry.core.units import Channel, FloatArray
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from tests.sensitometry.shapes import slide

COLOURS: tuple[Channel, ...] = ("red", "green", "blue")


def clean(seed: int, noise: float, channels: tuple[Channel, ...] = COLOURS, steps: int = 21) -> Strip:
    rng = np.random.default_rng(seed)
    wedge = Wedge.nominal(steps, 3.0 / (steps - 1))
    log_h = 0.2 - wedge.density
    readings: dict[Channel, FloatArray] = {}
    for channel in channels:
        curve = slide(log_h, centre=rng.uniform(-1.8, -1.0), dmin=rng.uniform(0.1, 0.5), height=rng.uniform(1.5, 3.0))
        readings[channel] = np.round(curve + noise * rng.standard_normal(steps), 2)
    return Strip("invented", "reversal", "status A", Contact(25.0, 0.02), np.arange(1.0, steps + 1), readings, wedge)


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.02, 0.03])
@pytest.mark.parametrize("steps", [11, 21, 31])
@pytest.mark.parametrize("channels", [("visual",), COLOURS], ids=["one", "three"])
def test_clean_strips_of_any_layers_are_not_suspected(noise: float, steps: int, channels: tuple[Channel, ...]) -> None:
    alarms = sum(bool(suspicions(clean(seed, noise, channels, steps))) for seed in range(100))
    assert alarms == 0


@pytest.mark.parametrize(
    "order",
    [[*range(1, 22), 15, 16], [*range(1, 22), *range(21, 0, -1)], [1, 2, 3, 4, 4, 3, 2, 1, 5, 6, 7, 8]],
    ids=["two steps again", "there and back", "the first four back"],
)
def test_reading_steps_again_is_no_disorder(order: list[int]) -> None:
    good = clean(1, 0.01)
    rows = np.array(order) - 1
    again = replace(
        good,
        position=good.position[rows],
        readings={c: v[rows] for c, v in good.readings.items()},
        labels=tuple(good.labels[i] for i in rows),
    )
    assert [n.code for n in suspicions(again)] == []


@pytest.mark.parametrize("step", [9, 10, 11])
def test_a_patch_read_twice_where_the_strip_is_steep_is_named(step: int) -> None:
    readings = {c: v.copy() for c, v in clean(3, 0.0).readings.items()}
    for channel, values in readings.items():
        # Step n was read for steps n and n + 1; everything after it is one row late.
        values[step:] = clean(3, 0.0).readings[channel][step - 1 : -1]
    (notice,) = suspicions(replace(clean(3, 0.0), readings=readings))
    assert (notice.code, notice.step) == ("read-twice", step + 1)
    assert f"step {step} and step {step + 1} read alike" in notice.message


def test_the_swap_search_finds_what_trying_every_part_finds() -> None:
    found = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        strip = clean(seed, 0.013)
        a, b = strip.readings["red"].copy(), strip.readings["green"].copy()
        start = int(rng.integers(0, 18))
        part = slice(start, start + int(rng.integers(1, 9)))
        a[part], b[part] = b[part].copy(), a[part].copy()
        expected = try_every_part(a, b)
        assert _best_swap(a, b) == expected
        found += expected is not None
    assert found > 20


def try_every_part(a: FloatArray, b: FloatArray) -> tuple[int, int] | None:
    before = _roughness(a) + _roughness(b)
    best, gain = None, max(0.20, 0.4 * before)
    for start, end in itertools.combinations(range(a.size + 1), 2):
        if end - start > a.size // 2:
            continue
        c, d = a.copy(), b.copy()
        c[start:end], d[start:end] = b[start:end], a[start:end]
        saved = before - _roughness(c) - _roughness(d)
        # Parts that save the same but for rounding: the first one counts.
        if saved > gain + 1e-12:
            best, gain = (start, end), saved
    return best
