"""How often do a series' intervals hold the truth? ``python -m tests.bench.series``.

Series of reversal strips of films that no constant was chosen by, developed for several times by laws of development
that share no code with the trend: speed, contrast and Dmin follow the time, Dmax stays. One room, with every error that
its records state, exposes and reads all strips; each strip's process scatters by itself.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from curves import Choices, analyse
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.numbers import comparable_numbers, on_scale
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.series.strips import StripSeries, strip_series
from curves.sensitometry.series.trend import Repeatability
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.comparing import LUX, SECONDS, SPAN, Room
from tests.bench.fresh import FRESH
from tests.bench.shapes import Film
from tests.bench.true_numbers import truth
from tests.bench.unseen import UNSEEN

CONTRADICTED = 2.5
"""Contradiction from which the program tells of it [standard uncertainties]."""

KEY = "first_developer_minutes"
NUMBERS = ("iso_2240", "T", "S", "gamma", "average_gradient", "dmin", "dmax")
DIRECTED = ("iso_2240", "T", "S", "dmin")
"""Numbers whose usual direction the trade knows."""

Law = Callable[[float], float]
SHAPES = {**UNSEEN, **FRESH}


def saturating(rng: np.random.Generator) -> Law:
    """Return a first-order approach to an end that some times nearly reach."""
    rate = rng.uniform(0.10, 0.35)
    return lambda t: 1.0 - math.exp(-rate * t)


def delayed(rng: np.random.Generator) -> Law:
    """Return growth that begins after a while and ends slowly: a power law of Hill's shape."""
    half, power = rng.uniform(3.0, 8.0), rng.uniform(1.2, 2.6)
    return lambda t: float(t**power / (half**power + t**power))


def root(rng: np.random.Generator) -> Law:
    """Return growth by a power of time, as diffusion gives it."""
    power = rng.uniform(0.3, 0.8)
    return lambda t: (t / 8.0) ** power


LAWS = (saturating, delayed, root)


@dataclass(frozen=True)
class Process:
    """A film and what a time of the first development makes of it, on average.

    Attributes:
        film: as the usual time leaves it.
        grown: from 0 at the first time of the series to 1 at the last.
        stops, stretch, cleared: gain of speed [stops], of contrast [unitless] and loss of Dmin [density], over all.
    """

    film: Film
    grown: Law
    stops: float
    stretch: float
    cleared: float

    def at(self, minutes: float, slower: float = 0.0, flatter: float = 0.0, veil: float = 0.0) -> Film:
        """Return the film at a time, off the average by stops, by a share of contrast, and by density."""
        grown = self.grown(minutes)
        middle = self.film.middle + STOP * (slower - self.stops * grown)
        steeper = (1.0 + self.stretch * grown) * (1.0 - flatter)
        dmin = self.film.dmin + self.cleared * (1.0 - grown) + veil
        rise, still = self.film.rise, self.film.middle
        top = self.film.dmin + self.film.height

        def moved(x: FloatArray) -> FloatArray:
            return rise(still + steeper * (x - middle))

        return replace(self.film, dmin=dmin, height=top - dmin, rise=moved, middle=middle)

    def true(self, minutes: float) -> dict[str, float]:
        """Return the true numbers of the average strip at a time."""
        return truth(self.at(minutes).density, "reversal")


def process(rng: np.random.Generator, first: float, last: float) -> Process:
    """Return a process at random."""
    middle = math.log10(LUX * SECONDS) - 0.10 - SPAN / 2
    name = sorted(SHAPES)[int(rng.integers(len(SHAPES)))]
    film = Film("reversal", rng.uniform(0.06, 0.25), rng.uniform(2.3, 3.0), SHAPES[name](rng, middle), middle)
    law = LAWS[int(rng.integers(len(LAWS)))](rng)

    def grown(minutes: float) -> float:
        return (law(minutes) - law(first)) / (law(last) - law(first))

    return Process(film, grown, rng.uniform(0.4, 1.8), rng.uniform(-0.05, 0.25), rng.uniform(0.0, 0.35))


@dataclass(frozen=True)
class Trial:
    """A simulated series, analysed, with its truth."""

    found: StripSeries
    process: Process
    asked: float
    alike: StripSeries | None


def trial(
    seed: int, *, times: int = 5, beyond: float = 0.0, rooms: int = 1, draws: int = 500, stated: bool = False
) -> Trial:
    """Return one series.

    Args:
        seed: of everything.
        times: number of settings.
        beyond: how far beyond the series' end the setting lies that is sought, as a share of its length; 0 for within.
        rooms: 1 for one wedge, light and reader for all strips, more for one each.
        draws: of the analyses.
        stated: True to state the scatter of the process, instead of leaving it to be learnt from the strips.
    """
    rng = np.random.default_rng((seed, times, 616))
    first, last = rng.uniform(4.0, 6.0), rng.uniform(8.5, 12.0)
    developed = process(rng, first, last)
    minutes = [float(np.round(t, 1)) for t in np.geomspace(first, last, times)]
    size = rng.uniform(0.03, 0.12)
    kitchens = [Room.drawn(number, rng) for number in range(rooms)]
    analyses, choices = [], Choices(seed=seed, draws=draws, most_draws=draws)
    for number, t in enumerate(minutes):
        off = rng.standard_normal(3) * (size, 0.25 * size, 0.15 * size)
        strip = kitchens[number % rooms].strip(developed.at(t, off[0], off[1], off[2]), rng)
        recorded = replace(strip, title=f"{t} min", conditions={KEY: t})
        # All sources at once, as `analyse` draws them, without the budget of each.
        analyses.append(analyse_alone(recorded, list(sources_of(recorded)), choices))
    ends = minutes[0], minutes[-1]
    inside = ends[0] * (ends[1] / ends[0]) ** rng.uniform(0.0, 1.0)
    asked = inside if beyond == 0.0 else ends[1] + beyond * (ends[1] - ends[0])
    true = developed.true(asked)
    wanted = {name: true[name] for name in NUMBERS if name in true}
    known = Repeatability(size, 0.15 * size, 0.25 * size * true["gamma"]) if stated else None
    found = strip_series(analyses, KEY, wanted, scatter=known)
    if rooms > 1:
        return Trial(found, developed, asked, None)
    # The same number as the same room shows it, without the errors of one strip.
    shown = analyse(kitchens[0].strip(developed.at(asked), None), Choices(draws=0, most_draws=0))
    values = {w.number.key: comparable_numbers(shown)[w.number.key].shown.value for w in found.wanted}
    again = {key[0]: value for key, value in values.items() if value is not None}
    return Trial(found, developed, asked, strip_series(analyses, KEY, again, scatter=known))


@dataclass
class Count:
    """How often intervals hold, of how many, and how wide they are."""

    held: int = 0
    of: int = 0
    under: int = 0
    plain: int = 0
    width: float = 0.0


def settings_hold(one: Trial, *, alike: bool) -> Iterator[tuple[str, bool, bool, float | None]]:
    """Give each number with whether its setting's interval holds the truth, lies above it, and its width [min].

    An interval that is open on both sides, as of a number that hardly moves, cannot miss and is left out.

    Args:
        one: the series.
        alike: True for settings of values that the same room shows, False for settings of true values.
    """
    series = one.alike if alike else one.found
    for found in () if series is None else series.wanted:
        setting = found.alike if alike else found.setting
        if setting is None or (setting.low is None and setting.high is None):
            continue
        low, high = setting.low, setting.high
        least, most = -math.inf if low is None else low, math.inf if high is None else high
        width = most - least if math.isfinite(most - least) and setting.value is not None else None
        yield found.number.key[0], least <= one.asked <= most, one.asked < least, width


def bands_hold(one: Trial) -> Iterator[tuple[str, bool, bool, float | None]]:
    """Give each number with whether its band holds the truth at a few places, lies above it, and its width."""
    for (name, channel), number in one.found.numbers.items():
        if name not in NUMBERS or number.trend is None:
            continue
        scale = one.found.scale_of(number)
        for place in (0.15, 0.5, 0.85):
            true = one.process.true(float(scale.setting(place))).get(name)
            if true is None:
                continue
            value = float(on_scale((name, channel), np.asarray(true)))
            low, high = (float(np.interp(place, number.trend.place, y)) for y in (number.trend.low, number.trend.high))
            yield name, low <= value <= high, value < low, high - low


def false_alarms(one: Trial) -> Iterator[tuple[str, bool]]:
    """Give each remark that no series here deserves, with whether it is made: contradictions, and a Dmax that moves."""
    for (name, _), number in one.found.numbers.items():
        if name in DIRECTED and number.trend is not None:
            yield f"{name} against its direction", number.trend.against > CONTRADICTED
        if name == "dmax" and number.change is not None:
            yield "Dmax moves", number.change.verdict == "differs"


def counted(trials: Iterator[tuple[str, bool, bool, float | None]], into: dict[str, Count]) -> None:
    """Add what holds to the counts by number."""
    for name, holds, above, width in trials:
        count = into[name]
        count.held, count.of, count.under = count.held + holds, count.of + 1, count.under + (above and not holds)
        if width is not None:
            count.plain, count.width = count.plain + 1, count.width + width


def main() -> None:
    """Print how often settings and bands hold the truth, number by number."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=100)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--rooms", type=int, default=1)
    parser.add_argument("--beyond", type=float, default=0.0)
    parser.add_argument("--stated", action="store_true", help="the scatter of the process is known")
    asked = parser.parse_args()
    settings: dict[str, Count] = defaultdict(Count)
    again: dict[str, Count] = defaultdict(Count)
    bands: dict[str, Count] = defaultdict(Count)
    alarms: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for seed in range(asked.start, asked.start + asked.series):
        one = trial(seed, times=asked.times, rooms=asked.rooms, beyond=asked.beyond, stated=asked.stated)
        counted(settings_hold(one, alike=False), settings)
        counted(settings_hold(one, alike=True), again)
        counted(bands_hold(one), bands)
        for name, told in false_alarms(one):
            alarms[name] = (alarms[name][0] + told, alarms[name][1] + 1)
    for title, counts in (("settings", settings), ("settings measured alike", again), ("bands", bands)):
        print(f"\n{title} that hold the truth, {asked.series} series of {asked.times} settings")
        if not counts:
            continue
        total = Count(sum(c.held for c in counts.values()), sum(c.of for c in counts.values()))
        for name, c in {**counts, "all": total}.items():
            width = f"{c.width / c.plain:8.3f} wide, closed {100 * c.plain / c.of:.0f} %" if c.plain else ""
            print(f"  {name:18}{100.0 * c.held / c.of:6.1f} % of {c.of:5} (above {c.under}){width}", flush=True)
    print("\nremarks made though nothing is amiss")
    for name, (made, of) in alarms.items():
        print(f"  {name:32}{made} of {of}")


if __name__ == "__main__":
    main()
