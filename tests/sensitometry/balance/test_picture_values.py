"""The map of a picture's numbers: through encoding, calibration and tone map, and back."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import StripError
from curves.sensitometry.balance.picture_values import FULL, density_of_light, value_table
from curves.sensitometry.balance.tone import Target, ToneMap, map_of
from curves.sensitometry.core.units import Channel
from curves.sensitometry.scan.density_map import Calibration, fit_map
from curves.sensitometry.scan.encoding import LINEAR, SRGB, parse_encoding

LOG_H = np.linspace(-1.5, 1.5, 301)
SAME = Target("green", "reversal", LOG_H, 1.6 - LOG_H, 1.0, None)


def maps(*offsets: float) -> dict[Channel, ToneMap]:
    names: tuple[Channel, ...] = ("red", "green", "blue")
    return {c: map_of(1.6 - LOG_H + off, SAME) for c, off in zip(names, offsets, strict=True)}


def open_gate(*clear: float) -> Calibration:
    return Calibration(("red", "green", "blue"), np.array(clear), np.zeros(3))


def test_the_srgb_numbers_are_those_of_the_standard() -> None:
    # Published (IEC 61966-2-1): 0.04045 stands for 0.0031308, and the middle of the scale for 0.214041.
    assert SRGB.linearise([0.04045, 0.5]) == pytest.approx([0.0031308, 0.2140411], abs=1e-7)
    assert SRGB.numbers([0.0031308, 0.2140411]) == pytest.approx([0.04045, 0.5], abs=1e-6)


def test_a_film_that_is_neutral_already_keeps_its_numbers() -> None:
    table = value_table(maps(0.0, 0.0, 0.0), open_gate(1.0, 1.0, 1.0), LINEAR)
    numbers = np.arange(FULL + 1)
    dense = numbers > FULL * 10.0**-4.9
    assert np.abs(table.values[dense].astype(int) - numbers[dense, None]).max() <= 1


@pytest.mark.parametrize("encoding", ["linear", "srgb", "gamma:2.2"])
def test_a_cast_in_density_and_in_the_light_of_the_gate_is_gone(encoding: str) -> None:
    rule = parse_encoding(encoding)
    table = value_table(maps(-0.3, 0.0, 0.4), open_gate(0.9, 0.8, 0.7), rule)
    density = 1.2
    light = np.array([0.9, 0.8, 0.7]) * 10.0 ** -(density + np.array([-0.3, 0.0, 0.4]))
    numbers = np.rint(FULL * rule.numbers(light)).astype(np.uint16)
    found = table.applied(numbers[None, None, :])[0, 0]
    assert rule.linearise(found / FULL) == pytest.approx(10.0**-density, rel=3e-3)


def test_numbers_beyond_the_strip_are_known_as_such() -> None:
    table = value_table(maps(0.0, 0.0, 0.0), open_gate(1.0, 1.0, 1.0), LINEAR)
    # The curves run from density 0.1 to 3.1.
    known = [FULL * 10.0**-0.11, FULL * 10.0**-3.0]
    assert not table.beyond[[round(v) for v in known]].any()
    assert table.beyond[[FULL, round(FULL * 10.0**-3.3), 0]].all()


def test_density_goes_on_beyond_a_wedge_and_without_light() -> None:
    known = np.linspace(0.1, 2.5, 13)
    flared = 10.0**-known + 0.002
    one = fit_map(flared, known, 0.005)
    calibration = Calibration(("visual",), np.ones(1), np.zeros(1), (one,))
    found = density_of_light(calibration, np.linspace(0.0, 1.0, 4001))[:, 0]
    assert np.isfinite(found).all()
    assert (np.diff(found) <= 1e-9).all()
    assert found[0] > 3.0
    assert found[-1] == pytest.approx(0.0, abs=0.03)


def test_a_calibration_of_other_channels_is_refused() -> None:
    grey = Calibration(("visual",), np.ones(1), np.zeros(1))
    with pytest.raises(StripError, match="the calibration is for visual"):
        value_table(maps(0.0, 0.0, 0.0), grey, LINEAR)
