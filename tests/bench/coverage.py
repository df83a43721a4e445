"""How often do intervals hold the simulated truth? ``python -m tests.bench.coverage --seeds 500``.

Every source of error that an interval claims to hold is drawn: misreadings, the wedge step by step, as a whole and in
scale, light and time and its evenness, the reader's zero and scale, the patches, the meter in use and its constant,
rounding, and in some designs gross misreadings. The truth comes from the definitions by other code. ``--films unseen``
and ``--films fresh`` take families that no constant was chosen by, ``--films ten`` the ten films of the tests.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves import Choices, analyse
from curves.errors import StripError
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import LAYERS, STOP, Channel, FloatArray, Kind, exact_ei
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from tests.bench.fresh import FRESH
from tests.bench.index_truth import SHADOW, WHITE, landing, truth_of
from tests.bench.shapes import FAMILIES, Film
from tests.bench.true_numbers import BASE, Curve, truth
from tests.bench.unseen import UNSEEN
from tests.sensitometry.analysis.ten_films import FILMS

Held = tuple[str, bool]

SPAN = 3.0
"""Densities that every wedge spans, whatever its steps [density]."""

LUX, SECONDS = 2000.0, 0.02
ENDS = np.array([-7.0, 4.0])
"""Log H of unexposed and of fully exposed film [log10 lux-seconds]."""


@dataclass(frozen=True)
class Design:
    """How a strip is made and read: everything has the uncertainty that its record states.

    Attributes:
        steps: of the wedge.
        noise: standard deviation of a reading [density].
        stated: what the record states of it, if not that [density].
        repeats: readings of each step.
        gross: share of readings that are wrong by about 0.3.
        wedge: standard uncertainty of a step [density].
        middle: least and greatest place of the film's middle above that of the wedge [log10].
        patches: False if no patches were read.
        heights: least and greatest Dmax less Dmin [density].
        kind: of film.
        common: False to leave out what is common to the strip: light, wedge as a whole, zero, scales, meter.
        layers: True for three layers of one curve, up to a stop apart, each read by itself.
    """

    steps: int = 21
    noise: float = 0.012
    stated: float | None = None
    repeats: int = 1
    gross: float = 0.0
    wedge: float = 0.008
    middle: tuple[float, float] = (-0.1, 0.1)
    patches: bool = True
    heights: tuple[float, float] = (2.3, 3.2)
    kind: Kind = "reversal"
    common: bool = True
    layers: bool = False


USUAL = Design()
DESIGNS: Mapping[str, Design] = {
    "usual": USUAL,
    "11 steps": replace(USUAL, steps=11),
    "31 steps": replace(USUAL, steps=31),
    "noise 0.005": replace(USUAL, noise=0.005),
    "noise 0.030": replace(USUAL, noise=0.030),
    "stated a third": replace(USUAL, noise=0.015, stated=0.005),
    "three readings": replace(USUAL, repeats=3),
    "3 % gross errors": replace(USUAL, gross=0.03),
    "nominal wedge 0.02": replace(USUAL, wedge=0.02),
    "readings alone": replace(USUAL, common=False, wedge=0.0),
    "low Dmax": replace(USUAL, heights=(0.9, 2.1)),
    "no patches": replace(USUAL, patches=False),
    "never clears": replace(USUAL, middle=(0.8, 1.0), patches=False),
    "cut anywhere": replace(USUAL, middle=(-1.1, 1.1), patches=False),
    "negative": replace(USUAL, kind="negative"),
    "soft negative": replace(USUAL, kind="negative", heights=(0.9, 1.6)),
    "layers": replace(USUAL, layers=True),
}


@dataclass(frozen=True, eq=False)
class Simulated:
    """A strip and what is true of it.

    Attributes:
        strip: as its record would describe it.
        curve: the film's density of log H in lux-seconds.
        known: true numbers by name.
        constant: K of the meter that the index is meant for [cd s / m2].
        meter: error of that meter, a factor of every index [unitless].
    """

    strip: Strip
    curve: Curve
    known: Mapping[str, float]
    constant: float
    meter: float


ORDER = (*sorted({**FAMILIES, **UNSEEN}), *FRESH)
"""The families in the order that their random numbers go by."""


def simulate(family: str, design: Design, seed: int) -> Simulated:
    """Return one strip of a film of a family, or of one of the ten films ("ten films")."""
    rng = np.random.default_rng((ORDER.index(family) if family in ORDER else 99, seed))
    middle = math.log10(LUX * SECONDS) - 0.05 - SPAN / 2 + rng.uniform(*design.middle)
    if family in ORDER:
        rise = {**FAMILIES, **UNSEEN, **FRESH}[family]
        film = Film(design.kind, rng.uniform(0.06, 0.45), rng.uniform(*design.heights), rise(rng, middle), middle)
        return read_strip(f"{family} {seed}", film.density, design, rng, truth(film.density, design.kind))
    one = list(FILMS.values())[seed % len(FILMS)]
    # The ten films lie elsewhere on the log H axis: the lamp is set so that the wedge ends where their strips do.
    moved = math.log10(LUX * SECONDS) - 0.05 - float(one.steps[-1])
    design = replace(design, patches=one.patches, steps=len(one.steps))
    return read_strip(f"ten films {seed}", lambda x: one.eye(x - moved), design, rng, {}, span=float(np.ptp(one.steps)))


def read_strip(
    title: str,
    density: Curve,
    design: Design,
    rng: np.random.Generator,
    known: dict[str, float],
    span: float = SPAN,
) -> Simulated:
    """Return a strip of a film, exposed and read with every error that its record states."""
    on = 1.0 if design.common else 0.0
    nominal = replace(
        Wedge.nominal(design.steps, span / (design.steps - 1), 0.05, design.wedge, common=0.01 * on),
        scale_uncertainty=0.005 * on,
    )
    light, whole, zero, meter, reader, stretch, fall = (
        on * rng.standard_normal(7) * (0.10 * STOP, 0.01, 0.01, 0.15 * STOP, 0.005, 0.005, 0.03 * STOP)
    )
    position = np.repeat(np.arange(1.0, design.steps + 1), design.repeats)
    step = position.astype(int) - 1
    wedge = nominal.density * (1.0 + stretch) + whole + design.wedge * rng.standard_normal(design.steps)
    uneven = fall * math.sqrt(12.0) * (nominal.density - nominal.density.mean()) / np.ptp(nominal.density)
    exposure = Contact(LUX, SECONDS, 0.10 * on, 0.15 * on, 0.03 * on, "daylight 5500 K")
    log_h = math.log10(LUX * SECONDS) + light - (wedge + uneven)[step]

    def read_as(true: FloatArray) -> FloatArray:
        return np.asarray(true * (1.0 + reader) + zero + design.noise * rng.standard_normal(true.shape))

    def read_steps(true: FloatArray) -> FloatArray:
        read = read_as(true)
        wrong = rng.random(position.size) < design.gross
        return np.asarray(np.round(np.where(wrong, read + 0.3 * rng.standard_normal(position.size), read), 2))

    def read_patch(at: float) -> Mapping[Channel, float]:
        return {c: float(np.round(read_as(density(np.array([at])))[0], 2)) for c in shifts}

    shifts: dict[Channel, float] = {"visual": 0.0}
    readings: dict[Channel, FloatArray] = {"visual": read_steps(density(log_h))}
    unexposed, fully_exposed = ({}, {}) if not design.patches else (read_patch(ENDS[0]), read_patch(ENDS[1]))
    constant = math.exp(rng.uniform(math.log(12.5), math.log(14.0)))
    known = known | _indexes(density, design.kind, constant, known) | {"dmax_reached": float(density(log_h).max())}
    patches = Patches({"visual": float(np.round(read_as(np.array([BASE]))[0], 2))}, unexposed, fully_exposed)
    if design.layers:
        # A quarter of the films have layers that are truly alike.
        alike = 0.0 if rng.random() < 0.25 else 0.3
        shifts = {c: float(rng.uniform(-0.5, 0.5) * alike) for c in LAYERS}
        readings = {c: read_steps(density(log_h - shift)) for c, shift in shifts.items()}
        patches = Patches({}, read_patch(ENDS[0]), read_patch(ENDS[1]))
        known = dict.fromkeys(("spread at T", "spread at S"), float(np.ptp(list(shifts.values()))) / STOP)
    strip = Strip(
        title, design.kind, "status A" if design.layers else "visual", exposure, position, readings, nominal,
        patches=patches, repeatability=design.stated or design.noise, reader_zero=0.01 * on, reader_scale=0.005 * on,
        process="the film's own", sample="mean of 4 strips of 2 rolls",
    )  # fmt: skip
    return Simulated(strip, density, known, constant, 10.0**meter)


def _indexes(density: Curve, kind: Kind, constant: float, known: Mapping[str, float]) -> dict[str, float]:
    """Return the true indexes of a film with a meter of constant K that is in no other error."""
    if kind == "negative":
        # The textured shadow lies three stops below mid-grey, on the speed point.
        shadow = 0.6516 * constant / 10.0 ** (known["speed"] - SHADOW)
        return {"ei speed point": known["iso_6"], "ei shadow": shadow}
    true = truth_of(density, constant)
    tones = {name: getattr(true, name) for name in ("highlight", "middle", "shadow", "cleared")}
    ends = {"index": true.index, "low end": true.low, "high end": true.high}
    points = {"T": true.t, "S": true.s, "M": 0.5 * (true.t + true.s), "dmin": true.dmin, "dmax": true.dmax}
    return points | {f"ei {name}": value for name, value in (tones | ends).items()}


def held(one: Simulated, analysis: Analysis) -> Iterator[Held]:
    """Yield, for every number whose truth is known, whether its interval or its bound holds it."""
    ei = analysis.working_ei
    if ei.layers is not None:
        yield from _one("spread at T", ei.layers.t_stops, one.known["spread at T"])
        yield from _one("spread at S", ei.layers.s_stops, one.known["spread at S"])
        return
    (found,) = analysis.channels.values()
    numbers = dict(found.measures) | {name: point.log_h for name, point in found.points.items()}
    numbers |= {name: speed.value for name, speed in analysis.speeds.items()}
    indexes = {f"ei {name}": criterion.ei for name, criterion in ei.criteria.items()}
    if ei.base is not None:
        indexes |= {"ei index": ei.recommended, "ei low end": ei.range[0], "ei high end": ei.range[1]}
    for name, quantity in (numbers | indexes).items():
        if name in one.known:
            yield from _one(name, quantity, one.known[name] * (one.meter if name in indexes else 1.0))
    if "iso_6" in analysis.speeds:
        yield "conforms", analysis.speeds["iso_6"].conforms == (abs(one.known["gain"] - 0.80) <= 0.05)
    if ei.nominal is None:
        return
    set_to = float(exact_ei(ei.nominal)) / one.meter
    for name, tone in zip(ei.placements, (WHITE, 0.0, SHADOW), strict=False):
        placed, true = ei.placements[name], landing(one.curve, set_to, one.constant, tone)
        yield from _one(f"density of {name}", placed.density, true)
        yield from _one(f"net density of {name}", placed.net, true - one.known["dmin"])
    if ei.base is not None and found.points["S"].meaning.endswith("shoulder"):
        yield from _one("S by the touch", found.points["S"].log_h, one.known["S"])


def _one(name: str, quantity: Quantity, true: float) -> Iterator[Held]:
    if quantity.low is not None and quantity.high is not None:
        yield name, quantity.low <= true <= quantity.high
    elif quantity.bound is not None:
        side, end = quantity.bound
        yield f"{name} (bound)", true < end if side == "<" else true > end


def count(family: str, design: Design, seeds: int, draws: int = 1000, first: int = 1) -> dict[str, tuple[int, int]]:
    """Return for each number how many of its intervals held the truth, of how many."""
    good, all_of = Counter[str](), Counter[str]()
    for seed in range(first, first + seeds):
        one = simulate(family, design, seed)
        try:
            analysis = analyse(one.strip, Choices(seed=seed, draws=draws, most_draws=draws))
        except StripError:
            all_of["refused"] += 1
            continue
        for name, holds in held(one, analysis):
            good[name] += holds
            all_of[name] += 1
    return {name: (good[name], all_of[name]) for name in all_of}


FILM_SETS: Mapping[str, tuple[str, ...]] = {
    "tuned": tuple(FAMILIES),
    "unseen": tuple(UNSEEN),
    "fresh": tuple(FRESH),
    "ten": ("ten films",),
}


def main() -> None:
    """Print the table: families down, numbers across, per cent held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=500)
    parser.add_argument("--first", type=int, default=1, help="the first of the seeds")
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--only", default="", help="part of a design's name")
    parser.add_argument("--films", choices=tuple(FILM_SETS), default="tuned")
    wanted = parser.parse_args()
    families = FILM_SETS[wanted.films]
    for name, design in DESIGNS.items():
        if wanted.only not in name:
            continue
        table = {family: count(family, design, wanted.seeds, wanted.draws, wanted.first) for family in families}
        numbers = list(dict.fromkeys(n for row in table.values() for n in row))
        print(f"\n{name}: {wanted.seeds} strips a family, per cent of intervals that held the truth")
        for number in numbers:
            cells = [table[f].get(number, (0, 0)) for f in families]
            cells.append((sum(good for good, _ in cells), sum(of for _, of in cells)))
            shown = (f"{100 * good / of:6.1f} {of:5d}" if of else "           -" for good, of in cells)
            print(f"  {number:26}", *shown, sep="  ", flush=True)
        print(f"  {'':26}", *(f"{f:>12}" for f in (*families, "all")), sep="  ", flush=True)


if __name__ == "__main__":
    main()
