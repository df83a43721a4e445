"""Granularity at a density that no patch has: carried from a patch nearby, or not."""

from __future__ import annotations

import pytest

from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.grain.film_grain import GrainPoint, at_density
from curves.sensitometry.grain.granularity import Granularity


def point(density: float, rms: Quantity | None = None) -> GrainPoint:
    found = rms or Quantity(10.0, 9.5, 10.5, "measured")
    return GrainPoint(f"patch {density:g}", 0, Granularity(density, found, 10.0, None, 400.0, 0.0, None))


@pytest.mark.parametrize(("there", "asked"), [(0.90, 1.00), (1.10, 1.00), (0.86, 1.00), (1.14, 1.00)])
def test_a_patch_nearby_is_carried_to_the_density_asked_for(there: float, asked: float) -> None:
    # By hand: the root of the ratio of densities; the ends no growth and growth in proportion.
    found = at_density([point(there)], asked)
    ends = sorted((1.0, asked / there))
    assert found.value == pytest.approx(10.0 * (asked / there) ** 0.5)
    assert found.low == pytest.approx(9.5 * ends[0])
    assert found.high == pytest.approx(10.5 * ends[1])
    assert found.how == "estimated"
    assert found.note == f"carried from patch {there:g} at {there:.2f}"


def test_a_patch_a_twentieth_away_stands_whatever_the_last_bit_is() -> None:
    assert at_density([point(0.95)], 1.0).note == "patch 0.95, at 0.95"
    assert at_density([point(0.9499)], 1.0).note == "carried from patch 0.9499 at 0.95"


def test_farther_patches_are_not_carried_and_a_bound_stays_a_bound() -> None:
    assert at_density([point(0.84)], 1.0).value is None
    bound = at_density([point(0.9, Quantity.missing("noise", below=4.0))], 1.0)
    assert (bound.value, bound.bound, bound.why) == (None, ("<", 4.0), "noise")
