"""How often do intervals hold the simulated truth? ``python -m tests.bench.coverage --seeds 500``.

Every source of error that an interval claims to hold is drawn: misreadings, the wedge step by step and as a whole,
light and time, the reader's zero, the patches, the meter in use, rounding, and in some designs gross misreadings.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves import Choices, analyse
from curves.errors import StripError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Kind
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from tests.bench.shapes import FAMILIES, Film, truth

Held = tuple[str, bool]

SPAN = 3.0
"""Densities that every wedge spans, whatever its steps [density]."""


@dataclass(frozen=True)
class Design:
    """How a strip is made and read: everything has the uncertainty that its record states.

    Attributes:
        steps: of the wedge.
        noise: standard deviation of a reading [density].
        repeats: readings of each step.
        gross: share of readings that are wrong by about 0.3.
        wedge: standard uncertainty of a step [density].
        clears: False for a strip that ends before the film has cleared, with no patches read.
        kind: of film.
        common: False to leave out what is common to the strip: light, wedge as a whole, zero, meter.
    """

    steps: int = 21
    noise: float = 0.012
    repeats: int = 1
    gross: float = 0.0
    wedge: float = 0.008
    clears: bool = True
    kind: Kind = "reversal"
    common: bool = True


USUAL = Design()
DESIGNS: Mapping[str, Design] = {
    "usual": USUAL,
    "11 steps": replace(USUAL, steps=11),
    "31 steps": replace(USUAL, steps=31),
    "noise 0.005": replace(USUAL, noise=0.005),
    "noise 0.030": replace(USUAL, noise=0.030),
    "three readings": replace(USUAL, repeats=3),
    "3 % gross errors": replace(USUAL, gross=0.03),
    "nominal wedge 0.02": replace(USUAL, wedge=0.02),
    "readings alone": replace(USUAL, common=False, wedge=0.0),
    "never clears": replace(USUAL, clears=False),
    "negative": replace(USUAL, kind="negative"),
}


def simulate(family: str, design: Design, seed: int) -> tuple[Strip, dict[str, float]]:
    """Return one strip of a film of the family, as its record would describe it, and the truth."""
    rng = np.random.default_rng((sorted(FAMILIES).index(family), seed))
    lux = 2000.0
    middle = np.log10(lux * 0.02) - 0.05 - SPAN / 2 + rng.uniform(-0.1, 0.1) + (0.0 if design.clears else 0.9)
    film = Film(
        design.kind, rng.uniform(0.10, 0.45), rng.uniform(2.3, 3.2), FAMILIES[family](rng, float(middle)), float(middle)
    )
    nominal = Wedge.nominal(
        design.steps, SPAN / (design.steps - 1), 0.05, design.wedge, common=0.01 if design.common else 0.0
    )
    on = 1.0 if design.common else 0.0
    light, whole, zero, meter = on * rng.standard_normal(4) * (0.10 * STOP, 0.01, 0.01, 0.15 * STOP)
    position = np.repeat(np.arange(1.0, design.steps + 1), design.repeats)
    error = design.wedge * rng.standard_normal(design.steps)[position.astype(int) - 1]
    exposure = Contact(lux, 0.02, 0.10 * on, 0.15 * on)
    true_log_h = exposure.log_h(position, nominal) + light - whole - error
    read = film.density(true_log_h) + zero + design.noise * rng.standard_normal(position.size)
    wrong = rng.random(position.size) < design.gross
    read = np.round(np.where(wrong, read + 0.3 * rng.standard_normal(position.size), read), 2)
    ends = film.density(np.array([-7.0, 4.0]))
    patches = Patches()
    if design.clears:
        seen = np.round(ends + zero + design.noise * rng.standard_normal(2), 2)
        patches = Patches(unexposed={"visual": float(seen[0])}, fully_exposed={"visual": float(seen[1])})
    strip = Strip(
        f"{family} {seed}", design.kind, "visual", exposure, position, {"visual": read}, nominal,
        patches=patches, repeatability=design.noise, reader_zero=0.01 * on,
    )  # fmt: skip
    known = {k: v * 10.0**meter if k.startswith("ei ") else v for k, v in truth(film).items()}
    return strip, known


def held(known: Mapping[str, float], analysis: Analysis) -> Iterator[Held]:
    """Yield, for every number whose truth is known, whether its interval or its bound holds it."""
    (found,) = analysis.channels.values()
    numbers = {key: found.measures[key] for key in ("dmin", "dmax", "gamma", "straight_stops")}
    numbers |= {name: point.log_h for name, point in found.points.items()}
    numbers |= {f"ei {name}": criterion.ei for name, criterion in analysis.working_ei.criteria.items()}
    for name, quantity in numbers.items():
        if name in known:
            yield from _one(name, quantity, known[name])


def _one(name: str, quantity: Quantity, true: float) -> Iterator[Held]:
    if quantity.low is not None and quantity.high is not None:
        yield name, quantity.low <= true <= quantity.high
    elif quantity.bound is not None:
        side, end = quantity.bound
        yield f"{name} (bound)", true < end if side == "<" else true > end


def count(family: str, design: Design, seeds: int, draws: int = 1000) -> dict[str, tuple[int, int]]:
    """Return for each number how many of its intervals held the truth, of how many."""
    good, all_of = Counter[str](), Counter[str]()
    for seed in range(1, seeds + 1):
        strip, known = simulate(family, design, seed)
        try:
            analysis = analyse(strip, Choices(seed=seed, draws=draws, most_draws=draws))
        except StripError:
            all_of["refused"] += 1
            continue
        for name, holds in held(known, analysis):
            good[name] += holds
            all_of[name] += 1
    return {name: (good[name], all_of[name]) for name in all_of}


def main() -> None:
    """Print the table: families down, numbers across, per cent held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--only", default="", help="part of a design's name")
    wanted = parser.parse_args()
    for name, design in DESIGNS.items():
        if wanted.only not in name:
            continue
        table = {family: count(family, design, wanted.seeds) for family in FAMILIES}
        numbers = list(dict.fromkeys(n for row in table.values() for n in row))
        print(f"\n{name}: {wanted.seeds} strips a family, per cent of intervals that held the truth")
        for number in numbers:
            cells = [table[f].get(number, (0, 0)) for f in FAMILIES]
            shown = (f"{100 * good / of:6.1f} {of:5d}" if of else "           -" for good, of in cells)
            print(f"  {number:22}", *shown, sep="  ", flush=True)
        print(f"  {'':22}", *(f"{f:>12}" for f in FAMILIES), sep="  ", flush=True)


if __name__ == "__main__":
    main()
