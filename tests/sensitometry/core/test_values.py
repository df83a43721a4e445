"""What values accept and refuse when they are made, and how they show themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from curves import Camera, Choices, Contact, FilterUsed, Frames, GivenExposure, Patches, Schwarzschild, TableOfTimes
from curves.errors import RecordError, StripError
from curves.sensitometry.core.units import KINDS
from curves.sensitometry.core.values import Bounds, number, numbers, whole, word


def untyped(value: object) -> Any:
    """Return a value of a type that a checker of types would refuse."""
    return value


def refused(make: Callable[[], object]) -> str:
    """Return the words in which something is refused."""
    with pytest.raises(StripError) as caught:
        make()
    return str(caught.value)


@pytest.mark.parametrize(
    "values",
    [
        [0.1, 2, None],
        (0.1, 2.0, float("nan")),
        np.array([0.1, 2.0, np.nan]),
        np.ma.masked_invalid([0.1, 2.0, np.nan]),
        pd.Series([0.1, 2.0, None], index=[7, 8, 9]),
        pd.Series([0.1, 2.0, None], dtype="Float64"),
        pd.Series([0.1, 2, pd.NA], dtype=object),
    ],
    ids=["list", "tuple", "array", "masked array", "series", "nullable series", "series of objects"],
)
def test_every_kind_of_list_becomes_an_array_of_floats(values: Any) -> None:
    found = numbers(values, "density")
    assert found.dtype == np.float64
    assert found[:2].tolist() == [0.1, 2.0]
    assert np.isnan(found[2])
    assert not found.flags.writeable


@pytest.mark.parametrize(
    ("values", "message"),
    [
        (["0.1", 0.2], "density, number 1: '0.1' is not a number"),
        ([0.1, True], "density, number 2: True is not a number"),
        ([0.1, [0.2]], "density, number 2: [0.2] is not a number"),
        (pd.Series(["a", "b"]), "density, number 1: 'a' is not a number"),
        (np.array([True, False]), "density, number 1: "),
        (np.array([1.0 + 2.0j]), "density, number 1: "),
        ([[0.1, 0.2]], "density: the shape is (1, 2)"),
        (0.1, "density: the shape is ()"),
        (None, "density: the shape is ()"),
        ("0.1, 0.2", "density: '0.1, 0.2' is not a list of numbers"),
        ([0.1, -np.inf], "density, number 2: the number is infinite"),
    ],
)
def test_what_is_not_a_list_of_numbers_is_refused_with_its_place(values: Any, message: str) -> None:
    text = refused(lambda: numbers(values, "density"))
    assert text.startswith(message)
    assert "needed: " in text


def test_a_number_is_held_to_its_bounds() -> None:
    assert number(np.float32(0.5), "u", Bounds(least=0.0, below=1.0)) == 0.5
    assert number(np.int64(1), "p", Bounds(above=0.0, most=1.0)) == 1.0
    with pytest.raises(RecordError):
        number(2.0, "u", Bounds(below=1.0), RecordError)


@pytest.mark.parametrize(
    ("value", "within", "needed"),
    [
        (0.0, Bounds(above=0.0), "more than 0"),
        (-0.1, Bounds(least=0.0), "at least 0"),
        (1.0, Bounds(below=1.0), "less than 1"),
        (1.1, Bounds(most=1.0), "at most 1"),
        (2.0, Bounds(above=0.0, below=1.0), "more than 0 and less than 1"),
    ],
)
def test_a_number_out_of_bounds_is_refused_with_what_it_may_be(value: float, within: Bounds, needed: str) -> None:
    assert refused(lambda: number(value, "u", within)) == f"u: {value:g} is out of range; needed: {needed}."


@pytest.mark.parametrize("value", ["0.15", None, True, [0.15], float("nan"), float("inf"), 10**20, 1 + 2j])
def test_what_is_not_a_number_is_refused(value: object) -> None:
    assert refused(lambda: number(value, "lux", Bounds())).startswith("lux: ")


@pytest.mark.parametrize("value", [0, 1.5, float("nan"), float("inf"), "3", None, True])
def test_what_is_not_a_whole_number_is_refused(value: object) -> None:
    assert "needed: a whole number from 1" in refused(lambda: whole(value, "metered_step", least=1))


def test_a_word_that_is_not_known_is_refused_with_the_nearest_that_is() -> None:
    assert word("reversal", KINDS, "kind") == "reversal"
    assert refused(lambda: word("Negative", KINDS, "kind")) == (
        "kind: 'Negative' is not known; needed: \"negative\" or \"reversal\".\nTry: write 'negative'."
    )
    assert refused(lambda: word(3, KINDS, "kind")) == 'kind: 3 is not known; needed: "negative" or "reversal".'


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Contact(0.0, 1.0), "Contact, lux: 0 is out of range"),
        (lambda: Contact(25.0, -1.0), "Contact, seconds: -1 is out of range"),
        (lambda: Contact(25.0, 1.0, uncertainty_stops=-0.1), "Contact, uncertainty_stops: -0.1 is out of range"),
        (lambda: Contact(25.0, 1.0, meter_uncertainty_stops=10.0), "Contact, meter_uncertainty_stops: 10 is out of"),
        (lambda: Contact(25.0, 1.0, evenness_stops=-0.1), "Contact, evenness_stops: -0.1 is out of range"),
        (lambda: Contact(25.0, 1.0, light=untyped(5500)), "Contact, light: 5500 is not a text"),
        (lambda: Camera(0.0, 11), "Camera, ei: 0 is out of range"),
        (lambda: Camera(80.0, 0), "Camera, metered_step: 0 is not a whole number"),
        (lambda: Camera(80.0, 11, offset_stops=20.0), "Camera, offset_stops: 20 is out of range"),
        (lambda: Camera(80.0, 11, offset_stops=-20.0), "Camera, offset_stops: -20 is out of range"),
        (lambda: Camera(80.0, 11, flare=1.0), "Camera, flare: 1 is out of range"),
        (lambda: Camera(80.0, 11, flare_uncertainty=-0.1), "Camera, flare_uncertainty: -0.1 is out of range"),
        (lambda: Frames(-80.0), "Frames, ei: -80 is out of range"),
        (lambda: Frames(80.0, seconds=0.0), "Frames, seconds: 0 is out of range"),
        (lambda: Frames(80.0, frame_uncertainty_stops=10.0), "Frames, frame_uncertainty_stops: 10 is out of range"),
        (lambda: GivenExposure("relative to metered mid-grey", ei=0.0), "GivenExposure, ei: 0 is out of range"),
        (lambda: GivenExposure(ei=80.0), "GivenExposure: log H is relative, and an index was given"),
        (
            lambda: GivenExposure("relative to metered mid-grey"),
            "GivenExposure: log H is relative to metered mid-grey, and no index was given",
        ),
        (lambda: GivenExposure("lux-seconds", 80.0), "GivenExposure: log H is in lux-seconds, and an index was given"),
        (lambda: GivenExposure(untyped("lux seconds")), "GivenExposure, unit: 'lux seconds' is not known"),
        (lambda: Schwarzschild(0.2), "Schwarzschild, p: 0.2 is out of range"),
        (lambda: Schwarzschild(1.01), "Schwarzschild, p: 1.01 is out of range"),
        (lambda: TableOfTimes(untyped(((1.0, 2.0, 3.0), (2.0, 3.0, 4.0)))), "table of times: a row is not a pair"),
        (lambda: Patches(base=untyped({"grean": 0.2})), "Patches, base: 'grean' is not known"),
        (lambda: Patches(unexposed={"green": 15.1}), "Patches, unexposed, green: 15.1 is out of range"),
        (lambda: FilterUsed("orange conversion", factor=0.9), "FilterUsed, factor: 0.9 is out of range"),
        (lambda: FilterUsed("dense", factor=1e5), "FilterUsed, factor: 100000 is out of range"),
        (lambda: FilterUsed("orange", uncertainty_stops=-1.0), "FilterUsed, uncertainty_stops: -1 is out of range"),
        (lambda: Choices(white=-1.0), "Choices, white and shadow: white at -1 is not above shadow at -0.9"),
        (lambda: Choices(white=5.0), "Choices, white: 5 is out of range"),
        (lambda: Choices(shadow=-5.0), "Choices, shadow: -5 is out of range"),
        (lambda: Choices(texture_ends=0.0), "Choices, texture_ends: 0 is out of range"),
        (lambda: Choices(texture_ends=1.0), "Choices, texture_ends: 1 is out of range"),
        (lambda: Choices(detail_ends=0.0), "Choices, detail_ends: 0 is out of range"),
        (lambda: Choices(draws=-1), "Choices, draws: -1 is not a whole number"),
        (lambda: Choices(seed=untyped(0.5)), "Choices, seed: 0.5 is not a whole number"),
        (lambda: Choices(scene_seconds=0.0), "Choices, scene_seconds: 0 is out of range"),
    ],
)
def test_a_value_refuses_what_it_cannot_be(make: Callable[[], object], message: str) -> None:
    assert refused(make).startswith(message)


def test_a_value_shows_only_what_is_not_its_default() -> None:
    assert repr(Choices()) == "Choices()"
    assert repr(Choices(white=0.6, draws=500)) == "Choices(white=0.6, draws=500)"
    assert repr(Contact(2000, 0.02)) == "Contact(lux=2000.0, seconds=0.02)"
    assert repr(Camera(80, 11, flare=0.002)) == "Camera(ei=80.0, metered_step=11, flare=0.002)"
    assert repr(GivenExposure()) == "GivenExposure()"
    assert repr(Patches(base={"visual": 0.21})) == "Patches(base={'visual': 0.21})"
    assert repr(FilterUsed("orange conversion")) == "FilterUsed(name='orange conversion')"


@pytest.mark.parametrize("sign", [1, -1])
def test_a_whole_number_of_fifteen_zeros_is_the_greatest_that_is_taken(sign: int) -> None:
    # A float holds every whole number up to 2^53, about 9 times 10^15.
    assert number(sign * 10**15, "lux", Bounds()) == sign * 1e15
    assert refused(lambda: number(sign * (10**15 + 1), "lux", Bounds())).startswith("lux: the number is too great")


def test_choices_and_filters_near_the_ends_of_their_bounds_are_taken() -> None:
    assert Choices(white=4.9, shadow=-4.9).white == 4.9
    assert Choices(texture_ends=0.01).texture_ends == 0.01
    assert FilterUsed("dense", factor=99_999.0).factor == 99_999.0
    assert FilterUsed("clear", factor=1.0).factor == 1.0
