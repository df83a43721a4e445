"""Encodings against the published curve, and round trips."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import RecordError
from curves.sensitometry.encoding import parse_encoding


def test_srgb_turns_the_published_code_of_mid_grey_back_into_18_percent() -> None:
    # IEC 61966-2-1, by way of a published worked value: 0.18 is encoded as 0.4613561.
    assert parse_encoding("srgb").linearise(0.4613561) == pytest.approx(0.18, abs=1e-7)


@pytest.mark.parametrize("light", [0.0, 0.0031308, 0.5, 1.0])
def test_srgb_undoes_the_curve_of_the_standard(light: float) -> None:
    # IEC 61966-2-1: constants 0.0031308, 12.92, 1.055, 0.055, 2.4.
    encoded = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    assert parse_encoding("sRGB").linearise(encoded) == pytest.approx(light, abs=1e-7)


def test_a_power_is_undone_and_linear_left_alone() -> None:
    values = np.array([[0.0, 0.25], [0.5, 1.0]])
    assert parse_encoding("gamma:2.0").linearise(values) == pytest.approx(values**2)
    assert parse_encoding("linear").linearise(values) is not None
    assert (parse_encoding("linear").linearise(values) == values).all()


def test_nan_and_values_off_the_scale_are_carried_on() -> None:
    found = parse_encoding("srgb").linearise([np.nan, -0.01, 1.02])
    assert np.isnan(found[0])
    assert found[1:].tolist() == [-0.01, 1.02]


@pytest.mark.parametrize("text", ["gamma", "gamma:", "gamma:2,2", "log", "gamma:0.4", "gamma:9"])
def test_an_encoding_that_nobody_knows_is_refused(text: str) -> None:
    with pytest.raises(RecordError) as refusal:
        parse_encoding(text)
    assert "--encoding" in str(refusal.value)
