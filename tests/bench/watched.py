"""How often is a steady process accused, and a bad bath found? ``python -m tests.bench.watched``.

Runs of the club's control strips, each read with its errors: reference strips, steady strips after them, and from the
same references each of four faults in two strips. The sizes of the faults are such as a tolerance of a third of a stop
or of 0.05 density would just refuse.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from curves import analyse
from curves.sensitometry.control.action import MEANS, RATE, alarms, spreads
from curves.sensitometry.control.batches import Batches
from curves.sensitometry.control.charts import IndividualsChart
from curves.sensitometry.control.numbers import control_numbers, places_of, reading_errors
from curves.sensitometry.core.units import FloatArray
from curves.sensitometry.uncertainty.results import Analysis
from tests.control_demo import film_of_run
from tests.draws import NO_DRAWS
from tests.sensitometry.filters.test_filter_shift import strip

FAULTS = {
    "weak first developer": {"slower": 0.3, "veil": 0.06},
    "cold first developer": {"slower": 0.25, "veil": 0.04, "flatter": 0.03, "thinner": -0.05},
    "carry-over": {"veil": 0.06, "flatter": 0.06},
    "light leak": {"thinner": 0.12, "flatter": 0.04},
}
"""What the film of a bad run is beyond a good one."""

BAD = 2
"""Strips that go through before somebody looks."""


class Watch:
    """The references of one process, and what they say of strips after them.

    Args:
        first: analyses of the reference strips.
    """

    def __init__(self, first: Sequence[Analysis]) -> None:
        self.first, self.places = first, places_of(first[0])
        self.read = self.numbers(first)
        own = reading_errors(first, self.places)
        freedom = np.full(self.read.shape[1], len(first) - 1.0)
        self.spreads = spreads(self.read.std(axis=0, ddof=1), freedom, np.array(list(own.values())))

    def numbers(self, analyses: Sequence[Analysis]) -> FloatArray:
        """Return the charted numbers of strips, (n, numbers)."""
        return np.array([list(control_numbers(a, self.places).values()) for a in analyses])

    def told(self, after: Sequence[Analysis]) -> tuple[set[int], set[int]]:
        """Return the places of strips after the references with an alarm, and of those with a signal of the chart."""
        values = np.vstack([self.read, self.numbers(after)])
        count, reference = len(values), len(self.first)
        one = np.arange(count) < reference
        batches = Batches(("",), np.zeros(count, np.intp), np.arange(count), one, np.zeros(count, bool))
        alarmed, signalled = set[int](), set[int]()
        for column, spread in zip(values.T, self.spreads, strict=True):
            known, centre = np.isfinite(column), float(column[:reference].mean())
            weights = batches.centres(known, batches.differences(known))
            share = RATE / values.shape[1] / len(MEANS)
            alarmed |= {a.index - reference for a in alarms(column, centre, spread, batches, weights, share)}
            signals = IndividualsChart.of(column, one).signals()
            signalled |= {s.index - reference for s in signals if s.index >= reference}
        return alarmed, signalled


def strips(rng: np.random.Generator, count: int, run: Mapping[str, float]) -> list[Analysis]:
    """Return strips of as many runs, read with their errors, as analyses."""
    films = [film_of_run(rng, **run) for _ in range(count)]
    return [analyse(strip(film, int(rng.integers(2**31))), NO_DRAWS) for film in films]


def main() -> None:
    """Print the share of steady runs that are accused, and of faults that are found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--reference", type=int, default=10)
    parser.add_argument("--after", type=int, default=20)
    parser.add_argument("--scatter", type=float, default=1.0, help="of the process, in that of the demo")
    asked = parser.parse_args()
    found = Counter[str]()
    for seed in range(asked.start, asked.start + asked.runs):
        rng = np.random.default_rng((seed, 4071))
        watch = Watch(strips(rng, asked.reference, {"scatter": asked.scatter}))
        alarmed, signalled = watch.told(strips(rng, asked.after, {"scatter": asked.scatter}))
        found.update(strips=len(alarmed), runs=bool(alarmed), signals=bool(signalled))
        for name, fault in FAULTS.items():
            alarmed, _ = watch.told(strips(rng, BAD, {"scatter": asked.scatter, **fault}))
            found.update({f"{name}, first": 0 in alarmed, f"{name}, second": bool(alarmed)})
    print(f"{asked.runs} processes, {asked.reference} references, {asked.after} steady strips after them")
    print(f"  steady strips with an alarm       {100.0 * found['strips'] / asked.runs / asked.after:5.1f} %")
    print(f"  steady runs with an alarm         {100.0 * found['runs'] / asked.runs:5.1f} %")
    print(f"  steady runs with a chart's signal {100.0 * found['signals'] / asked.runs:5.1f} %")
    for name in FAULTS:
        first, second = (100.0 * found[f"{name}, {which}"] / asked.runs for which in ("first", "second"))
        print(f"  {name:24} found in its first strip {first:5.1f} %, within two {second:5.1f} %", flush=True)


if __name__ == "__main__":
    main()
