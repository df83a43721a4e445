"""Curves of films of few parameters: their derivatives, and that a fit finds the curve that readings came from."""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.film_shape.film_curve import USUAL, FilmCurves, fitted, likeness

LOG_H = np.linspace(-1.5, 1.5, 21)[None]
PARAMETERS = np.array([[0.4, np.log(1.8), -0.7, 0.5, np.log(0.20), np.log(0.08), np.log(0.05)]])


def curve(parameters: FloatArray) -> FilmCurves:
    return FilmCurves(np.repeat(LOG_H, len(parameters), axis=0), parameters)


def test_derivatives_are_those_of_small_changes() -> None:
    _, slope, derivatives = curve(PARAMETERS).linear()
    for parameter, each in enumerate(1e-5 * np.eye(USUAL.size)):
        changed = (curve(PARAMETERS + each).linear()[0] - curve(PARAMETERS - each).linear()[0]) / 2e-5
        assert derivatives[..., parameter] == pytest.approx(changed, abs=1e-6)
    ahead, behind = (FilmCurves(LOG_H + by, PARAMETERS).linear()[0] for by in (1e-5, -1e-5))
    assert slope == pytest.approx((ahead - behind) / 2e-5, abs=1e-6)


def test_a_curve_lies_between_its_base_and_the_straight_line_from_corner_to_corner() -> None:
    # By the definition: far from the corners the curve is level. Its height is gradient times length, and that of the
    # tail, which begins 0.5 before the toe and ends 0.5 beyond the shoulder.
    far = FilmCurves(np.array([[-9.0, 9.0]]), PARAMETERS).linear()[0][0]
    assert far == pytest.approx([0.4, 0.4 + 1.8 * 1.2 + 0.05 * 2.2], abs=1e-6)


def test_a_rough_curve_does_not_depend_on_the_order_of_readings() -> None:
    readings = curve(PARAMETERS).linear()[0]
    wrong = readings.copy()
    wrong[:, [9, 10]] = wrong[:, [10, 9]]
    assert FilmCurves.roughly(LOG_H, wrong).parameters == pytest.approx(FilmCurves.roughly(LOG_H, readings).parameters)


@pytest.mark.parametrize("gradient", [0.6, 1.8, 4.0])
def test_a_fit_finds_the_curve_that_readings_came_from(gradient: float) -> None:
    # A negative of low contrast, a reversal film and a line film: the true curve is known.
    parameters = PARAMETERS.copy()
    parameters[0, 1] = np.log(gradient)
    exact = curve(parameters).linear()[0]
    readings = exact + 0.005 * np.random.default_rng(3).standard_normal(exact.shape)
    found = fitted(LOG_H, readings, np.full(LOG_H.shape, 0.005**2), 0.0, 0.01, likeness(LOG_H), 3, 3)
    # Four times the scatter of a reading: no place of a curve of seven numbers is known worse than one reading is.
    assert found.linear()[0] == pytest.approx(exact, abs=4 * 0.005)
    # Toe and shoulder to a third of a step: regression, computed by this code.
    assert found.parameters[0, 2:4] == pytest.approx(parameters[0, 2:4], abs=0.05)


def test_departures_are_least_where_a_curve_is_level_and_alike_nearby() -> None:
    one = curve(PARAMETERS)
    covariance = one.departures(one.linear()[1], 0.01, likeness(LOG_H))[0]
    size = np.sqrt(np.diag(covariance))
    # A hundredth of log H along the straight line, with the tail's gradient; a quarter of that on a level part.
    assert size[10] == pytest.approx(0.01 * 1.8, rel=0.05)
    assert size[0] == pytest.approx(0.25 * 0.01 * 1.8, rel=0.2)
    assert np.linalg.eigvalsh(covariance).min() > -1e-12
    alike = covariance / np.outer(size, size)
    # By the definition: departures keep their sign along 0.40 of log H; the steps lie 0.15 apart.
    assert alike[10, [11, 20]] == pytest.approx(np.exp(-0.5 * np.array([0.15 / 0.40, 1.5 / 0.40]) ** 2), abs=1e-9)
