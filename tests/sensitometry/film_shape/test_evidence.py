"""The evidence for tables of readings: what all errors together make likely, computed by few products."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import block_diag
from scipy.stats import multivariate_normal

from curves.sensitometry.curve.spline import NoisePrior
from curves.sensitometry.film_shape.evidence import Tables, shared_likelihood
from tests.sensitometry.film_shape.test_film_curve import LOG_H, PARAMETERS, curve

CHANNELS = 3
STEPS = 3


@pytest.mark.parametrize("patch", [(0, 1, 2, 3, 4), (0, 1, 2, 2, 4)])
def test_channels_that_share_an_error_are_as_likely_as_all_readings_together(patch: tuple[int, ...]) -> None:
    # By the definition: all readings of a table have one normal distribution, whose covariance is written out.
    rng = np.random.default_rng(2)
    steps = len(patch)
    factor = rng.standard_normal((CHANNELS, steps, steps))
    covariance = factor @ np.swapaxes(factor, 1, 2) + np.eye(steps)
    moved, off = rng.standard_normal((2, CHANNELS, steps))
    written = block_diag(*covariance)
    for number in set(patch):
        along = np.where(np.array(patch) == number, moved, 0.0).ravel()
        written += np.outer(along, along)
    expected = multivariate_normal(cov=written).logpdf(off.ravel()) + 0.5 * off.size * np.log(2.0 * np.pi)
    found = shared_likelihood(covariance, moved, off, np.arange(CHANNELS)[None], np.array([patch]))
    assert found == pytest.approx([expected])


def tables(exposure: float = 0.0) -> Tables:
    """Return one table of three layers as it is, and with two rows exchanged."""
    layers = np.repeat(PARAMETERS, CHANNELS, axis=0)
    layers[:, 2:4] += np.array([[-0.2], [0.0], [0.2]])
    readings = curve(layers).linear()[0] + 0.01 * np.random.default_rng(5).standard_normal((CHANNELS, LOG_H.size))
    wrong = readings.copy()
    wrong[:, [10, 11]] = wrong[:, [11, 10]]
    both = np.stack([readings, wrong])
    wild = np.zeros(both.shape, dtype=np.bool_)
    patch = np.tile(np.arange(LOG_H.size), (2, 1))
    return Tables(np.repeat(LOG_H, 2, axis=0), both, wild, patch, exposure, NoisePrior(0.01, 3.0), 0.01)


def test_a_table_in_order_is_far_likelier_than_one_with_two_rows_exchanged() -> None:
    # Own arithmetic: the exchange moves two readings of three layers by 1.8 x 0.15, each 27 times the scatter of 0.01;
    # even if a curve and a scatter of twice the size take the most of it, hundreds of nats are left.
    right, wrong = tables().evidence(STEPS)
    assert right > wrong + 100.0


def test_what_errors_of_exposure_can_do_says_little_of_the_order() -> None:
    # Half an increment of error at each step: the exchange moves three layers by one increment of 0.15 together.
    sure, unsure = (float(np.subtract(*tables(exposure).evidence(STEPS))) for exposure in (0.0, 0.075))
    assert 0.0 < unsure < 0.1 * sure


def test_readings_that_are_left_out_say_nothing_of_the_curve() -> None:
    both = tables()
    readings, wild = both.readings.copy(), both.wild.copy()
    wild[:, 1, 4] = True
    readings[1] = readings[0]
    readings[1, 1, 4] += 0.3
    right, off = replace(both, readings=readings, wild=wild).evidence(STEPS)
    # Of a range as wide as a density of 1, a third off costs next to nothing.
    assert off == pytest.approx(right, abs=0.5)
