"""Exposure meters and what they give the film.

Sources: ISO 2720: N^2 / t = L S / K and N^2 / t = E S / C, K = 12.5 and C = 250 in common use; K 12.5 gives
H = 8.15 / S and K 14 gives 9.12 / S at the film plane (read and calculated). From memory: exposure value 15 at ISO 100
is 4096 cd/m2; the rule of full sun, f/16 at the reciprocal of the speed; that the two constants suit a card of 16 %, so
that one of 18 % comes out a fifth of a stop brighter; that the speed point lies 3 1/3 stops below what the meter read.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.core.units import STOP, exact_ei
from curves.sensitometry.planning.light import by_card, by_incident_meter, exposure_value, luminance
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.metering import BUILT_CONSTANTS, constant_of, metered_exposure
from curves.sensitometry.strip.wedge import Wedge

K, C = 12.5, 250.0
Q = math.pi / 4 * 0.90 * 0.98 * math.cos(math.radians(10)) ** 4
"""Focal-plane factor of ISO 12232 (read)."""
METERED = metered_exposure(K)


def at_the_film(luminance: float, aperture: float, seconds: float) -> float:
    """Return the exposure behind the clear step of a wedge in the film plane of a camera [lux-seconds]."""
    contact = Contact(lux=Q * luminance / aperture**2, seconds=seconds)
    return float(10.0 ** contact.log_h(np.array([1.0]), Wedge.nominal(2, 0.30, first=0.0))[0])


@pytest.mark.parametrize(("k", "exposure"), [(12.5, 8.15), (14.0, 9.12)])
def test_a_meter_constant_gives_its_exposure_over_the_index(k: float, exposure: float) -> None:
    assert metered_exposure(k) == pytest.approx(exposure, abs=0.006)
    assert constant_of(metered_exposure(k)) == pytest.approx(k)


def test_without_a_stated_constant_the_middle_of_the_built_ones_is_taken() -> None:
    # Calculated: 0.6516 * sqrt(12.5 * 14) is 8.62, and either meter is 0.08 stop off.
    assert metered_exposure() == pytest.approx(8.62, abs=0.005)
    for built in BUILT_CONSTANTS:
        off = math.log10(metered_exposure(built) / metered_exposure()) / STOP
        assert abs(off) == pytest.approx(0.082, abs=0.001)


def test_exposure_value_15_at_100_is_4096_candelas_and_the_metered_exposure() -> None:
    luminance = K * 2.0**15 / 100.0
    assert luminance == pytest.approx(4096.0)
    for aperture in (4.0, 8.0, 16.0):
        given = at_the_film(luminance, aperture, aperture**2 / 2.0**15)
        assert given == pytest.approx(METERED / 100.0, rel=1e-3)


@pytest.mark.parametrize("dial", [25, 50, 100, 200, 400])
def test_full_sun_is_f_16_at_the_reciprocal_of_the_speed(dial: float) -> None:
    # Calculated: K * 16^2 is 3200 cd/m2, whatever the film.
    ei = float(exact_ei(dial))
    assert at_the_film(3200.0, 16.0, 1.0 / ei) == pytest.approx(METERED / ei, rel=1e-3)


def test_an_incident_meter_gives_an_18_percent_card_a_fifth_of_a_stop_more() -> None:
    # Calculated: E = C N^2 / (t S) on the card, whose luminance is E R / pi.
    illuminance = C * 16.0**2 / (0.01 * 100.0)
    card = at_the_film(illuminance * 0.18 / math.pi, 16.0, 0.01)
    assert math.log10(card / (METERED / 100.0)) / STOP == pytest.approx(0.2, abs=0.01)
    agreeing = at_the_film(illuminance * 0.157 / math.pi, 16.0, 0.01)
    assert agreeing == pytest.approx(METERED / 100.0, rel=2e-3)


def test_the_speed_point_lies_3_and_a_third_stops_below_the_metered_tone() -> None:
    # ISO 6: 0.8 / S at the speed point.
    assert math.log10(METERED / 0.8) / STOP == pytest.approx(10 / 3, abs=0.03)


def test_exposure_value_15_at_100_is_81920_lux_of_incident_light() -> None:
    # Calculated: C 2^15 / 100; a sunny day has 80,000 to 100,000 lux (from memory).
    assert by_incident_meter(15.0).lux == pytest.approx(81920.0)
    assert luminance(15.0, K) == pytest.approx(4096.0)


def test_a_meter_s_setting_and_its_exposure_value_are_the_same_light() -> None:
    # Calculated: N^2 / t = E S / C with f/8, 1/50 s, S = 64 gives E = 250 * 64 * 50 / 64 = 12500 lux.
    assert by_incident_meter(exposure_value(8.0, 1 / 50.0, 64.0)).lux == pytest.approx(12500.0)


def test_both_kinds_of_meter_agree_on_a_card_of_15_7_percent() -> None:
    # Calculated: E = C 2^EV / 100 = pi K 2^EV / (100 R) where R = pi K / C = 0.157.
    for ev in (3.0, 9.0):
        assert by_card(ev, math.pi * K / C, K).lux == pytest.approx(by_incident_meter(ev).lux)


def test_a_card_of_18_percent_is_read_back_to_the_light_on_it() -> None:
    # Calculated: 1000 lux on the card are 57.3 cd/m2, which a meter of K = 12.5 shows as EV 8.84 at 100.
    bright = 1000.0 * 0.18 / math.pi
    shown = math.log2(100.0 * bright / K)
    assert shown == pytest.approx(8.84, abs=0.005)
    assert by_card(shown, 0.18, K).lux == pytest.approx(1000.0)
