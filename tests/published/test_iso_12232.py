"""The focal-plane exposure that an exposure index stands for.

Sources: ISO 12232:2006, focal-plane exposure q L t / N^2 with q = (pi/4) * 0.90 * 0.98 * cos^4(10 degrees) = 0.6515748,
and H = 10 / EI (constants and the worked number read in the documentation of a general colour library: L = 4000 cd/m2,
f/8, 1/250 s -> H = 0.1628937 lux-seconds, EI = 61.3897). ISO 2720: K = 12.5 gives H = 8.15 / S (read and calculated).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis

Q = math.pi / 4 * 0.90 * 0.98 * math.cos(math.radians(10)) ** 4
WORKED_EXPOSURE = Q * 4000.0 / 250.0 / 8.0**2


def analysis_of(choices: Choices) -> Analysis:
    """Return the analysis of a strip the middle of whose curve received the worked exposure."""
    log_h = np.linspace(-3.4, 2.6, 41)  # from the curve's own middle between T and S
    k, dmin, total = 2.6, 0.15, 3.15
    t, s = (math.log(total / net - 1.0) / k for net in (0.20, 2.00))
    density = dmin + total / (1.0 + np.exp(k * (log_h + (t + s) / 2)))
    strip = Strip(
        title="calculated",
        kind="reversal",
        density="visual",
        exposure=GivenExposure("lux-seconds"),
        position=log_h + math.log10(WORKED_EXPOSURE),
        readings={"visual": density},
        patches=Patches(fully_exposed={"visual": dmin}, unexposed={"visual": dmin + total}),
        repeatability=0.003,
    )
    return analyse(strip, replace(choices, draws=0))


def middle_ei(choices: Choices) -> float:
    """Return the index of the middle of the curve."""
    ei = analysis_of(choices).working_ei.criteria["middle"].ei.value
    assert ei is not None
    return ei


def test_the_worked_exposure_is_the_published_one() -> None:
    assert pytest.approx(0.6515748, abs=5e-8) == Q
    assert pytest.approx(0.1628937, abs=5e-8) == WORKED_EXPOSURE


def test_the_middle_of_the_curve_at_the_worked_exposure_has_the_published_index() -> None:
    # The middle is the standard's number, 10 / H, whatever the meter.
    assert middle_ei(Choices()) == pytest.approx(61.3897, rel=3e-3)
    assert middle_ei(Choices(meter_constant=12.5)) == middle_ei(Choices(meter_constant=14.0))


def test_a_tone_that_is_laid_on_the_curve_gets_what_the_meter_gives() -> None:
    # H = k / EI with k = q K: the reference exposure of the standard, 10 lux-seconds, is a meter of K = 15.35.
    constant = 10.0 / Q
    assert constant == pytest.approx(15.35, abs=0.005)
    found = {k: analysis_of(Choices(meter_constant=k)).working_ei.criteria for k in (constant, 12.5)}
    for name in ("highlight", "cleared", "shadow"):
        one, other = (found[k][name].ei.value for k in (constant, 12.5))
        assert one is not None
        assert other is not None
        assert one / other == pytest.approx(constant / 12.5, rel=1e-9)
