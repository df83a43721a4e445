"""Several results of one thing: weights, the test of their agreement, and the interval of their combination."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import chi2

from curves.sensitometry.combining.agreement import (
    Agreement,
    Combination,
    agreement,
    combine,
    covariance,
    least_variance_weights,
)
from curves.sensitometry.combining.disagreement import Observations
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.uncertainty.intervals import ends_of

# The weighted mean of four results of one thing with standard uncertainties (Cox 2002, Metrologia 39, procedure A, from
# memory: weights 1 / u^2, u of the mean 1 / sqrt(sum 1 / u^2), chi-square of n - 1 degrees of freedom). The numbers are
# an arithmetic of our own: 1/u^2 is 100, 25, 25, 100, so the mean is (100*10.1 + 25*10.4 + 25*9.6 + 100*10.0) / 250.
RESULTS = np.array([10.1, 10.4, 9.6, 10.0])
KNOWN = np.diag([0.1, 0.2, 0.2, 0.1]) ** 2


def agreed(values: FloatArray, known: FloatArray) -> Agreement:
    """Return the test of results between which nothing else shows an offset."""
    return agreement(Observations(values, known, np.zeros((0, values.size))))


def test_weights_are_inverse_variances_where_nothing_is_shared() -> None:
    weights = least_variance_weights(KNOWN)
    assert weights == pytest.approx([0.4, 0.1, 0.1, 0.4])  # own arithmetic: 100 / 250 and 25 / 250
    assert weights @ RESULTS == pytest.approx(10.04)


def test_a_shared_error_changes_no_weight() -> None:
    shared = KNOWN + 0.3**2
    assert least_variance_weights(shared) == pytest.approx([0.4, 0.1, 0.1, 0.4])


def test_a_result_that_carries_the_shared_error_doubled_has_no_weight() -> None:
    # y1 = e1 + s, y2 = e2 + 2 s, s far the largest: least squares would give the second a negative weight.
    known = np.array([[0.01, 0.0], [0.0, 0.01]]) + np.outer([1.0, 2.0], [1.0, 2.0])
    assert least_variance_weights(known) == pytest.approx([1.0, 0.0])


def test_several_covariances_have_the_weights_of_each() -> None:
    doubled = np.outer([1.0, 1.0, 1.0, 2.0], [1.0, 1.0, 1.0, 2.0])
    known = np.array([KNOWN, KNOWN + 0.3**2, KNOWN + doubled])
    assert least_variance_weights(known).tolist() == [least_variance_weights(one).tolist() for one in known]
    assert least_variance_weights(known)[2, 3] == 0.0


def test_the_test_is_a_chi_square_of_the_distances() -> None:
    found = agreed(RESULTS, KNOWN)
    # Own arithmetic: (0.06/0.1)^2 + (0.36/0.2)^2 + (-0.44/0.2)^2 + (-0.04/0.1)^2 = 0.36 + 3.24 + 4.84 + 0.16.
    assert found.chi_square == pytest.approx(8.6)
    assert found.freedom == 3
    assert found.chance == pytest.approx(chi2.sf(8.6, 3))
    assert found.contradicts


def test_a_shared_error_leaves_the_test_as_it_is() -> None:
    assert agreed(RESULTS, KNOWN + 0.3**2).chi_square == pytest.approx(8.6)


def test_each_result_is_held_against_the_others_alone() -> None:
    found = agreed(RESULTS, KNOWN)
    # Own arithmetic: the others of the third weigh 100, 25, 100: mean (1010 + 260 + 1000) / 225, u^2 = 1/225 + 0.04.
    assert found.apart[2] == pytest.approx(9.6 - 2270.0 / 225.0)
    assert found.apart_error[2] == pytest.approx(math.sqrt(1.0 / 225.0 + 0.04))


@pytest.mark.parametrize("off", [0, 1, 2])
def test_the_one_result_that_is_off_is_named(off: int) -> None:
    values = np.zeros(3)
    values[off] = 1.0
    assert agreed(values, 0.15**2 * np.eye(3)).odd == off


def test_of_two_results_nothing_tells_which_is_off() -> None:
    found = agreed(np.array([0.0, 1.0]), 0.15**2 * np.eye(2))
    assert found.contradicts
    assert found.odd is None


def test_two_pairs_that_contradict_each_other_name_nobody() -> None:
    assert agreed(np.array([0.0, 0.0, 1.0, 1.0]), 0.1**2 * np.eye(4)).odd is None


def results(seed: int, values: FloatArray, own: float, shared: float, draws: int = 2000) -> FloatArray:
    """Return rows of results that share one error."""
    rng = np.random.default_rng(seed)
    off = shared * rng.standard_normal(draws) + own * rng.standard_normal((values.size, draws))
    return np.column_stack([values, values[:, None] + off])


def combined(values: FloatArray, own: float, shared: float) -> Combination:
    """Return the combination of results that share one error."""
    return combine(results(3, values, own, shared), np.random.default_rng(4))


def test_a_shared_error_is_counted_once_and_told() -> None:
    found = combined(np.array([0.0, 0.05, -0.05]), own=0.15, shared=0.3)
    # Own arithmetic: 0.3 stays, 0.15 is averaged over three. Beside it, the scatter that three results cannot exclude.
    assert found.shared == pytest.approx(0.3, rel=0.05)
    assert 0.97 * math.hypot(0.3, 0.15 / math.sqrt(3.0)) < found.rows[1:].std() < 0.36
    assert found.weights == pytest.approx(np.full(3, 1 / 3), abs=0.05)


def test_results_that_agree_are_hardly_widened_and_results_that_do_not_are() -> None:
    plain = 0.15 / math.sqrt(2.0)
    agree, contradict = (combined(np.array([-d, d]), 0.15, 0.0) for d in (0.03, 0.5))
    assert agree.rows[1:].std() < 1.6 * plain
    low, high = ends_of(contradict.rows[1:])
    assert low < -0.5 < 0.5 < high
    assert contradict.agreement.contradicts
    assert not agree.agreement.contradicts


def test_the_interval_widens_without_a_jump() -> None:
    widths = []
    for d in np.linspace(0.0, 0.6, 25):
        low, high = ends_of(combined(np.array([-d, d]), 0.15, 0.1).rows[1:])
        widths.append(high - low)
    steps = np.diff(widths)
    assert steps.max() < 0.35
    assert widths[-1] > 2.0 * widths[0]


def test_the_same_draws_give_the_covariance_of_what_they_share() -> None:
    known = covariance(results(5, np.zeros(2), own=0.1, shared=0.2, draws=20000)[:, 1:])
    assert known[0, 1] == pytest.approx(0.04, rel=0.05)
    assert known[0, 0] == pytest.approx(0.05, rel=0.05)


def test_the_interval_holds_a_scatter_that_no_result_states() -> None:
    """Three results that scatter by 0.2 beyond their own 0.15: 300 sets, the stated errors alone would hold 76 %."""
    rng, held = np.random.default_rng(6), 0
    for _ in range(300):
        values = math.hypot(0.15, 0.2) * rng.standard_normal(3)
        draws = values[:, None] + 0.15 * rng.standard_normal((3, 500))
        low, high = ends_of(combine(np.column_stack([values, draws]), rng).rows[1:])
        held += low <= 0.0 <= high
    assert 0.80 * 300 < held < 0.985 * 300


def test_fewer_than_two_draws_show_no_covariance() -> None:
    for draws in (np.empty((3, 0)), np.array([[0.1], [0.2], [0.3]])):
        assert covariance(draws) == pytest.approx(1e-8 * np.eye(3))
