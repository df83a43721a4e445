"""A universal colour negative, as the academy density exchange defines one.

Source: academy density exchange, 10-bit (2008): a table of density over base against log10 exposure up to density
0.60, above it log E = D / 0.55 - 2.0174548; 18 % grey at density 0.70 (all read). What linear interpolation in that
table gives at 0.10, at 0.15 and 1.30 beyond 0.10 is calculated.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.measures.contrast import average_gradient, averaged_gradient
from curves.sensitometry.measures.points import crossing, dmin
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis, ChannelFinding
from tests.sensitometry.shapes import fitted

TOE = [
    (-2.721719, 0.01),
    (-2.521719, 0.028),
    (-2.321719, 0.054),
    (-2.121719, 0.095),
    (-1.921719, 0.145),
    (-1.721719, 0.22),
    (-1.521719, 0.30),
    (-1.321719, 0.40),
    (-1.121719, 0.50),
    (-0.926546, 0.60),
]
STRAIGHT = [(d / 0.55 - 2.0174548, d) for d in np.arange(0.70, 1.95, 0.10)]
INTERPOLATED = 0.01
"""A smooth curve through the table's toe and straight lines through it differ by up to this [log10]."""


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    log_h, density = np.array(TOE + STRAIGHT).T
    return analyse(
        Strip(
            title="universal negative",
            kind="negative",
            density="status M",
            exposure=GivenExposure("lux-seconds"),
            position=log_h,
            readings={"green": density},
            patches=Patches(unexposed={"green": 0.0}),  # the table is of density over base
            repeatability=0.003,
        )
    )


@pytest.fixture(scope="module")
def green(analysis: Analysis) -> ChannelFinding:
    return analysis.channels["green"]


def test_no_point_of_the_table_is_taken_for_a_misreading(green: ChannelFinding) -> None:
    assert [step.flag for step in green.steps if step.flag] == []


def test_the_curve_passes_the_table_to_its_last_digit(green: ChannelFinding) -> None:
    assert max(abs(step.residual) for step in green.steps) < 0.005


def test_gamma_is_0_55(green: ChannelFinding) -> None:
    gamma = green.measures["gamma"]
    # The part whose gradient, averaged over two stops, is 90 % of the greatest takes in the top of the toe, where the
    # published slope is 0.40 to 0.51: by the definition, on the published points, that makes gamma 0.544.
    assert gamma.value == pytest.approx(0.544, abs=0.003)
    assert gamma.low is not None
    assert gamma.high is not None
    assert gamma.low <= 0.544 <= gamma.high
    assert averaged_gradient(green.ensemble)[1][0].max() == pytest.approx(0.55, abs=0.002)


def test_mid_grey_has_density_0_70(green: ChannelFinding) -> None:
    assert float(green.curve.density_at(math.log10(0.18))) == pytest.approx(0.70, abs=0.002)


def test_the_speed_point_is_where_the_table_reaches_0_10(green: ChannelFinding) -> None:
    point = green.points["speed"]
    assert point.density == pytest.approx(0.10, abs=1e-4)
    assert point.log_h.value == pytest.approx(-2.101719, abs=INTERPOLATED)
    assert point.log_h.low is not None
    assert point.log_h.high is not None
    assert point.log_h.low <= -2.101719 <= point.log_h.high


def test_0_15_is_reached_where_the_table_reaches_it(green: ChannelFinding) -> None:
    curve = green.curve
    at = crossing(curve.grid, curve.grid_density[None, :], np.array([0.15]))
    assert at == pytest.approx([-1.908385], abs=INTERPOLATED)


def test_1_30_beyond_the_speed_point_the_density_is_0_669(green: ChannelFinding) -> None:
    assert float(green.curve.density_at(-2.101719 + 1.30)) == pytest.approx(0.66865, abs=0.002)
    # So the average gradient over 1.30 is (0.66865 - 0.10) / 1.30.
    assert green.measures["average_gradient"].value == pytest.approx(0.4374, abs=0.004)


def test_the_table_stops_before_its_dmax_and_the_analysis_says_so(green: ChannelFinding) -> None:
    dmax = green.measures["dmax"]
    assert dmax.value is None
    assert dmax.bound is not None
    way, end = dmax.bound
    assert way == ">"
    assert 1.83 < end < 1.90


def test_between_two_densities_of_its_straight_line_the_average_gradient_is_0_55(green: ChannelFinding) -> None:
    film = fitted(green.curve, unexposed=0.0)
    for net in ((0.60, 1.80), (0.80, 1.60)):
        assert average_gradient(film, dmin(film), net=net).value == pytest.approx(0.55, abs=0.003)


def test_every_point_of_the_straight_line_lies_where_its_formula_puts_it(green: ChannelFinding) -> None:
    density = np.array([0.70, 1.00, 1.37, 1.80])
    assert green.curve.density_at(density / 0.55 - 2.0174548) == pytest.approx(density, abs=0.003)
