"""How often does a comparison find a difference, there or not? ``python -m tests.bench.comparing``.

Pairs of strips of films that no constant was chosen by: both of one film (a null pair), or the second film shifted by
some stops. Every error that the records state is drawn: once for both where one wedge, light, reader and meter served
both strips, with the scatter of one exposure against the other, apart where not.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves import Choices
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.differences import StripComparison, Tolerances, compare_strips
from curves.sensitometry.comparison.pairs import EXPOSED_AGAIN
from curves.sensitometry.core.units import STOP, FloatArray
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.shapes import Film
from tests.bench.unseen import UNSEEN

LUX, SECONDS, STEPS, SPAN, NOISE, OF_STEP = 2000.0, 0.02, 21, 3.0, 0.012, 0.01
DRAWS = 500
ANY = Tolerances(1e3, 1e3, 1e3)
"""Tolerances beside which a difference either is there or is not: nothing is left open."""

ENDS = np.array([-7.0, 4.0])
"""Log H of unexposed and of fully exposed film [log10 lux-seconds]."""


@dataclass(frozen=True)
class Room:
    """One wedge, light and reader, and how far each is off what its record states.

    Attributes:
        number: tells the records of one room from those of another.
        wedge: as the record has it.
        true: its true densities [density].
        light: error of light and time [log10].
        zero, scale: of the reader [density], [unitless].
    """

    number: int
    wedge: Wedge
    true: FloatArray
    light: float
    zero: float
    scale: float

    @classmethod
    def drawn(cls, number: int, rng: np.random.Generator) -> Room:
        """Return a room with errors of the stated sizes."""
        # A thousandth of density tells one wedge from another.
        nominal = Wedge.nominal(STEPS, SPAN / (STEPS - 1), 0.05 + 0.001 * number, OF_STEP, common=0.01)
        wedge = replace(nominal, scale_uncertainty=0.005)
        light, whole, zero, scale, stretch = rng.standard_normal(5) * (0.10 * STOP, 0.01, 0.01, 0.005, 0.005)
        true = wedge.density * (1.0 + stretch) + whole + OF_STEP * rng.standard_normal(STEPS)
        return cls(number, wedge, true, light, zero, scale)

    def strip(self, film: Film, rng: np.random.Generator | None, *, again: bool = True) -> Strip:
        """Return a strip of a film, exposed and read here.

        Args:
            film: what is exposed.
            rng: random numbers; without them only the room's errors are in the strip.
            again: True if the room exposes another strip too, from which this exposure scatters; of one exposure alone
                the error of light and time holds all.
        """
        exposure = Contact(LUX + self.number, SECONDS, 0.10, 0.15, 0.0, "daylight 5500 K")
        scatter = 0.0 if rng is None else EXPOSED_AGAIN * STOP * rng.standard_normal()
        log_h = math.log10(LUX * SECONDS) + self.light + again * scatter - self.true

        def read(true: FloatArray) -> FloatArray:
            seen = true * (1.0 + self.scale) + self.zero
            return seen if rng is None else np.asarray(np.round(seen + NOISE * rng.standard_normal(true.shape), 2))

        ends = read(film.density(ENDS))
        patches = Patches(unexposed={"visual": float(ends[0])}, fully_exposed={"visual": float(ends[1])})
        return Strip(
            f"room {self.number}", "reversal", "visual", exposure, np.arange(1.0, STEPS + 1),
            {"visual": read(film.density(log_h))}, self.wedge, patches=patches, repeatability=NOISE, reader_zero=0.01,
            reader_scale=0.005, reader=f"reader {self.number}", film="invented",
        )  # fmt: skip


def pair(seed: int, *, shared: bool, stops: float = 0.0) -> StripComparison:
    """Return the comparison of a film with the same film made slower.

    Args:
        seed: of film and errors.
        shared: True if one room served both strips.
        stops: exposure that the second film needs beyond the first [stops].
    """
    rng = np.random.default_rng((seed, shared))
    names = sorted(UNSEEN)
    middle = math.log10(LUX * SECONDS) - 0.05 - SPAN / 2
    rise = UNSEEN[names[seed % len(names)]](rng, middle)
    film = Film("reversal", rng.uniform(0.06, 0.40), rng.uniform(2.3, 3.2), rise, middle)
    # A film that is mirrored half as far on lies that far on.
    slower = replace(film, middle=film.middle + 0.5 * stops * STOP)
    rooms = [Room.drawn(0, rng), Room.drawn(1, rng)]
    strips = [rooms[0].strip(film, rng, again=shared), rooms[0 if shared else 1].strip(slower, rng, again=shared)]
    choices = Choices(seed=seed, draws=DRAWS, most_draws=DRAWS)
    # All sources at once, as `analyse` draws them, without the budget of each, and without what would tell more.
    (found,) = compare_strips([analyse_alone(strip, list(sources_of(strip)), choices) for strip in strips], ANY)
    return found


def apart(found: StripComparison) -> Iterator[tuple[str, bool]]:
    """Give each number with whether the comparison finds the strips to differ in it."""
    for one in found.differences:
        if one.verdict != "not known":
            yield one.first.key[0], one.verdict in ("differs", "slight")


def count(pairs: Iterable[StripComparison]) -> dict[str, tuple[int, int]]:
    """Return for each number how many pairs were found to differ, of how many."""
    told, of = Counter[str](), Counter[str]()
    for found in pairs:
        for name, differs in apart(found):
            told[name] += differs
            of[name] += 1
    return {name: (told[name], of[name]) for name in of}


def of_all(found: Mapping[str, tuple[int, int]]) -> tuple[int, int]:
    """Return how many numbers were found to differ, of how many, all numbers together."""
    told, of = (sum(each) for each in zip(*found.values(), strict=True))
    return told, of


def error_of_all(pairs: Sequence[StripComparison]) -> float:
    """Return the standard error of the share of all numbers found to differ [unitless]: numbers of a pair go together.

    A ratio of sums over pairs, each pair drawn by itself (the usual estimator of a ratio, from memory).
    """
    each = np.array([[sum(differs for _, differs in apart(found)), sum(1 for _ in apart(found))] for found in pairs])
    share = each[:, 0].sum() / each[:, 1].sum()
    off = each[:, 0] - share * each[:, 1]
    return float(np.sqrt((off**2).sum()) / each[:, 1].sum())


def main() -> None:
    """Print the share of pairs that were found to differ, number by number."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--stops", type=float, default=0.0)
    parser.add_argument("--rooms", type=int, choices=(1, 2), help="one or two alone; both if not given")
    wanted = parser.parse_args()
    for shared in (True, False) if wanted.rooms is None else (wanted.rooms == 1,):
        seeds = range(wanted.start, wanted.start + wanted.pairs)
        pairs = [pair(seed, shared=shared, stops=wanted.stops) for seed in seeds]
        found = count(pairs)
        print(f"\n{'one room' if shared else 'two rooms'}, {wanted.pairs} pairs, {wanted.stops:g} stops apart")
        for name, (told, of) in found.items():
            print(f"  {name:24}{100.0 * told / of:6.1f} % of {of}")
        told, of = of_all(found)
        error = 100.0 * error_of_all(pairs)
        print(f"  {'all numbers':24}{100.0 * told / of:6.2f} % of {of}, standard error {error:.2f}", flush=True)


if __name__ == "__main__":
    main()
