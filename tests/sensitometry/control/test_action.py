"""Action limits: a steady process passes them as often as stated, from few references too; alarms name the strip."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import polygamma
from scipy.stats import t as student

from curves import load_strip
from curves.sensitometry.control.action import MEANS, RATE, Spread, _where_trigamma_is, action_limits, alarms, spreads
from curves.sensitometry.control.batches import Batches
from curves.sensitometry.core.units import FloatArray
from tests.simulate import FOLDER

ONE = load_strip(FOLDER / "wren-reversal.toml")
NUMBERS, STRIPS = 10, 20


def steady(reference: int, strips: int = STRIPS) -> Batches:
    """Return the batches of references and of strips after them, all of one batch."""
    days = [datetime.date(2026, 1, 1) + datetime.timedelta(days=n) for n in range(reference + strips)]
    return Batches.of([replace(ONE, date=day) for day in days], reference)


def alarms_of(values: FloatArray, by_reading: FloatArray, reference: int, batches: Batches) -> set[int]:
    """Return the places of the strips of a run of the process, (n, numbers), that make an alarm."""
    first = values[:reference]
    freedom = np.full(values.shape[1], reference - 1.0)
    found = set()
    for column, spread in zip(values.T, spreads(first.std(axis=0, ddof=1), freedom, by_reading), strict=True):
        weights = batches.centres(np.isfinite(column), batches.differences(np.isfinite(column)))
        share = RATE / values.shape[1] / len(MEANS)
        found |= {a.index for a in alarms(column, float(column[:reference].mean()), spread, batches, weights, share)}
    return found


@pytest.mark.parametrize(("reference", "spread"), [(10, 1.0), (10, 3.0), (20, 3.0)])
def test_a_steady_process_makes_as_few_alarms_as_stated(reference: int, spread: float) -> None:
    # Normal draws, correlated by 0.3, some numbers scattering by much more than their readings: none was tuned on.
    rng = np.random.default_rng(77)
    batches, by_reading = steady(reference), np.ones(NUMBERS)
    sizes = np.where(np.arange(NUMBERS) < 3, spread, 1.0)
    told = 0
    runs = 120
    for _ in range(runs):
        own, common = rng.standard_normal((reference + STRIPS, NUMBERS)), rng.standard_normal((reference + STRIPS, 1))
        told += len(alarms_of(sizes * (np.sqrt(0.7) * own + np.sqrt(0.3) * common), by_reading, reference, batches))
    # Alarms of one run share its limits: about three standard errors above one in a hundred.
    assert told / (runs * STRIPS) < 1.8 * RATE


def test_one_number_alone_has_the_limits_of_student() -> None:
    (spread,) = spreads(np.array([0.02]), np.array([9.0]), np.array([0.005]))
    assert (spread.size, spread.freedom) == (0.02, 9.0)
    # The prediction interval of one more value of a normal sample of ten, textbook.
    reach = student.ppf(0.995, 9) * 0.02 * np.sqrt(1.1)
    assert spread.reach(0.01, 1.1) == pytest.approx(reach)
    batches = steady(10)
    weights = batches.centres(np.ones(30, dtype=bool), np.zeros((1, 30)))
    np.testing.assert_allclose(action_limits(1.0, spread, batches, weights, 0.01), [[1.0 - reach, 1.0 + reach]] * 30)
    np.testing.assert_allclose(spread.interval(0.1, 0.5), 0.1 + student.ppf([0.025, 0.975], 9) * 0.02 * np.sqrt(0.5))


def test_the_prediction_interval_of_a_published_sample() -> None:
    # Hahn and Meeker, Statistical Intervals, chapter 3: five readings, 51.4 49.5 48.7 49.3 51.6, and the 95 % interval
    # of one more, 50.10 -+ 3.98: from memory, reproduced.
    readings = np.array([51.4, 49.5, 48.7, 49.3, 51.6])
    spread = Spread(float(readings.std(ddof=1)), 4.0)
    assert readings.mean() == pytest.approx(50.10)
    assert spread.size == pytest.approx(1.31, abs=0.005)
    assert spread.reach(0.05, 1.2) == pytest.approx(3.98, abs=0.02)


def test_no_spread_is_less_than_readings_make_it_and_none_is_infinite_where_readings_agree() -> None:
    found = spreads(np.array([0.0, 0.01, 0.02, 0.015]), np.full(4, 9.0), np.array([0.01, 0.01, 0.02, 0.015]))
    assert all(spread.size >= least for spread, least in zip(found, (0.01, 0.01, 0.02, 0.015), strict=True))
    assert all(9.0 < spread.freedom <= 19.0 for spread in found)


def test_spreads_that_agree_lend_each_other_their_freedom_and_spreads_that_do_not_keep_their_own() -> None:
    rng = np.random.default_rng(5)
    alike = spreads(np.sqrt(rng.chisquare(9, 10) / 9), np.full(10, 9.0), np.full(10, 0.5))
    unlike = spreads(np.geomspace(0.1, 10.0, 10), np.full(10, 9.0), np.full(10, 0.05))
    assert alike[0].freedom == 19.0
    # Regression: half a degree is lent, and the smallest, a tenth of the common one, grows by 22 %: by this code.
    assert unlike[0].freedom < 10.0
    np.testing.assert_allclose([s.size for s in unlike], np.geomspace(0.1, 10.0, 10), rtol=0.25)


def test_a_strip_far_off_is_an_alarm_alone_and_a_good_one_after_it_is_not() -> None:
    batches, weights = steady(10, 6), np.full((1, 16), 0.0)
    weights[0, :10] = 0.1
    # One strip passes sqrt(1.1) t, and the mean of two sqrt(0.6) t; t is 3.69 here.
    values = np.concatenate([np.zeros(10), [0.0, 9.0, 0.0, 3.5, 3.5, 0.0]])
    found = alarms(values, 0.0, Spread(1.0, 9.0), batches, weights, 0.005)
    assert [(a.index, a.strips, a.above) for a in found] == [(11, 1, True), (14, 2, True)]
    assert found[1].mean == 3.5
    assert found[1].limit == pytest.approx(student.ppf(0.9975, 9) * np.sqrt(0.6))
    # The mean of -9 and x passes its limit of 2.86; x counts from half of that on.
    for last, told in ((-1.42, [11]), (-1.44, [11, 12])):
        values = np.concatenate([np.zeros(10), [0.0, -9.0, last, 0.0, 0.0, 0.0]])
        assert [a.index for a in alarms(values, 0.0, Spread(1.0, 9.0), batches, weights, 0.005)] == told


@pytest.mark.parametrize("place", [0.05, 0.5, 3.0, 40.0])
def test_the_inverse_of_the_trigamma_function(place: float) -> None:
    assert _where_trigamma_is(float(polygamma(1, place))) == pytest.approx(place, rel=1e-6)
