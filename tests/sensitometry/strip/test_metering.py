"""The constant of a meter where nobody stated it."""

from __future__ import annotations

import pytest

from curves.sensitometry.strip.metering import (
    CONSTANT_HALF_WIDTH,
    USUAL_CONSTANT,
    constant_of,
    metered_exposure,
)


def test_a_constant_that_is_not_stated_reaches_just_to_the_two_that_meters_are_built_with() -> None:
    # ISO 2720 and common practice: K is 12.5 or 14, which lie 0.16 stop apart.
    ends = [USUAL_CONSTANT * 2.0**stops for stops in (-CONSTANT_HALF_WIDTH, CONSTANT_HALF_WIDTH)]
    assert ends == pytest.approx([12.5, 14.0])


def test_the_exposure_of_mid_grey_tells_the_constant_again() -> None:
    # By hand, ISO 2720 and ISO 12232: k = 0.6516 times 12.5 is 8.145 lux-seconds.
    assert metered_exposure(12.5) == pytest.approx(8.145)
    assert constant_of(8.145) == pytest.approx(12.5)
    assert constant_of(metered_exposure()) == pytest.approx(USUAL_CONSTANT)
