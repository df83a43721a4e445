"""A control strip read in a training manual.

Source: NAVEDTRA 14209, a training manual of the US Navy, public domain (read): base plus fog 0.12; steps 4, 6 and 17
read 0.23, 0.60 and 1.20; the speed step is the one nearest 0.10 above gross fog. Its steps are counted from the least
exposed one; that they are 0.15 apart is common practice, and the manual gives no other step.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from tests.draws import NO_DRAWS

GROSS_FOG = 0.12
MANUAL = {4: 0.23, 6: 0.60, 17: 1.20}
INVENTED = {1: 0.12, 2: 0.13, 3: 0.16, 5: 0.40, 9: 0.87, 13: 1.07}
"""Steps between, so that there is a curve to fit: invented."""


@pytest.mark.parametrize("more", [{1: 0.12}, INVENTED], ids=["the manual's steps", "with steps between"])
def test_the_speed_point_falls_on_the_manuals_speed_step(more: dict[int, float]) -> None:
    readings = dict(sorted({**MANUAL, **more}.items()))
    numbers = np.array(list(readings), dtype=np.float64)
    found = analyse(
        Strip(
            title="control strip",
            kind="negative",
            density="visual",
            exposure=GivenExposure("lux-seconds"),
            position=0.15 * numbers - 3.0,
            readings={"visual": np.array(list(readings.values()))},
            patches=Patches(unexposed={"visual": GROSS_FOG}),
        ),
        NO_DRAWS,
    ).channels["visual"]
    speed_step = min(MANUAL, key=lambda step: abs(MANUAL[step] - (GROSS_FOG + 0.10)))
    assert speed_step == 4
    point = found.points["speed"]
    assert point.density == pytest.approx(0.22, abs=1e-3)
    assert point.log_h.value is not None
    step = (point.log_h.value + 3.0) / 0.15
    assert step == pytest.approx(speed_step, abs=0.25)
