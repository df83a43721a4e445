"""The colour of white: named where a layer is slow, by the layer; seldom where all layers are alike."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import LAYERS, STOP, Channel
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from tests.sensitometry.shapes import slide

WEDGE = Wedge.nominal(23, 0.15)
LIGHT = Contact(lux=25.0, seconds=2.0)


@cache
def film(
    slow: tuple[Channel, ...] = (), stops: float = 2.0, seed: int = 1, steps: int = 23, at: float | None = None
) -> Analysis:
    """Return a strip of three layers alike, but for the slow ones, read with a scatter of 0.01."""
    noise = np.random.default_rng(seed)
    position = np.arange(24.0 - steps, 24.0)
    log_h = LIGHT.log_h(position, WEDGE)
    readings = {
        c: np.round(
            slide(log_h, dmin=0.08, height=3.0, centre=-0.35 + (stops * STOP if c in slow else 0.0))
            + 0.01 * noise.standard_normal(position.size),
            2,
        )
        for c in LAYERS
    }
    strip = Strip(
        "Heron 80, a slow layer", "reversal", "status A", LIGHT, position, readings, WEDGE, repeatability=0.01
    )
    return analyse(strip, Choices(draws=200, most_draws=200, at=at))


@pytest.mark.parametrize(
    ("slow", "colour"),
    [
        # Common knowledge of colour: density to blue light looks yellow, to green magenta, to red cyan.
        (("blue",), "yellow"),
        (("green",), "magenta"),
        (("red",), "cyan"),
        (("green", "blue"), "red"),
        (("red", "blue"), "green"),
    ],
)
def test_a_layer_two_stops_slower_colours_white_by_its_dye(slow: tuple[Channel, ...], colour: str) -> None:
    ei = film(slow).working_ei
    assert ei.layers is not None
    assert ei.layers.wide
    # Two stops were simulated.
    assert (ei.layers.t_stops.low or 0.0) <= 2.0 <= (ei.layers.t_stops.high or 0.0)
    assert ei.cast is not None
    assert ei.cast.colours[0] == colour
    assert {c for c, q in ei.cast.excess.items() if q.value is not None and q.value > 0.05} == set(slow)


def test_a_colour_is_sure_only_where_it_holds_in_nearly_all_draws() -> None:
    # The eye hardly sees blue density: the index follows the other layers, and blue is far from clear at white. Red and
    # green decide the index, so that white lies where they have all but cleared.
    sure, doubtful = film(("blue",)).working_ei.cast, film(("red", "green")).working_ei.cast
    assert sure is not None
    assert sure.colours == ("yellow",)
    assert doubtful is not None
    assert {"neutral", "blue"} <= set(doubtful.colours)


@pytest.mark.parametrize("films", [15, pytest.param(40, marks=pytest.mark.slow)])
def test_layers_that_are_alike_are_hardly_ever_told_to_lie_apart(films: int) -> None:
    found = [film(seed=seed).working_ei.layers for seed in range(films)]
    assert sum(layers is not None and layers.wide for layers in found) <= 1


def test_layers_far_apart_are_told_even_if_the_slow_one_runs_off_the_strip() -> None:
    # Of 18 steps, blue ends before its T, which is then a bound, and so is the distance of the layers.
    found = film(("blue",), 3.0, steps=18).working_ei.layers
    assert found is not None
    assert found.t_stops.value is None
    assert found.t_stops.bound is not None
    assert found.t_stops.bound[0] == ">"
    # Three stops were simulated: the bound holds them.
    assert 1.0 / 3.0 < found.t_stops.bound[1] <= 3.0
    assert found.wide


def test_a_colour_within_its_scatter_is_not_called_sure() -> None:
    ei = film(("blue",), 0.25).working_ei
    assert ei.cast is not None
    assert len(ei.cast.colours) > 1


@pytest.mark.parametrize("at", [8.0, 64.0, 800.0])
def test_an_index_of_ones_own_loses_the_stops_between_it_and_the_last_that_keeps_a_tone(at: float) -> None:
    ei = film(at=at).working_ei
    assert ei.trial is not None
    assert ei.trial.ei == at
    for tone, name, sign in (("white", "cleared", 1.0), ("shadow", "shadow", -1.0)):
        end, lost = ei.criteria[name].ei.value, ei.trial.lost[tone].value
        assert end is not None
        assert lost is not None
        # By definition of a stop.
        assert lost == pytest.approx(sign * np.log2(end / at), abs=1e-6)
        state = ei.trial.placements[tone].state
        assert (state in ("gone", "no texture")) == (lost > 0.0)


def test_an_index_of_ones_own_lands_where_the_index_to_set_does_if_they_are_the_same() -> None:
    own, ei = film(at=50.0).working_ei, film().working_ei
    assert own.trial is not None
    white = own.trial.placements["white"].log_h.value
    placed = ei.placements["white"].log_h.value
    assert white is not None
    assert placed is not None
    assert ei.nominal is not None
    # log H of a tone falls by log10 of the index; a number of the dial stands for an index up to 0.01 from it.
    assert white - placed == pytest.approx(np.log10(ei.nominal / 50.0), abs=0.02)
