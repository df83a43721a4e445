"""Are intervals no wider than need be? A small version of `tests.bench.widths`."""

from functools import cache

import numpy as np
import pytest

from tests.bench.widths import FORMULAS, NUMBERS, jacobian, ratios

STRIPS = 8
"""Of each family of curves."""


@cache
def pooled() -> dict[str, list[float]]:
    """Return the ratios of all families together, by number."""
    found = [ratios(family, STRIPS, draws=500) for family in FORMULAS]
    return {name: [r for one in found for r in one[name]] for name in NUMBERS}


@pytest.mark.slow
@pytest.mark.parametrize("number", ["T", "S", "dmin", "gamma"])
def test_intervals_are_hardly_wider_than_those_of_somebody_who_knows_the_formula(number: str) -> None:
    # The goal is a quarter more; the median of these few scatters by 0.05, which is added twice. Regression: computed
    # by this code over three times as many strips, Dmin is the widest, 1.21, 1.19 and 1.33 by family. Much narrower
    # than the bound, an interval could not be honest.
    assert 0.85 < np.median(pooled()[number]) < 1.25 + 2 * 0.05


@pytest.mark.slow
def test_the_interval_of_the_index_costs_more_only_where_the_end_of_highlight_detail_decides() -> None:
    # Regression: computed by this code, 1.12, 1.22 and 1.63 by family. Who knows the formula knows how its end closes,
    # and with it where net density 0.04 lies; readings alone do not tell that.
    assert 0.85 < np.median(pooled()["EI"]) < 1.45


def test_derivatives_are_those_of_a_known_function() -> None:
    # From the definition: the derivatives of (a b, a^2) are ((b, a), (2 a, 0)).
    found = jacobian(lambda v: np.array([v[0] * v[1], v[0] ** 2]), np.array([2.0, 3.0]))
    np.testing.assert_allclose(found, [[3.0, 2.0], [4.0, 0.0]], atol=1e-9)
