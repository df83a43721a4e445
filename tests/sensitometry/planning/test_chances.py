"""First strips hold the curves of films made by other code, as often as the plan says.

A small form of `tests.bench.planning`, whose count over 300 films stands in the manual.
"""

from __future__ import annotations

import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.strip.wedge import Wedge
from tests.bench.planning import MAKERS, count


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("off", [2.0, 5.0])
def test_first_strips_hold_the_curve_as_often_as_they_say(kind: Kind, off: float) -> None:
    found = count(kind, 60, off, Wedge.nominal(21, 0.15))
    assert found.held >= 0.90
    assert abs(found.held - found.stated) < 3.0 * found.counting_error


def test_a_chance_that_is_small_is_small_in_truth() -> None:
    # One strip of seventeen steps; so little is asked for that the plan adds no second.
    found = count("reversal", 60, 2.0, Wedge.nominal(17, 0.15), wanted=0.3)
    assert 0.3 <= found.stated <= 0.8
    assert abs(found.held - found.stated) < 3.0 * found.counting_error
