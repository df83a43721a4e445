"""Steps against the direction of the strip: the clearest pair of groups is that of the definition."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.order.direction import reversal
from curves.sensitometry.order.plausibility import Plausibility
from curves.sensitometry.order.run import Run


def readings(channels: int, drop: float, exposure: float = 0.1) -> Run:
    """Return readings that rise along a curve and fall by so much over three steps."""
    steps = np.arange(12.0)
    rise = 2.0 / (1.0 + np.exp(-(steps - 6.0)))
    rise[7:10] -= drop
    scatter = 0.01 * np.random.default_rng(5).standard_normal((channels, steps.size))
    entered = Plausibility(rise + scatter, steps, 0.02, 40.0)
    return Run(entered, np.arange(steps.size), True, exposure, 0.15, 1.0)


def largest(run: Run) -> float:
    """Return the largest excess over all pairs of neighbouring groups, one by one, by the definition."""
    found, exposure = run.plausibility, run.exposure
    rows: FloatArray = found.readings
    bend = max(run.first_order.turned_back(), 0.0) * found.scatter / found.cautious_scatter
    channels, count = rows.shape
    slopes = np.vstack([found.steepness, found.steepness.sum(axis=0)])
    # Each level step, at which all channels together move by less than a scatter, is a chance more.
    level = sum(math.hypot(*step) < found.cautious_scatter for step in found.steepness.T)
    anywhere = math.sqrt(3.6**2 + 2.0 * math.log(1.0 + level / 3.0))
    best = -math.inf
    for start, middle, end in itertools.combinations(range(count + 1), 3):
        before, after = middle - start, end - middle
        if max(before, after) > 8:
            continue
        # The error of a mean of independent errors: the root of their summed squares over their number.
        errors = [
            math.hypot(
                math.sqrt(float(((exposure * slope[start:middle]) ** 2).sum())) / before,
                math.sqrt(float(((exposure * slope[middle:end]) ** 2).sum())) / after,
            )
            for slope in slopes
        ]
        read = found.cautious_scatter * math.sqrt(1.0 / before + 1.0 / after)
        apart = rows[:, start:middle].mean(axis=1) - rows[:, middle:end].mean(axis=1)
        alone = max(float(a) / math.hypot(read, e) for a, e in zip(apart, errors[:-1], strict=True))
        together = float(apart.sum()) / math.hypot(math.sqrt(channels) * read, errors[-1])
        best = max(best, together / anywhere, alone / 5.0)
        if end == count and together > 1.0:
            best = max(best, (together + bend) / 5.0)
    return best


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("exposure", [0.0, 0.1, 0.4])
def test_the_excess_is_that_of_the_definition(channels: int, exposure: float) -> None:
    found = readings(channels, 1.6, exposure)
    told = reversal(found)
    assert told is not None
    assert told.excess == pytest.approx(largest(found))


def test_what_stays_below_its_threshold_is_not_told() -> None:
    found = readings(1, 0.0)
    assert largest(found) < 1.0
    assert reversal(found) is None
