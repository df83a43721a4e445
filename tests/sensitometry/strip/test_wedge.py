"""Nominal and calibrated wedges."""

from __future__ import annotations

import numpy as np
import pytest

from curves.errors import RecordError
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


@pytest.mark.parametrize(
    ("densities", "uncertainties"),
    [([0.05], [0.02]), ([], []), ([0.05, 0.20], [0.02]), ([[0.05, 0.20]], [[0.02, 0.02]])],
)
def test_anything_but_a_ladder_with_an_uncertainty_for_each_step_is_refused(
    densities: list[float], uncertainties: list[float]
) -> None:
    with pytest.raises(RecordError) as caught:
        Wedge(np.array(densities), np.array(uncertainties))
    assert str(caught.value) == "wedge: a wedge is a 1-D ladder of at least two densities."
