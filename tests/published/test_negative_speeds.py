"""Speeds of negative films.

Sources: ISO 6 (S = 0.8 / Hm at Dmin + 0.10, contrast 0.80 over 1.30 log H: read; its tolerance from memory), ISO 5800
(rule from memory), the academy's universal negative (points read), the quick form of the fractional gradient (from
memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.units import STOP, Channel, DensityKind, FloatArray
from curves.sensitometry.measures.speeds import delta_x
from curves.sensitometry.strip.exposure import GivenExposure, LogHUnit
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis
from tests.draws import NO_DRAWS

LOG_H = np.linspace(-4.2, -0.3, 27)


def toe(log_h: FloatArray, slope: float, start: float) -> FloatArray:
    """Return a straight line of ``slope`` from ``start``, with a soft toe."""
    return np.asarray(0.10 + slope * 0.15 * np.logaddexp(0.0, (log_h - start) / 0.15))


def analysed(
    readings: dict[Channel, FloatArray],
    density: DensityKind,
    log_h: FloatArray = LOG_H,
    ei: float | None = None,
    fog: float = 0.10,
) -> Analysis:
    patches = Patches(unexposed=dict.fromkeys(readings, fog))
    unit: LogHUnit = "lux-seconds" if ei is None else "relative to metered mid-grey"
    return analyse(
        Strip(
            "calculated",
            "negative",
            density,
            GivenExposure(unit, ei, seconds=0.02, light="daylight 5500 K"),
            log_h,
            readings,
            patches=patches,
            repeatability=0.003,
            process="calculated",
            sample="calculated",
        ),
        NO_DRAWS,
    )


def start_for(hm: float, slope: float, net: float) -> float:
    """Return where a toe must start so that ``net`` density is reached at ``hm`` lux-seconds (inverse of `toe`)."""
    return math.log10(hm) - 0.15 * math.log(math.expm1(net / (slope * 0.15)))


def slope_of_iso_contrast() -> float:
    """Return the slope at which a soft toe gains 0.80 over 1.30 log H from net density 0.10."""

    def gain(slope: float) -> float:
        x = start_for(1.0, slope, 0.10)
        return float((toe(np.array([1.30]), slope, x) - toe(np.array([0.0]), slope, x))[0])

    low, high = 0.3, 2.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if gain(middle) < 0.80 else (low, middle)
    return low


# ISO 6: speed 125 is Hm = 0.0064 lux-seconds; 0.008 lux-seconds is 21 degrees, speed 100 (read).
@pytest.mark.parametrize(("hm", "nominal", "degrees"), [(0.0064, 125, 22), (0.008, 100, 21)])
def test_iso_6_at_the_standards_contrast_conforms(hm: float, nominal: int, degrees: int) -> None:
    slope = slope_of_iso_contrast()
    found = analysed({"visual": toe(LOG_H, slope, start_for(hm, slope, 0.10))}, "visual").speeds["iso_6"]
    assert found.value.value == pytest.approx(0.8 / hm, rel=0.02)
    assert (found.nominal, found.degrees) == (nominal, degrees)
    assert found.conforms, found.why_not


def test_iso_6_at_another_contrast_says_so() -> None:
    found = analysed({"visual": toe(LOG_H, 0.9, -2.2)}, "visual").speeds["iso_6"]
    assert not found.conforms
    assert any("the standard asks for 0.80 ± 0.05 over 1.30 log H" in reason for reason in found.why_not)


def test_iso_6_on_a_stand_in_channel_and_a_metered_exposure_names_both() -> None:
    found = analysed({"green": toe(LOG_H, 0.65, -2.2)}, "status M", ei=100.0).speeds["iso_6"]
    assert any("status M green density stands in for visual density" in reason for reason in found.why_not)
    assert any("it rests on the meter" in reason for reason in found.why_not)


def test_the_academy_negative_gains_0_669_and_so_has_no_iso_6_speed() -> None:
    # Points of the universal negative (read); 1.30 beyond D 0.10 the density is 0.66865 (calculated from them).
    log_e = [
        -2.721719,
        -2.521719,
        -2.321719,
        -2.121719,
        -1.921719,
        -1.721719,
        -1.521719,
        -1.321719,
        -1.121719,
        -0.926546,
    ]
    density = [0.01, 0.028, 0.054, 0.095, 0.145, 0.22, 0.30, 0.40, 0.50, 0.60]
    line = np.arange(0.70, 2.01, 0.1)
    x = np.r_[log_e, line / 0.55 - 2.0174548]
    found = analysed({"visual": np.r_[density, line]}, "visual", x, fog=0.0).speeds["iso_6"]
    assert found.value.value == pytest.approx(0.8 / 10**-2.101719, rel=0.03)
    assert "density gains 0.57" in " ".join(found.why_not)


def test_iso_5800_of_equal_layers_at_0_014142_lux_seconds_is_100() -> None:
    # ISO 5800 rule from memory: ISO 100 is Hm = 0.014142 lux-seconds (calculated).
    curve = toe(LOG_H, 0.6, start_for(0.014142, 0.6, 0.15))
    found = analysed({"red": curve, "green": curve, "blue": curve}, "status M").speeds["iso_5800"]
    assert found.value.value == pytest.approx(100.0, rel=0.02)
    assert (found.nominal, found.conforms) == (100, True)


def test_iso_5800_takes_the_mean_of_green_and_the_slowest_layer() -> None:
    start = start_for(0.014142, 0.6, 0.15)
    layers: dict[Channel, FloatArray] = {
        "red": toe(LOG_H, 0.6, start + 0.2),
        "green": toe(LOG_H, 0.6, start),
        "blue": toe(LOG_H, 0.6, start - 0.2),
    }
    found = analysed(layers, "status M").speeds["iso_5800"]
    assert found.value.value == pytest.approx(100.0 / 10**0.1, rel=0.02)
    assert "the slowest layer, red" in found.branch


def test_iso_5800_in_another_density_says_so() -> None:
    curve = toe(LOG_H, 0.6, -2.0)
    found = analysed({"red": curve, "green": curve, "blue": curve}, "status A").speeds["iso_5800"]
    assert found.why_not == ("density is status A, the standard asks for status M",)


# Quick form, from memory: gain 0.60 to 1.00 gives these distances (calculated).
@pytest.mark.parametrize(
    ("gain", "distance"), [(0.60, 0.4004), (0.70, 0.3456), (0.80, 0.2956), (0.90, 0.2504), (1.00, 0.2100)]
)
def test_the_quick_form_of_the_fractional_gradient(gain: float, distance: float) -> None:
    assert delta_x(gain) == pytest.approx(distance, abs=5e-5)
    assert delta_x([gain, np.nan])[0] == pytest.approx(distance, abs=5e-5)


def test_the_fractional_gradient_point_has_0_3_of_the_mean_gradient_that_follows() -> None:
    # From the definition: on a soft toe of slope g the gradient is g / (1 + exp(-z)).
    slope, start = 0.65, -2.3
    found = analysed({"visual": toe(LOG_H, slope, start)}, "visual").speeds["fractional_gradient"]
    x = np.linspace(-3.5, -2.0, 150001)
    gradient = slope / (1.0 + np.exp(-(x - start) / 0.15))
    mean = (toe(x + 1.5, slope, start) - toe(x, slope, start)) / 1.5
    point = float(x[(gradient >= 0.3 * mean).argmax()])
    assert found.value.value == pytest.approx(0.8 / 10 ** (point + 0.2956), rel=0.06)


@pytest.mark.parametrize("name", ["iso_6", "fractional_gradient"])
def test_speeds_double_when_every_exposure_halves(name: str) -> None:
    curve = toe(LOG_H, 0.65, -2.2)
    here, there = (analysed({"visual": curve}, "visual", x).speeds[name] for x in (LOG_H, LOG_H - STOP))
    assert here.value.value is not None
    assert there.value.value == pytest.approx(2.0 * here.value.value, rel=1e-6)


@pytest.mark.parametrize("name", ["iso_6", "fractional_gradient"])
def test_a_point_off_the_strip_gives_a_bound_and_no_nominal_speed(name: str) -> None:
    high = LOG_H[LOG_H > -2.3]
    found = analysed({"visual": toe(high, 0.65, -3.0)}, "visual", high).speeds[name]
    assert found.value.value is None
    assert found.nominal is None
    assert found.value.bound is not None
    assert found.value.bound[0] == ">"
    assert not found.conforms
