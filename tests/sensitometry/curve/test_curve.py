from dataclasses import replace

import numpy as np
import pytest

from curves import fit_curve
from curves.errors import StripError
from curves.sensitometry.curve.fit import Curve
from curves.sensitometry.curve.mean_steps import ASSUMED_REPEATABILITY, MeanSteps
from curves.sensitometry.curve.posterior import FIT, PARTS, READINGS, Model, Posterior
from curves.sensitometry.curve.posterior import STEPS as STEP_ERRORS
from curves.sensitometry.curve.spline import SMOOTHING, NoisePrior, Smoother, isotonic
from tests.sensitometry.shapes import STEPS, slide


def noisy(seed: int, noise: float = 0.015) -> np.ndarray:
    return np.round(slide(STEPS) + noise * np.random.default_rng(seed).standard_normal(STEPS.size), 2)


def test_the_curve_and_every_draw_are_monotone() -> None:
    curve = fit_curve(STEPS, noisy(1), kind="reversal")
    assert (np.diff(curve.grid_density) <= 1e-12).all()
    assert (np.diff(curve.draws, axis=1) <= 1e-9).all()


def test_a_negative_is_the_mirror_image_of_a_reversal() -> None:
    readings = noisy(2)
    falling = fit_curve(STEPS, readings, kind="reversal", draws=0)
    rising = fit_curve(STEPS, 3.0 - readings, kind="negative", draws=0)
    np.testing.assert_allclose(rising.grid_density, 3.0 - falling.grid_density, atol=1e-9)


def test_noiseless_readings_are_followed_within_three_thousandths() -> None:
    curve = fit_curve(STEPS, slide(STEPS), kind="reversal", draws=0)
    np.testing.assert_allclose(curve.grid_density, slide(curve.grid), atol=0.003)


def test_the_band_holds_the_true_curve_nineteen_times_in_twenty() -> None:
    # Across the function (Nychka 1988): 60 strips of 241 places; binomial spread of the mean is below 2 %.
    held = []
    for seed in range(60):
        curve = fit_curve(STEPS, noisy(seed), kind="reversal", seed=seed)
        truth = slide(curve.grid)
        held.append(((curve.low <= truth) & (truth <= curve.high)).mean())
    assert 0.90 <= float(np.mean(held)) <= 0.99


@pytest.mark.parametrize("index", [0, 3, 10, 15, 20])
@pytest.mark.parametrize("error", [0.30, -0.30])
def test_one_gross_misreading_is_named_and_does_not_bend_the_curve(index: int, error: float) -> None:
    readings = noisy(3)
    clean = fit_curve(STEPS, readings, kind="reversal")
    readings[index] += error
    curve = fit_curve(STEPS, readings, kind="reversal")
    assert [i for i, flag in enumerate(curve.flags) if flag] == [index]
    side = "above" if error > 0 else "below"
    assert side in (curve.flags[index] or "")
    inner = slice(30, -30)
    width = (clean.high - clean.low)[inner]
    assert (np.abs(curve.grid_density - clean.grid_density)[inner] <= width + 0.01).all()


def test_clean_strips_are_seldom_accused() -> None:
    flags = [flag for seed in range(100) for flag in fit_curve(STEPS, noisy(seed), kind="reversal", draws=0).flags]
    assert sum(flag is not None for flag in flags) <= 2


def test_repeating_every_reading_changes_no_value_and_narrows_the_band() -> None:
    readings = noisy(4)
    once = fit_curve(STEPS, readings, kind="reversal")
    twice = fit_curve(np.tile(STEPS, 2), np.tile(readings, 2), kind="reversal")
    np.testing.assert_allclose(twice.grid_density, once.grid_density, atol=1e-9)
    assert ((twice.high - twice.low) < (once.high - once.low) + 1e-12).all()


def test_a_flat_noisy_strip_without_any_one_step_is_still_fitted() -> None:
    # A strip found by random search: the solver turned in circles on it.
    hundredths = [3, 0, 2, 5, 3, 1, 2, 6, -4, 6, 1, 1, 2, 4, 0, -2, -5, 2, 5, 4, 4, 7, 3, -1, 4, -2, -2, 5, 2, 2]
    readings = 2.40 + np.array(hundredths) / 100
    u = np.linspace(0.0, 1.0, readings.size)
    for left_out in range(readings.size):
        kept = np.arange(readings.size) != left_out
        smoother = Smoother.build(u[kept], np.ones(kept.sum()), 29)
        for index in range(0, SMOOTHING.size, 4):
            assert (np.diff(smoother.monotone(readings[kept] - readings.mean(), index)) >= -1e-12).all()


def test_a_reading_that_was_not_taken_is_left_out() -> None:
    readings = noisy(5)
    gap = readings.copy()
    gap[7] = np.nan
    curve = fit_curve(STEPS, gap, kind="reversal", draws=0)
    assert curve.log_h.size == 20
    np.testing.assert_allclose(curve.density_at(STEPS[7]), readings[7], atol=0.05)


def test_nothing_is_said_off_the_strip() -> None:
    curve = fit_curve(STEPS, noisy(6), kind="reversal", draws=0)
    assert np.isnan(curve.density_at([-9.0, 0.5])).all()
    assert np.isfinite(curve.density_at(STEPS)).all()
    assert curve.density_at(-1.5).shape == ()


def test_without_draws_there_is_no_band() -> None:
    curve = fit_curve(STEPS, noisy(7), kind="reversal", draws=0)
    assert np.isnan(curve.low).all()
    assert curve.draws.shape == (0, curve.grid.size)


def test_the_same_seed_gives_the_same_band() -> None:
    first, again, other = (fit_curve(STEPS, noisy(8), kind="reversal", seed=s) for s in (5, 5, 6))
    np.testing.assert_array_equal(first.low, again.low)
    assert (first.low != other.low).any()


def test_a_given_repeatability_replaces_the_assumed_one() -> None:
    five = STEPS[::5]
    good = fit_curve(five, slide(five), kind="reversal", repeatability=ASSUMED_REPEATABILITY / 5)
    poor = fit_curve(five, slide(five), kind="reversal", repeatability=ASSUMED_REPEATABILITY * 5)
    assert (good.high - good.low).mean() < (poor.high - poor.low).mean()


@pytest.mark.parametrize(
    ("log_h", "density", "message"),
    [
        ([0, 1, 2], [1, 2], "3 log H with 2 densities"),
        ([0, 1, 2], [1, 2, 3], "only 3 different steps were read"),
        ([0, 0, 0, 1, 1, 2], [1, 1, 1, 2, 2, 3], "only 3 different steps were read"),
        ([0, 1, 2, np.inf], [1, 2, 3, 4], "log H, number 4: the number is infinite"),
        ([0, 1, 2, 3], [1, 2, 3, np.inf], "density, number 4: the number is infinite"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words(log_h: list[float], density: list[float], message: str) -> None:
    with pytest.raises(StripError) as refusal:
        fit_curve(log_h, density, kind="negative")
    assert message in str(refusal.value)


def test_isotonic_regression_agrees_with_scipy() -> None:
    from scipy.optimize import isotonic_regression

    rows = np.random.default_rng(1).standard_normal((50, 23)) + np.linspace(0, 2, 23)
    expected = np.array([isotonic_regression(row).x for row in rows])
    np.testing.assert_allclose(isotonic(rows), expected, atol=1e-12)


def test_draws_do_not_depend_on_which_of_many_equal_axes_were_found() -> None:
    # Three axes of the penalty are equal (its null space): libraries of linear algebra may return any turn of them.
    u, y = np.linspace(0.0, 1.0, 21), np.sort(noisy(9))
    one = Smoother.build(u, np.ones(21), 20)
    turn = np.eye(len(one.penalty))
    null = np.argsort(one.penalty)[:3]
    turn[np.ix_(null, null)] = np.linalg.qr(np.random.default_rng(1).standard_normal((3, 3)))[0]
    other = replace(
        one,
        to_coefficients=one.to_coefficients @ turn,
        design_diagonal=one.design_diagonal @ turn,
    )
    prior, half = NoisePrior(0.01, 1.0), np.full(21, 0.5)
    here, there = (
        Posterior((Model(smoother, y, half, prior, prior, 0.0),)).draw(50, np.random.default_rng(0))
        for smoother in (one, other)
    )
    np.testing.assert_allclose(there, here, atol=1e-6)


def test_errors_of_exposure_count_by_the_slope_and_only_where_the_readings_show_them() -> None:
    def width(curve: Curve, density: float) -> float:
        at = int(np.abs(curve.grid_density - density).argmin())
        return float((curve.high - curve.low)[at])

    rng = np.random.default_rng(11)
    errors = 0.04 * rng.standard_normal(STEPS.size)
    uneven = np.round(slide(STEPS + errors) + 0.005 * rng.standard_normal(STEPS.size), 2)
    blind = fit_curve(STEPS, uneven, kind="reversal", repeatability=0.005)
    aware = fit_curve(STEPS, uneven, kind="reversal", repeatability=0.005, step_uncertainty=0.04)
    # On the flat ends a wrong exposure changes nothing: the band is narrower there than where the curve is steep.
    assert width(aware, 0.17) / width(aware, 1.6) < 0.7 * width(blind, 0.17) / width(blind, 1.6)
    even = np.round(slide(STEPS) + 0.005 * rng.standard_normal(STEPS.size), 2)
    doubted = fit_curve(STEPS, even, kind="reversal", repeatability=0.005, step_uncertainty=0.04, step_assumed=True)
    assert width(doubted, 1.6) < 0.5 * width(aware, 1.6)


def test_a_part_of_the_scatter_is_the_same_alone_and_among_the_others() -> None:
    posterior = fit_curve(STEPS, noisy(3), kind="reversal", step_uncertainty=0.02, draws=0).posterior
    every, *parts = (
        posterior.draw(250, np.random.default_rng(0), active=active)
        for active in (PARTS, (READINGS,), (STEP_ERRORS,), (FIT,))
    )
    # Where the draws were not made monotone they add up, but for the choice of smoothness: their variances do.
    total = sum(part.var(axis=0) for part in parts)
    steep = slice(8, 16)
    np.testing.assert_allclose(total[steep], every.var(axis=0)[steep], rtol=0.35)


def test_the_band_is_the_middle_95_percent_of_the_draws_at_each_place() -> None:
    # By hand: of 41 even draws from 0 to 40 the middle 95 % go from 1 to 39.
    curve = fit_curve(STEPS, noisy(1), kind="reversal", draws=0)
    even = np.tile(np.random.default_rng(1).permutation(np.arange(41.0))[:, None], (1, 3))
    found = replace(curve, draws=even, gradient_draws=even)
    assert found.low == pytest.approx([1.0, 1.0, 1.0])
    assert found.high == pytest.approx([39.0, 39.0, 39.0])


@pytest.mark.parametrize(("end", "off"), [(0, 0.20), (0, 0.13), (-1, -0.20), (-1, -0.13)])
def test_an_end_step_that_turns_back_on_a_steep_line_is_set_aside(end: int, off: float) -> None:
    # By hand: on a line of 0.10 a step the end reads what the step two further on reads, or a step and a third on.
    readings = 0.3 + 0.1 * np.arange(21) + 0.004 * np.random.default_rng(2).standard_normal(21)
    readings[end] = 0.3 + 0.1 * range(21)[end] + off
    curve = fit_curve(STEPS, readings, kind="negative", repeatability=0.005, draws=0)
    assert [i for i, flag in enumerate(curve.flags) if flag] == [range(21)[end]]
    assert f"{'above' if off > 0 else 'below'} the curve of the other steps" in (curve.flags[end] or "")


def test_misreading_scatters_the_curve_as_the_fit_passes_it_on() -> None:
    # Theory: a linear smoother turns noise of 0.01 into a covariance of 0.01^2 H H'. That noise is known for certain.
    known = NoisePrior(0.01, 1e6)
    u = np.linspace(0.0, 1.0, 21)
    y = 3.0 * u - 1.5 + 0.01 * np.random.default_rng(3).standard_normal(21)
    smoother = Smoother.build(u, np.ones(21), 20)
    posterior = Posterior((Model(smoother, y, np.ones(21), known, known, 0.0),))
    passed_on = np.array([smoother.design @ smoother.centre(one, posterior.best[1]) for one in np.eye(21)])
    drawn = posterior.draw(4000, np.random.default_rng(0), active=(READINGS,)) @ smoother.design.T
    assert drawn.var(axis=0).sum() == pytest.approx(0.01**2 * (passed_on**2).sum(), rel=0.06)


def test_log_exposures_that_differ_by_rounding_are_one_step() -> None:
    # 0.1 + 0.2 is not 0.3 in binary numbers; a millionth of a stop is no other exposure.
    found = MeanSteps.of([0.1, 0.2, 0.3, 0.1 + 0.2, 0.4 + 1e-8, 0.4], [0.1, 0.2, 0.3, 0.32, 0.4, 0.42])
    assert found.repeats.tolist() == [1.0, 1.0, 2.0, 2.0]
    assert found.density == pytest.approx([0.1, 0.2, 0.31, 0.41])
