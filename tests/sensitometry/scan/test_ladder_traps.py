"""Pictures drawn to mislead: a search may refuse them, but never find the steps where they are not."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import pytest

from curves.sensitometry.core.units import Kind
from curves.sensitometry.scan.ladder import find_ladder
from tests.sensitometry.ladder_pictures import GATE, HOLDER, Drawing, in_turns, off_by

KINDS: tuple[Kind, ...] = ("negative", "reversal")
PITCH, LEFT = 17.0, 52.0


def margins(kind: Kind) -> Iterator[tuple[str, Drawing]]:
    """Yield strips whose film ends at whole steps' lengths from the ladder, or at odd ones."""
    for name, beyond in (("holder", HOLDER), ("gate", GATE)):
        for before, after in ((0, 0), (1, 1), (0, 1), (2, 2), (1.2, 1.2)):
            drawing = Drawing(kind, spread=0.6)
            drawing.outside(LEFT - before * PITCH, drawing.right + after * PITCH, beyond)
            yield f"{name} {before} before, {after} after", drawing
        drawing = Drawing(kind)
        yield f"{name} before the first only", drawing.box(0, 0, LEFT - PITCH, 126, beyond)
        drawing = Drawing(kind)
        yield f"{name} after the last only", drawing.box(drawing.right + PITCH, 0, 300, 126, beyond)


def holes(kind: Kind) -> Iterator[tuple[str, Drawing]]:
    """Yield strips with bright squares of regular pitch, as of perforations, beside the steps or over them."""
    for ratio in (1.0, 0.5, 1.37):
        for top in (6, 19, 29):
            drawing = Drawing(kind)
            for left in np.arange(LEFT % (ratio * PITCH), 300, ratio * PITCH):
                drawing.box(left, top, left + 0.5 * ratio * PITCH, top + 14, GATE)
            yield f"holes every {ratio} steps at {top}", drawing


def dirt(kind: Kind) -> Iterator[tuple[str, Drawing]]:
    """Yield strips with hairs on edges, covered steps, and edge numbers."""
    for edge in (0, 1, 5, 11):
        x = LEFT + edge * PITCH
        yield f"a hair on edge {edge}", Drawing(kind).box(x - 2, 0, x + 2, 126, 1.9)
    for step in (1, 2, 3, 7, 11):
        x = LEFT + (step - 1) * PITCH
        yield f"step {step} covered", Drawing(kind).box(x, 0, x + PITCH, 126, 3.0)
    drawing, rng = Drawing(kind), np.random.default_rng(3)
    for left in np.arange(LEFT, 290, PITCH):
        for _ in range(4):
            drawing.box(left + rng.uniform(0, 5), 8, left + rng.uniform(6, 12), rng.uniform(14, 28), 2.4 - drawing.film)
    yield "edge numbers", drawing


def others(kind: Kind) -> Iterator[tuple[str, Drawing]]:
    """Yield strips with another ladder in the picture; the one meant is cut short, so that the other looks better."""
    drawing = Drawing(kind, pitch=12.0, left=15.0)
    yield "the same again behind it", drawing.add(drawing.right, 34, 92, 12, drawing.densities)
    drawing = Drawing(kind, pitch=12.0, left=15.0)
    yield "the same backwards behind it", drawing.add(drawing.right, 34, 92, 12, drawing.densities[::-1])
    drawing = Drawing(kind, top=8, bottom=53)
    yield "the same backwards below it", drawing.add(LEFT, 68, 113, PITCH, drawing.densities[::-1])
    drawing = Drawing(kind, top=8, bottom=53)
    yield "a shorter one below it", drawing.add(60, 68, 113, 12, drawing.densities)
    drawing = Drawing(kind, top=8, bottom=53).box(LEFT, 0, LEFT + PITCH, 60, HOLDER)
    yield "a whole one below a covered one", drawing.add(60, 68, 113, PITCH, drawing.densities)


TRAPS = [
    pytest.param(drawing, id=f"{kind}, {name}", marks=in_turns(number + shift, of=3))
    for shift, kind in enumerate(KINDS)
    for number, (name, drawing) in enumerate(itertools.chain(margins(kind), holes(kind), dirt(kind), others(kind)))
]
BEYOND = [
    pytest.param(kind, beyond, id=f"{kind}, {name}", marks=in_turns(number + shift))
    for shift, kind in enumerate(KINDS)
    for number, (name, beyond) in enumerate((("holder", HOLDER), ("gate", GATE)))
]


def test_there_are_enough_traps() -> None:
    assert len(TRAPS) >= 60


@pytest.mark.parametrize("drawing", TRAPS)
def test_a_trap_never_leads_to_a_ladder_that_is_off(drawing: Drawing) -> None:
    found = find_ladder(drawing.seen(), drawing.steps, drawing.kind)
    if found.ladder is not None:
        assert off_by(found.ladder, drawing) < 0.1


@pytest.mark.parametrize(("kind", "beyond"), BEYOND)
@pytest.mark.parametrize("asked", [9, 10, 12, 22])
def test_a_wrong_count_never_moves_the_steps(kind: Kind, beyond: float, asked: int) -> None:
    drawing = Drawing(kind, spread=0.6)
    drawing.outside(LEFT - PITCH, drawing.right + PITCH, beyond)
    found = find_ladder(drawing.seen(), asked, kind)
    assert found.ladder is None or off_by(found.ladder, drawing) < 0.1


@pytest.mark.parametrize(("kind", "beyond"), BEYOND)
@pytest.mark.parametrize("margin", [0.7, 1.0, 20 / 17, 2.0])
def test_the_other_kind_is_never_counted_backwards(kind: Kind, beyond: float, margin: float) -> None:
    # A strip cut exactly at its first and last step shows no film: there the kind that is asked for decides.
    drawing = Drawing(kind, spread=0.6)
    drawing.outside(LEFT - margin * PITCH, drawing.right + margin * PITCH, beyond)
    found = find_ladder(drawing.seen(), 11, "reversal" if kind == "negative" else "negative")
    assert found.ladder is None or off_by(found.ladder, drawing) < 0.1


@pytest.mark.parametrize("kind", KINDS)
def test_most_strips_between_odd_margins_are_found(kind: Kind) -> None:
    # Refusing everything would be no use: of four plain strips, our own choice, all are found.
    for margin in (0.7, 1.4):
        drawing = Drawing(kind)
        drawing.outside(LEFT - margin * PITCH, drawing.right + margin * PITCH, HOLDER)
        found = find_ladder(drawing.seen(), 11, kind)
        assert found.ladder is not None, f"{margin}: {found.doubt}"
        assert off_by(found.ladder, drawing) < 0.1
