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
from curves.sensitometry.core.choices import METERED_EXPOSURE, Choices
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip

Q = math.pi / 4 * 0.90 * 0.98 * math.cos(math.radians(10)) ** 4
WORKED_EXPOSURE = Q * 4000.0 / 250.0 / 8.0**2


def middle_ei(choices: Choices) -> float:
    """Return the index that puts mid-grey in the middle of a curve whose middle received the worked exposure."""
    log_h = np.linspace(-3.4, 2.6, 41)  # from the curve's own middle between T and S
    k, dmin, total = 2.6, 0.15, 3.15
    t, s = (math.log(total / net - 1.0) / k for net in (0.20, 2.00))
    density = dmin + total / (1.0 + np.exp(k * (log_h + (t + s) / 2)))
    strip = Strip(
        title="calculated",
        kind="reversal",
        density="visual",
        exposure=GivenExposure(),
        position=log_h + math.log10(WORKED_EXPOSURE),
        readings={"visual": density},
        patches=Patches(fully_exposed={"visual": dmin}, unexposed={"visual": dmin + total}),
        repeatability=0.003,
    )
    ei = analyse(strip, replace(choices, draws=0)).working_ei.criteria["middle"].ei.value
    assert ei is not None
    return ei


def test_the_worked_exposure_is_the_published_one() -> None:
    assert pytest.approx(0.6515748, abs=5e-8) == Q
    assert pytest.approx(0.1628937, abs=5e-8) == WORKED_EXPOSURE


def test_mid_grey_at_the_worked_exposure_has_the_published_index() -> None:
    assert middle_ei(Choices()) == pytest.approx(61.3897, rel=3e-3)


def test_the_reference_exposure_is_10_lux_seconds_by_default() -> None:
    assert Choices().metered_exposure == 10.0
    assert Choices().metered_exposure_source == "ISO 12232"


def test_the_meter_equation_with_k_12_5_gives_8_15_over_the_index() -> None:
    choices = Choices(metered_exposure=METERED_EXPOSURE["ISO 2720"])
    assert choices.metered_exposure == pytest.approx(8.15, abs=0.006)
    assert choices.metered_exposure_source == "ISO 2720"
    assert middle_ei(choices) == pytest.approx(8.15 / 0.1628937, rel=4e-3)
