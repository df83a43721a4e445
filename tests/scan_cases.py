"""Scans of every sort, drawn at random: film, steps, direction, surroundings, light, dust and noise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.core.units import Kind
from curves.sensitometry.scan.ladder import Ladder, LadderSearch
from tests.simulate import HERON_AS_SLIDE, HERON_NEGATIVE, WREN_AS_SLIDE, Array, Film, Layer, emulsions
from tests.simulate_scan import Around, Made, ScanScene, scan

WREN_NEGATIVE = Film("negative", {"visual": Layer(0.04, 0.06, 2.30, emulsions(-0.50, 1.20, 0.75))})
FILMS = {
    "colour as slide": HERON_AS_SLIDE,
    "colour negative": HERON_NEGATIVE,
    "grey as slide": WREN_AS_SLIDE,
    "grey negative": WREN_NEGATIVE,
}


@dataclass(frozen=True)
class Case:
    """A scan, what is asked of it, and the groups it is counted in."""

    number: int
    made: Made
    scene: ScanScene
    kind: Kind
    asked: int
    groups: tuple[str, ...]


def kind_of(film: Film) -> Kind:
    """Return the kind of a film."""
    return "negative" if film.kind == "negative" else "reversal"


def densities(film: Film, steps: int, increment: float, brightest: float) -> Array:
    """Return true densities of a strip's steps, (steps, samples), the first exposed by ``brightest`` [log10 lux s]."""
    log_h: Array = brightest - increment * np.arange(steps, dtype=np.float64)
    return np.column_stack([film.density(c, log_h) for c in film.layers])


def bounds(film: Film) -> tuple[Array, Array]:
    """Return the densities of unexposed film and of the support, each (samples,)."""
    unexposed = np.array([film.patch("unexposed", c) for c in film.layers])
    return unexposed, np.array([film.patch("base", c) for c in film.layers])


def cases(count: int, first: int = 0) -> Iterator[Case]:
    """Return so many scans, the same ones every time."""
    for number in range(first, first + count):
        yield case(number)


def case(number: int) -> Case:
    """Return one scan of the series."""
    rng = np.random.default_rng((31, number))
    name = list(FILMS)[number % 4]
    film = FILMS[name]
    steps = (11, 21, 31)[number // 4 % 3]
    increment = {11: 0.30, 21: 0.15, 31: 0.10}[steps]
    unexposed, base = bounds(film)
    # The lamp was set so that the steps lie about the film's scale, more or less well.
    middle = {"reversal": -0.2, "negative": 0.3}[film.kind]
    brightest = middle + 0.5 * increment * (steps - 1) + rng.uniform(-0.5, 0.5)
    long = 1000 if steps < 31 else 1300
    pitch = rng.uniform(0.45, 0.80) * long / steps
    around: tuple[Around, ...] = ("film", "gate", "holder")
    beyond = around[int(rng.integers(3))]
    spare = (long - pitch * steps) / 2
    scene = ScanScene(
        densities=densities(film, steps, increment, brightest),
        film=unexposed,
        base=base,
        width=long,
        height=600,
        pitch=pitch,
        across=rng.uniform(60.0, 160.0),
        angle=rng.uniform(-10.0, 10.0),
        turned=int(rng.integers(4)),
        before=rng.uniform(0.3, 1.0) * spare * 0.8,
        after=rng.uniform(0.3, 1.0) * spare * 0.8,
        beside=rng.uniform(10.0, 60.0),
        beyond=beyond,
        border=rng.choice([0.0, 12.0]),
        fall_off=rng.uniform(0.0, 0.25),
        flare=rng.uniform(0.0, 0.006),
        grain=float(10.0 ** rng.uniform(-2.5, -1.2)),
        noise=rng.choice([5e-5, 2e-4, 8e-4]),
        dust=int(rng.integers(0, 80)),
        scratch=bool(rng.integers(2)),
    )
    groups = (
        "all",
        f"film: {name}",
        f"steps: {steps}",
        f"around: {beyond}",
        f"angle: {'over' if abs(scene.angle) > 5 else 'to'} 5 degrees",
        f"turned: {scene.turned} quarters",
        f"read noise: {scene.noise:g}",
        f"light fall-off: {'over' if scene.fall_off > 0.12 else 'to'} 12 %",
        f"dust: {'over' if scene.dust > 40 else 'to'} 40 specks",
        f"scratch: {'yes' if scene.scratch else 'no'}",
    )
    return Case(number, scan(scene, number), scene, kind_of(film), steps, groups)


def misplaced(found: LadderSearch, case: Case) -> float:
    """Return how far the worst corner of a ladder along the strip is off [steps]; infinity if there is none."""
    if found.ladder is None:
        return float("inf")
    return off_by(found.ladder, case.made.corners)


def off_by(ladder: Ladder, corners: Array) -> float:
    """Return the greatest distance of the middles of a ladder's ends from the true ones [steps]."""
    ends = [0.5 * (c[[0, 2]] + c[[1, 3]]) for c in (ladder.corners, corners)]
    pitch = np.hypot(*(ends[1][1] - ends[1][0])) / ladder.steps
    along = (ends[1][1] - ends[1][0]) / np.hypot(*(ends[1][1] - ends[1][0]))
    return float(np.abs((ends[0] - ends[1]) @ along).max() / pitch)
