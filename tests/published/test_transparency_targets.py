"""What transparency films clear to.

Source: target data of five transparency films, batch averages, an open data set (IT8.7/1) under CC BY-SA 3.0 (read):
status A Dmin red 0.06 to 0.14, green 0.09 to 0.16, blue 0.11 to 0.17; visual Dmin 0.08 to 0.15, Dmax 3.0 to 3.5.
"""

from __future__ import annotations

import numpy as np
import pytest

from curves.sensitometry.analysis.slide import base_state
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import VISUAL_MODEL_RMS, visual_density
from curves.sensitometry.measures.points import dmax, dmin
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.uncertainty.ensemble import Ensemble
from curves.sensitometry.uncertainty.results import BaseState
from tests.sensitometry.shapes import exact, slide

GRID = np.linspace(-3.5, 0.5, 2001)


def state_of(film: Ensemble) -> BaseState:
    """Return whether a film of one curve clears."""
    return base_state(ChannelCurves(film, dmin(film), dmax(film), Choices()), {}, Choices())


@pytest.mark.parametrize(("layers", "visual"), [((0.06, 0.09, 0.11), 0.08), ((0.14, 0.16, 0.17), 0.15)])
def test_visual_dmin_follows_from_the_layers(layers: tuple[float, float, float], visual: float) -> None:
    assert float(visual_density(*layers)) == pytest.approx(visual, abs=VISUAL_MODEL_RMS / 4)


@pytest.mark.parametrize("lowest", [0.08, 0.15])
@pytest.mark.parametrize("highest", [3.0, 3.5])
def test_every_one_of_these_films_clears(lowest: float, highest: float) -> None:
    film = exact(GRID, slide(GRID, dmin=lowest, height=highest - lowest), fully_exposed=lowest)
    state = state_of(film)
    assert state.clears is True
    # Calculated: 10**-0.08 is 83 %, 10**-0.15 is 71 %.
    assert state.white_percent == pytest.approx({0.08: 83.2, 0.15: 70.8}[lowest], abs=0.05)


def test_a_film_that_stays_at_0_42_does_not_clear_and_passes_38_percent() -> None:
    # The same arithmetic: 10**-0.42. Nearly three times the thinnest of the five films' range.
    film = exact(GRID, slide(GRID, dmin=0.42), fully_exposed=0.42)
    state = state_of(film)
    assert state.clears is False
    assert state.white_percent == pytest.approx(38.0, abs=0.05)
