"""How near does a planned test come to the index, by how many strips? ``python -m tests.bench.reached --films 100``.

A guess of the speed that is wrong by up to some stops; the strips of `curves plan`, exposed by a lamp that is off by
what the plan was told, read with three patches; one curve of them all. The index is held against the truth, computed
from the definitions by other code. The meter and its constant are set aside: they are the same for every strip.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from curves import Choices, analyse, join
from curves.errors import StripError
from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind
from curves.sensitometry.planning.first_strip import WANTED
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from tests.bench.index_truth import USUAL, truth_of
from tests.bench.planning import LIGHT_STOPS, MAKERS, film, plan_of
from tests.bench.true_numbers import truth

LUX = 2000.0
AGAIN, NOISE, ZERO, WHOLE = 0.05, 0.01, 0.01, 0.01
"""Standard deviations: of one exposure against another [stops], of a reading, the reader's zero, the wedge as a whole
[density]."""

NEAR = 1.0 / 3.0
FAR = 4.0
"""Log H of the patches beyond the steps [log10]."""


@dataclass(frozen=True)
class Outcome:
    """One film: its strips, how far its index lies from the truth, and half the interval; None without an index."""

    strips: int
    off: float | None
    half_width: float | None


def tested(kind: Kind, number: int, off: float) -> Outcome:
    """Return what a planned test of one film comes to.

    Args:
        kind: of the film.
        number: of the film.
        off: how far the guess of the speed may be wrong, and is, evenly [stops].
    """
    rng = np.random.default_rng((number, 23))
    _, known = film(kind, number)
    speed, wedge = 10.0 ** rng.uniform(0.9, 2.9), Wedge.nominal(21, 0.15)
    plan = plan_of(kind, speed * 2.0 ** rng.uniform(-off, off), off, wedge, "contact", WANTED)

    def density(log_h: FloatArray) -> FloatArray:
        return known.density(log_h + math.log10(speed))

    lamp = LIGHT_STOPS * STOP * rng.standard_normal() + WHOLE * rng.standard_normal()
    zero = ZERO * rng.standard_normal()
    strips = []
    for planned in plan.strips:
        top = planned.ends[1] + float(wedge.density.min())
        at = top + lamp + AGAIN * STOP * rng.standard_normal() - wedge.density
        strips.append(_read(density, kind, at, top, wedge, zero, rng))
    choices = Choices(draws=500, most_draws=500)
    try:
        strip = strips[0] if len(strips) == 1 else join(*strips, choices=choices).strip
        index = analyse(strip, choices).working_ei.recommended
    except StripError:
        return Outcome(len(strips), None, None)
    if index.value is None or index.low is None or index.high is None:
        return Outcome(len(strips), None, None)
    true = truth_of(density).index if kind == "reversal" else truth(density, "negative")["iso_6"]
    return Outcome(len(strips), math.log2(index.value / true), 0.5 * math.log2(index.high / index.low))


def _read(
    density: Callable[[FloatArray], FloatArray], kind: Kind, at: FloatArray, top: float, wedge: Wedge, zero: float,
    rng: np.random.Generator,
) -> Strip:  # fmt: skip
    """Return a strip whose steps got the log H ``at``, as its record describes it."""

    def read(log_h: FloatArray) -> FloatArray:
        return np.round(density(log_h) + zero + NOISE * rng.standard_normal(log_h.shape), 2)

    def patch(log_h: float) -> dict[Channel, float]:
        return {"visual": float(read(np.array([log_h]))[0])}

    exposure = Contact(LUX, 10.0**top / LUX, LIGHT_STOPS, 0.0, 0.0, "daylight 5500 K")
    return Strip(
        f"strip {rng.integers(10**9)}", kind, "visual", exposure, np.arange(1.0, wedge.steps + 1),
        {"visual": read(at)}, wedge, patches=Patches({}, patch(at.min() - FAR), patch(at.max() + FAR)),
        repeatability=NOISE, meter_constant=USUAL, film="invented", process="the film's own",
    )  # fmt: skip


def report(films: int, first: int) -> Iterator[str]:
    """Give a line for each kind and error of the guess."""
    for kind in MAKERS:
        for off in (2.0, 5.0):
            found = [tested(kind, number, off) for number in range(first, first + films)]
            known = [abs(one.off) for one in found if one.off is not None]
            held = [abs(o.off) <= o.half_width for o in found if o.off is not None and o.half_width is not None]
            yield (
                f"{kind}, guess off by up to {off:g} stops: index in {len(known)} of {films}, within a third of a stop"
                f" {sum(each <= NEAR for each in known)}, held by the interval {sum(held)},"
                f" strips {np.mean([o.strips for o in found]):.2f} (median {np.median([o.strips for o in found]):g})"
            )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    wanted = parser.parse_args()
    for line in report(wanted.films, wanted.first):
        print(line, flush=True)
