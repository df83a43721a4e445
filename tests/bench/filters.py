"""How good are predictions behind filters? ``python -m tests.bench.filters --films 200``.

Random films and stacks from spectra (`tests.spectral`): what the bare strip and the filters' densities foretell,
against what the film truly does behind the stack. Filters are known as the film sees them (measured with
two strips each) or as a densitometer reads them.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from curves import Choices, analyse
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import CHANNELS, LAYERS, STOP
from curves.sensitometry.filters.behind import BareStrip
from curves.sensitometry.filters.cast import TONES
from curves.sensitometry.filters.densities import DensitySource, Filter, filter_of
from curves.sensitometry.filters.from_strips import measure_filter
from curves.sensitometry.filters.prediction import index_of
from curves.sensitometry.filters.stacks import (
    STOP_WORTH,
    FilterRows,
    enumerate_stacks,
    predict_stack,
    rank_stacks,
    stack_densities,
)
from curves.sensitometry.strip.exposure import GivenExposure
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.uncertainty.results import Analysis
from tests import spectral
from tests.simulate import NOMINAL, Film
from tests.spectral import Glass, SpectralFilm

LOG_H = np.log10(40.0) - NOMINAL


def numbers(q: Quantity) -> tuple[float, float, float]:
    """Return a quantity's value and the ends of its interval; it must have them."""
    assert q.value is not None
    assert q.low is not None
    assert q.high is not None
    return q.value, q.low, q.high


def drawer_of(rng: np.random.Generator) -> list[Glass]:
    """Return the glass of a small drawer, its dyes a little off as batches are."""
    return [
        spectral.conversion(-81.0, rng),
        spectral.conversion(35.0, rng),
        spectral.conversion(131.0, rng),
        spectral.cc(10.0, "magenta", rng),
        spectral.cc(20.0, "magenta", rng),
        spectral.cc(20.0, "yellow", rng),
        spectral.cc(20.0, "cyan", rng),
        spectral.cc(40.0, "red", rng),
    ]


def strip_of(film: Film, rng: np.random.Generator) -> Strip:
    """Return one reading of a strip as the package takes it: exposed and metered without error."""
    read, patches = spectral.readings(film, LOG_H, rng)
    by_name = {name: {c: values[c] for c in CHANNELS} for name, values in patches.items()}
    return Strip(
        title="simulated",
        kind="reversal",
        density="status A",
        exposure=GivenExposure("lux-seconds", uncertainty_stops=0.0, meter_uncertainty_stops=0.0),
        position=LOG_H,
        readings={c: read[c] for c in CHANNELS},
        patches=Patches(**by_name),
        repeatability=0.01,
        reader_zero=0.0,
    )


def known_by_film(
    film: SpectralFilm, glass: Glass, bare: Analysis, choices: Choices, rng: np.random.Generator
) -> tuple[Filter, list[bool], float]:
    """Return a filter as two strips show it, whether each layer's interval held the truth, and its stops."""
    other = analyse(strip_of(film.behind(glass), rng), choices)
    found = measure_filter(bare, other, choices)
    seen = film.sees(glass)
    densities, held = [], []
    for c in LAYERS:
        value, low, high = numbers(found.layers[c].density)
        densities.append(value)
        held.append(low <= seen[c] <= high)
    one = filter_of(glass.name, densities, "film", visual=glass.to(spectral.METER), uncertainty=found.uncertainty)
    return one, held, numbers(found.film_stops)[0]


def known_by(source: DensitySource, glass: Glass) -> Filter:
    """Return a filter as a densitometer reads it."""
    read = glass.densitometer()
    return filter_of(glass.name, [read[c] for c in LAYERS], source, visual=glass.to(spectral.METER))


@dataclass
class Tally:
    """Errors and intervals of one way of knowing filters."""

    stops: list[float] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    bare_stops: list[float] = field(default_factory=list)
    cast: list[float] = field(default_factory=list)
    held: dict[str, list[bool]] = field(default_factory=lambda: defaultdict(list))
    shift_errors: list[float] = field(default_factory=list)
    ranked: list[int] = field(default_factory=list)
    factors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def add(self, bare: BareStrip, film: SpectralFilm, filters: Sequence[Filter], glasses: Sequence[Glass]) -> None:
        """Predict one stack and compare it with the truth."""
        glass = spectral.stacked(glasses)
        behind = film.behind(glass)
        drawn = FilterRows.of(filters, bare.rows, bare.choices.seed)
        one = predict_stack(bare, drawn, tuple(range(len(filters)))).prediction
        ei, cost_of = numbers(one.ei), numbers(one.cost)
        true = spectral.index(spectral.grey_place(film.film, behind))
        own = spectral.index(spectral.grey_place(film.film, film.film))
        self.bare_stops.append(abs(math.log10(bare.metering.index_at_zero * 10.0 ** -float(bare.grey[0]) / own)) / STOP)
        bare_ei = numbers(index_of(bare, bare.grey))
        self.held["EI of the bare strip"].append(bare_ei[1] <= own <= bare_ei[2])
        self.stops.append(abs(math.log10(ei[0] / true)) / STOP)
        cost = (spectral.grey_place(film.film, behind)
                - spectral.grey_place(film.film, film.film)) / STOP  # fmt: skip
        self.cost.append(abs(cost_of[0] - cost))
        self.held["cost"].append(cost_of[1] <= cost <= cost_of[2])
        self.held["EI"].append(ei[1] <= true <= ei[2])
        casts = spectral.true_casts(behind, float(one.grey[0]))
        misses = []
        for tone in TONES:
            for c in LAYERS:
                q = one.casts[tone].layers[c]
                if q.value is None or q.low is None or q.high is None:
                    continue
                misses.append(abs(q.value - casts[tone][c]))
                self.held[f"cast at {tone}"].append(q.low <= casts[tone][c] <= q.high)
            amount = one.casts[tone].amount
            if amount.low is not None and amount.high is not None:
                strength = math.sqrt(1.5 * sum(v**2 for v in casts[tone].values()))
                self.held["strength of a cast"].append(amount.low <= strength <= amount.high)
        self.cast.append(max(misses))
        total = one.cast_left
        if total.low is not None and total.high is not None:
            self.held["cast left"].append(total.low <= spectral.cast_left(casts) <= total.high)
        seen = film.sees(glass)
        self.shift_errors += [float(one.shifts[0, i]) - seen[c] for i, c in enumerate(LAYERS)]

    def rank(self, bare: BareStrip, filters: Sequence[Filter], true: Sequence[float]) -> None:
        """Note at which place, among the true ones, the stack stands that is predicted to be best."""
        members = enumerate_stacks([1] * len(filters), 3)
        cast, cost = rank_stacks(bare, stack_densities(np.array([f.densities for f in filters]), members))
        best = true[int((cast + STOP_WORTH * cost).argmin())]
        self.ranked.append(1 + sum(one < best - 1e-9 for one in true))


def true_worth(film: SpectralFilm, glasses: Sequence[Glass]) -> list[float]:
    """Return what every stack of up to three truly leaves: its cast, a stop counting as `STOP_WORTH` [density]."""
    bare_grey = spectral.grey_place(film.film, film.film)
    found = []
    for stack in itertools.chain.from_iterable(enumerate_stacks([1] * len(glasses), 3)):
        behind = film.behind(spectral.stacked([glasses[i] for i in stack]))
        grey = spectral.grey_place(film.film, behind)
        left = spectral.cast_left(spectral.true_casts(behind, grey))
        found.append(left + STOP_WORTH * (grey - bare_grey) / STOP)
    return found


def run(films: int, *, draws: int = 400, ranked: int = 0, first: int = 0) -> Mapping[str, Tally]:
    """Return the tallies by source: random films, each with a random stack of one to three filters.

    Args:
        films: how many.
        draws: curves drawn for intervals.
        ranked: for how many of the films the whole drawer is measured and ranked.
        first: seed of the first film.
    """
    tallies = {"film": Tally(), "densitometer": Tally()}
    for number in range(first, first + films):
        rng = np.random.default_rng((number, 2026))
        film, drawer = spectral.random_film(rng), drawer_of(rng)
        choices = Choices(draws=draws, most_draws=0, seed=number, meter_constant=spectral.CONSTANT)
        analysis = analyse(strip_of(film.film, rng), choices)
        bare = BareStrip.of(analysis, choices)
        bare_grey = spectral.grey_place(film.film, film.film)
        picked = sorted(rng.choice(len(drawer), size=int(rng.integers(1, 4)), replace=False).tolist())
        wanted = range(len(drawer)) if number - first < ranked else picked
        by_film = {}
        for i in wanted:
            by_film[i], held, stops = known_by_film(film, drawer[i], analysis, choices, rng)
            tallies["film"].held["density of a filter"] += held
            behind = film.behind(drawer[i])
            true_stops = (spectral.grey_place(film.film, behind) - bare_grey) / STOP
            tallies["film"].factors["two strips"].append(abs(stops - true_stops))
            tallies["film"].factors["a spot meter"].append(abs(spectral.spot_metered(drawer[i], rng) - true_stops))
        by_reading = {i: known_by("densitometer", glass) for i, glass in enumerate(drawer)}
        true = true_worth(film, drawer) if number - first < ranked else []
        for name, known in (("film", by_film), ("densitometer", by_reading)):
            tallies[name].add(bare, film, [known[i] for i in picked], [drawer[i] for i in picked])
            if true:
                tallies[name].rank(bare, [known[i] for i in range(len(drawer))], true)
    return tallies


def report(tallies: Mapping[str, Tally]) -> list[str]:
    """Return the table as lines."""
    lines = []
    for name, tally in tallies.items():
        stops, cost, cast = (np.quantile(v, [0.5, 0.95]) for v in (tally.stops, tally.cost, tally.cast))
        lines += [
            f"filters known by {name}, {len(tally.stops)} films and stacks",
            f"  EI: half within {stops[0]:.3f} stop, 95 % within {stops[1]:.3f}",
            f"  (EI of the bare strip itself: 95 % within {np.quantile(tally.bare_stops, 0.95):.3f})",
            f"  exposure cost: half within {cost[0]:.3f} stop, 95 % within {cost[1]:.3f}",
            f"  greatest miss of a layer's cast: half within {cast[0]:.3f}, 95 % within {cast[1]:.3f} density",
            f"  density of a stack to a layer: rms error {np.std(tally.shift_errors):.3f}",
            *(f"  interval of {k:22} held {100 * np.mean(v):5.1f} %  of {len(v)}" for k, v in tally.held.items()),
        ]
        lines += [
            f"  factor of one filter by {k}: 95 % within {np.quantile(v, 0.95):.2f} stop, of {len(v)}"
            for k, v in tally.factors.items()
        ]
        if tally.ranked:
            share = 100 * np.mean(np.array(tally.ranked) <= 3)
            lines.append(f"  best of the drawer among the true best three: {share:.0f} % of {len(tally.ranked)}")
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=200)
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--ranked", type=int, default=100)
    wanted = parser.parse_args()
    for line in report(run(wanted.films, draws=wanted.draws, ranked=wanted.ranked)):
        print(line)


if __name__ == "__main__":
    main()
