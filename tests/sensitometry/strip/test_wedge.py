"""Nominal and calibrated wedges."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from curves.errors import StripError
from curves.sensitometry.strip.wedge import Wedge


def test_a_nominal_wedge_climbs_in_equal_steps_from_its_clear_end() -> None:
    wedge = Wedge.nominal(21, 0.15, first=0.05)
    assert wedge.steps == 21
    assert wedge.density[[0, 1, 20]] == pytest.approx([0.05, 0.20, 3.05])
    assert not wedge.calibrated


def test_every_step_of_a_nominal_wedge_has_the_same_uncertainty() -> None:
    assert Wedge.nominal(3, 0.30, uncertainty=0.01).uncertainty.tolist() == [0.01, 0.01, 0.01]


def test_a_calibrated_wedge_keeps_its_own_densities_and_uncertainties() -> None:
    wedge = Wedge(np.array([0.06, 0.19, 0.37]), np.array([0.003, 0.003, 0.004]), calibrated=True)
    assert wedge.calibrated
    assert wedge.density.tolist() == [0.06, 0.19, 0.37]
    assert wedge.uncertainty.tolist() == [0.003, 0.003, 0.004]


@pytest.mark.parametrize(("densities", "backwards"), [([0.05, 0.20, 0.35], False), ([0.35, 0.20, 0.05], True)])
def test_a_wedge_knows_when_it_is_numbered_from_its_dense_end(densities: list[float], backwards: bool) -> None:
    assert Wedge(np.array(densities), np.full(3, 0.02)).runs_backwards is backwards


def test_two_steps_are_a_wedge() -> None:
    assert Wedge.nominal(2, 0.30).density == pytest.approx([0.05, 0.35])


def test_measured_densities_make_a_calibrated_wedge_from_any_kind_of_list() -> None:
    for densities in (
        [0.06, 0.19, 0.37],
        (0.06, 0.19, 0.37),
        np.array([0.06, 0.19, 0.37]),
        pd.Series([0.06, 0.19, 0.37]),
    ):
        wedge = Wedge.measured(densities)
        assert wedge.calibrated
        assert wedge.assumed
        assert wedge.density.tolist() == [0.06, 0.19, 0.37]
        assert wedge.uncertainty.tolist() == [0.02, 0.02, 0.02]
    assert Wedge.measured([0.06, 0.19], 0.004).uncertainty.tolist() == [0.004, 0.004]
    assert Wedge.measured([0.06, 0.19], [0.003, 0.005]).uncertainty.tolist() == [0.003, 0.005]
    assert not Wedge.measured([0.06, 0.19], 0.004).assumed


def test_a_wedge_is_short_in_its_repr() -> None:
    assert repr(Wedge.nominal(21, 0.15)) == "Wedge(21 steps, 0.05 to 3.05, nominal)"
    assert repr(Wedge.measured([0.06, 0.19, 0.37])) == "Wedge(3 steps, 0.06 to 0.37, calibrated)"


def test_nobody_changes_the_densities_of_a_wedge_behind_its_back() -> None:
    densities = np.array([0.05, 0.20])
    wedge = Wedge.measured(densities)
    densities[0] = 1.0
    assert wedge.density.tolist() == [0.05, 0.20]
    with pytest.raises(ValueError, match="read-only"):
        wedge.density[0] = 1.0


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Wedge(np.array([0.05]), np.array([0.02])), "wedge: 1 densities with 1 uncertainties are not a wedge"),
        (lambda: Wedge(np.array([]), np.array([])), "wedge: 0 densities with 0 uncertainties are not a wedge"),
        (
            lambda: Wedge(np.array([0.05, 0.20]), np.array([0.02])),
            "wedge: 2 densities with 1 uncertainties are not a wedge",
        ),
        (lambda: Wedge(np.full((1, 2), 0.05), np.full((1, 2), 0.02)), "wedge, density: the shape is (1, 2)"),
        (lambda: Wedge.measured([0.05, None]), "wedge, density of step 2: there is no number"),
        (lambda: Wedge.measured([0.05, 20.0]), "wedge, density of step 2: 20 is out of range"),
        (lambda: Wedge.measured(["0.05", "0.2"]), "wedge, density, number 1: '0.05' is not a number"),
        (lambda: Wedge.measured([0.05, 0.20], -0.01), "wedge, uncertainty: -0.01 is out of range"),
        (lambda: Wedge.measured([0.05, 0.20], [0.01, 1.0]), "wedge, uncertainty of step 2: 1 is out of range"),
        (lambda: Wedge.nominal(21, 0.15, first=-0.1), "wedge, first: -0.1 is out of range"),
        (lambda: Wedge.nominal(21, 0.15, scale_uncertainty=1.0), "Wedge, scale_uncertainty: 1 is out of range"),
        (lambda: Wedge.nominal(21, 0.15, common=2.0), "Wedge, common: 2 is out of range"),
        (lambda: Wedge.nominal(1, 0.15), "wedge, steps: 1 is not a whole number"),
        (lambda: Wedge.nominal(21, 0.0), "wedge, increment: 0 is out of range"),
        (lambda: Wedge.nominal(21, 15), "wedge: 21 steps of 15 are not a wedge"),
        (lambda: Wedge.nominal(16, 1.0, first=0.0), "wedge: 16 steps of 1 are not a wedge"),
        (lambda: Wedge.nominal(2000, 0.001), "wedge: 2000 steps of 0.001 are not a wedge"),
    ],
)
def test_what_cannot_be_a_wedge_is_refused_in_words(make: Callable[[], Wedge], message: str) -> None:
    with pytest.raises(StripError) as caught:
        make()
    assert str(caught.value).startswith(message)
    assert "needed: " in str(caught.value)


def test_a_wedge_of_which_nothing_else_is_told_is_nominal() -> None:
    assert repr(Wedge(np.array([0.05, 0.35]), np.full(2, 0.02))) == "Wedge(2 steps, 0.05 to 0.35, nominal)"


def test_a_nominal_wedge_may_reach_just_below_what_an_instrument_shows() -> None:
    # Common practice: no densitometer shows more than 15.
    assert Wedge.nominal(15, 1.0, first=0.0).density[-1] == 14.0
