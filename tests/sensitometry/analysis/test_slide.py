"""Where the scene lands at an index, and what becomes of white, grey and shadow there.

Densities are calculated from the closed form of the curve at log H = log10(k / EI) + tone.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from curves.sensitometry.analysis.slide import THIN_WHITE, placements
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP
from curves.sensitometry.measures.points import dmax, dmin
from curves.sensitometry.measures.table import ChannelCurves
from curves.sensitometry.strip.metering import Metering, metered_exposure
from curves.sensitometry.uncertainty.results import Placement, State
from tests.sensitometry.analysis.ten_films import logistic
from tests.sensitometry.shapes import exact

BoolArray = NDArray[np.bool_]
GRID = np.linspace(-3.0, 1.5, 1801)
CURVE = logistic(0.10, 3.10, -0.70, 3.0)
METERING = Metering(metered_exposure(), metered_exposure(), metered=False)


def landed(ei: float, inside: BoolArray | None = None, *, patches: bool = True) -> dict[str, Placement]:
    """Return where the scene lands on a strip of part of the curve."""
    grid = GRID if inside is None else GRID[inside]
    film = exact(grid, CURVE(grid), fully_exposed=0.10, unexposed=3.10) if patches else exact(grid, CURVE(grid))
    return placements(ChannelCurves(film, dmin(film), dmax(film), Choices()), ei, METERING, Choices())


def place(ei: float, tone: float) -> float:
    """Return the log H of a tone by the meter's equation [log10 lux-seconds]."""
    return math.log10(metered_exposure() / ei) + tone


@pytest.mark.parametrize("ei", [12.0, 25.0, 50.0])
def test_each_tone_lands_where_the_meter_puts_it(ei: float) -> None:
    for (name, placed), tone in zip(landed(ei).items(), (0.70, 0.0, -0.90), strict=True):
        assert placed.log_h.value == pytest.approx(place(ei, tone))
        true = float(CURVE(np.array(place(ei, tone))))
        assert placed.density.value == pytest.approx(true, abs=1e-3), name
        assert placed.net.value == pytest.approx(true - 0.10, abs=1e-3)


def bound_of(placed: Placement) -> tuple[str, object]:
    """Return the bound on the density of a tone."""
    assert placed.density.bound is not None
    return placed.density.bound


def index_for(net: float, tone: float) -> float:
    """Return the index at which a tone lands on a net density of the closed form."""
    x = -0.70 + math.log(3.0 / net - 1.0) / 3.0
    return float(metered_exposure() / 10.0 ** (x - tone))


@pytest.mark.parametrize(
    ("name", "tone", "net", "state"),
    [
        ("white", 0.70, 0.03, "gone"),
        ("white", 0.70, 0.05, "thin"),
        ("white", 0.70, THIN_WHITE + 0.01, "holds"),
        ("grey", 0.0, 0.38, "thin"),
        ("grey", 0.0, 0.42, "holds"),
        ("grey", 0.0, 1.38, "holds"),
        ("grey", 0.0, 1.42, "dense"),
        ("shadow", -0.90, 2.68, "holds"),
        ("shadow", -0.90, 2.72, "no texture"),
    ],
)
def test_the_state_of_a_tone_turns_at_its_limits(name: str, tone: float, net: float, state: State) -> None:
    # Limits: net 0.04 and 0.10; 0.40 and 1.40; nine tenths of 3.00.
    assert landed(index_for(net, tone))[name].state == state


def test_a_tone_beyond_the_strip_is_a_bound_and_says_so() -> None:
    # The strip ends at net 0.50 and begins at net 2.50, with its patches: white lies beyond, but not surely gone.
    ends = [-0.70 + math.log(3.0 / net - 1.0) / 3.0 for net in (2.50, 0.50)]
    inside = (ends[0] <= GRID) & (ends[1] >= GRID)
    found = landed(index_for(0.30, 0.70), inside)
    assert found["white"].state == "off the strip"
    assert bound_of(found["white"]) == ("<", pytest.approx(0.60, abs=0.01))
    assert found["white"].net.value is None
    assert "beyond the most exposed step" in (found["white"].density.why or "")
    dark = landed(index_for(2.60, -0.90), inside)["shadow"]
    assert dark.state == "off the strip"
    assert bound_of(dark) == (">", pytest.approx(2.60, abs=0.01))


def test_what_is_lost_at_the_end_of_the_strip_is_lost_beyond_it() -> None:
    # The strip begins at net 2.80, beyond nine tenths of the range: deeper shadows have no texture either.
    begins = -0.70 + math.log(3.0 / 2.80 - 1.0) / 3.0
    found = landed(index_for(2.85, -0.90), begins <= GRID)
    assert found["shadow"].state == "no texture"
    assert found["shadow"].density.value is None


def test_a_state_that_hangs_on_an_unknown_end_is_not_known() -> None:
    # Ended at net 0.15 without a patch: the white's net density may be anything up to its density.
    ends = -0.70 + math.log(3.0 / 0.15 - 1.0) / 3.0
    found = landed(index_for(0.20, 0.70), ends >= GRID, patches=False)
    assert found["white"].state == "not known"
    assert found["white"].net.bound is not None
    assert found["white"].density.value == pytest.approx(0.30, abs=0.01)
    assert found["grey"].state == "holds"
    # Begun before the film is at its Dmax, without a patch: the shadow may have texture yet.
    begins = -0.70 + math.log(3.0 / 2.70 - 1.0) / 3.0
    assert landed(index_for(2.60, -0.90), begins <= GRID, patches=False)["shadow"].state == "not known"
    assert landed(index_for(2.20, -0.90), begins <= GRID, patches=False)["shadow"].state == "holds"


def test_on_a_metered_strip_the_index_of_the_test_stands_for_log_h_zero() -> None:
    film = exact(GRID, CURVE(GRID), fully_exposed=0.10, unexposed=3.10)
    metering = Metering(50.0, metered_exposure(), metered=True)
    found = placements(ChannelCurves(film, dmin(film), dmax(film), Choices()), 25.0, metering, Choices())
    assert found["grey"].log_h.value == pytest.approx(STOP)
