"""Readings of a light as densities; formulas by the definitions of density (-log10 of transmittance) and of a stop."""

import math

import pytest

from curves.errors import StripError
from curves.sensitometry.core.reader_units import ReaderScale, ReaderUnit, exact_seconds, marked_seconds


@pytest.mark.parametrize(
    ("scale", "reading", "density"),
    [
        (ReaderScale("density"), 1.25, 1.25),
        (ReaderScale("stops"), 1.0, math.log10(2)),
        (ReaderScale("stops", 0.5), 4.5, 4 * math.log10(2)),
        (ReaderScale("ev", 14.0), 11.0, 3 * math.log10(2)),
        (ReaderScale("percent"), 10.0, 1.0),
        (ReaderScale("percent", 50.0), 5.0, 1.0),
        (ReaderScale("seconds", 1 / 1000), 1 / 125, 3 * math.log10(2)),
    ],
)
def test_a_reading_stands_for_the_density_of_its_share_of_the_light(
    scale: ReaderScale, reading: float, density: float
) -> None:
    assert scale.density(reading, "step 1") == pytest.approx(density, abs=1e-12)


# From the definition of the series: full stops are powers of two of a second; common practice marks them so.
@pytest.mark.parametrize(("marked", "exact"), [(1 / 15, 1 / 16), (1 / 60, 1 / 64), (1 / 125, 1 / 128), (30.0, 32.0)])
def test_a_marked_time_stands_for_its_exact_place(marked: float, exact: float) -> None:
    assert exact_seconds(marked) == pytest.approx(exact)


def test_a_time_between_the_marks_stays_as_it_is() -> None:
    assert exact_seconds(0.0222) == pytest.approx(2**-5.5, rel=0.01)
    assert exact_seconds(0.0181) == 0.0181


@pytest.mark.parametrize("density", [0.1, 1.0, 2.5])
def test_stated_flare_is_taken_out(density: float) -> None:
    flare = 0.002
    shown = -math.log2((10**-density + flare) / (1 + flare))
    assert ReaderScale("stops", flare=flare).density(shown, "step 1") == pytest.approx(density)


def test_light_below_the_flare_is_refused() -> None:
    with pytest.raises(StripError, match="no more light than the flare"):
        ReaderScale("stops", flare=0.01).density(9.0, "step 1")


@pytest.mark.parametrize("unit", ["ev", "seconds"])
def test_exposure_values_and_times_need_the_open_gate(unit: ReaderUnit) -> None:
    with pytest.raises(StripError, match="open gate is missing"):
        ReaderScale(unit)


def test_a_light_of_nothing_is_refused() -> None:
    with pytest.raises(StripError, match="out of range"):
        ReaderScale("percent").density(0.0, "step 1")


@pytest.mark.parametrize("stretch", [1.0, 1.05])
@pytest.mark.parametrize(("unit", "gate"), [("stops", 0.5), ("ev", 14.0), ("seconds", 1 / 1000), ("percent", 50.0)])
def test_the_reading_of_a_density_stands_for_that_density(unit: ReaderUnit, gate: float, stretch: float) -> None:
    scale = ReaderScale(unit, gate, flare=0.001, stretch=stretch)
    for density in (0.0, 0.3, 2.2):
        assert scale.density(scale.reading(density), "step 1") == pytest.approx(density, abs=1e-12)
    assert math.isnan(scale.reading(math.nan))


# By the series of shutters: 1/64 second is marked 1/60, 2 seconds are 2; 0.0181 second has no mark.
@pytest.mark.parametrize(
    ("exact", "marked"), [(1 / 64, "1/60"), (2.0, "2"), (2 ** (-1 / 3), "1/1.25"), (0.0181, "0.0181")]
)
def test_a_time_is_shown_as_a_shutter_marks_it(exact: float, marked: str) -> None:
    assert marked_seconds(exact) == marked


def test_a_reading_is_shown_as_its_instrument_shows_it() -> None:
    tenth = 1.0
    assert ReaderScale("stops").reading_text(tenth) == "3.32"
    assert ReaderScale("percent").reading_text(tenth) == "10"
    assert ReaderScale("seconds", 1 / 1000).reading_text(3 * math.log10(2)) == "1/125"
    assert ReaderScale("stops").reading_text(math.nan) == "-"
