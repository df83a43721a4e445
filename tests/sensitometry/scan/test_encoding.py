"""Encodings against the published curve, and round trips."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import RecordError
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.scan.encoding import Encoding, parse_encoding, signs_of_encoding


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
    assert refusal.value.settings == ("encoding",)


def photographed(count: int = 200_000, bits: int = 14) -> FloatArray:
    """Return light of film between densities 0 and 3, counted by a converter of so many bits [of full scale]."""
    rng = np.random.default_rng(1)
    light = 0.9 * 10.0 ** -rng.uniform(0.0, 3.0, count)
    counted: FloatArray = np.rint(light * 2**bits) / 2**bits
    return counted


def encoded(light: FloatArray) -> FloatArray:
    found: FloatArray = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    )
    return found


def test_codes_that_an_encoding_drew_apart_are_seen() -> None:
    codes = np.rint(65535 * encoded(photographed())).astype(np.uint16)
    assert "as an encoding leaves them" in signs_of_encoding(codes, 16)


def test_light_in_proportion_shows_no_sign() -> None:
    for bits in (10, 12, 14, 16):
        codes = np.rint(65535 * photographed(bits=bits)).astype(np.uint16)
        assert signs_of_encoding(codes, 16) == ""


def test_codes_that_are_merely_few_show_no_sign() -> None:
    few = np.repeat(np.random.default_rng(3).choice(photographed(bits=16), 900, replace=False), 500)
    assert signs_of_encoding(np.rint(65535 * few).astype(np.uint16), 16) == ""


def test_eight_bits_are_doubted_even_inside_sixteen() -> None:
    eight = np.rint(255 * encoded(photographed())).astype(np.uint8)
    assert "8 bits" in signs_of_encoding(eight, 8)
    assert "made from 8 bits" in signs_of_encoding(eight.astype(np.uint16) * 257, 16)


@pytest.mark.parametrize("text", ["gamma:2.2", "gamma:2.20", " Gamma:02.2 "])
def test_an_exponent_written_in_several_ways_is_one_encoding(text: str) -> None:
    assert parse_encoding(text) == Encoding("gamma:2.2", 2.2)


def test_few_codes_are_counted_in_what_is_said_of_them() -> None:
    codes = np.random.default_rng(2).integers(0, 100, 40_000).astype(np.uint16) * 257
    assert signs_of_encoding(codes, 16).startswith("only 100 of its 65536 codes are in use")
