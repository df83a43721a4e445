"""How near does a planned test come to the index, by how many strips? ``python -m tests.bench.reached --films 100``.

A guess of the speed that is wrong by up to some stops; the strips of `curves plan`, exposed by a lamp that is off by
what the plan was told, read with three patches; one curve of them all. Where they end early, the strip that `plan
--after` takes to finish them. Where the index is then not known to a third of a stop, the wedge photographed, which
`plan --after` puts first where the light is the greatest part of the interval. The index is held against the truth,
computed from the definitions by other code. The meter and its constant are set aside: they are the same for every
strip. ``--chance`` is what the first plan is asked for: less of it is fewer strips.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from curves import Choices, join
from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.combining.together import together
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, FloatArray, Kind, exact_ei, nominal_speed
from curves.sensitometry.next_exposure.expected_gain import next_exposure
from curves.sensitometry.planning.first_strip import WANTED
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure
from curves.sensitometry.strip.metering import FOCAL_PLANE_FACTOR
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.index_truth import USUAL, truth_of
from tests.bench.planning import LIGHT_STOPS, MAKERS, film, plan_of
from tests.bench.true_numbers import truth

LUX = 2000.0
AGAIN, NOISE, ZERO, WHOLE, METERING = 0.05, 0.01, 0.01, 0.01, 1.0 / 3.0
"""Standard deviations: of one exposure against another [stops], of a reading, the reader's zero, the wedge as a whole
[density]; and how far a metered exposure may lie off either way [stops]."""

NEAR = 1.0 / 3.0
FAR = 4.0
"""Log H of the patches beyond the steps [log10]."""

FEW = 5
"""Films that a next exposure is tried on here [unitless]."""

MIDDLE = 11
"""Step of the photographed wedge that the meter reads."""


@dataclass(frozen=True)
class Outcome:
    """One film after its last strip.

    Attributes:
        planned: strips of the first plan.
        strips: strips in all.
        off: distance of the index from the truth; None without an index [stops].
        half_width: half its interval; infinite without one [stops].
    """

    planned: int
    strips: int
    off: float | None
    half_width: float

    @property
    def enough(self) -> bool:
        """True if the index counts as known to a third of a stop."""
        return self.off is not None and self.half_width <= NEAR

    @property
    def near(self) -> bool:
        """True if the index lies within a third of a stop of the truth."""
        return self.off is not None and abs(self.off) <= NEAR

    @property
    def held(self) -> bool:
        """True if the interval holds the truth."""
        return self.off is not None and abs(self.off) <= self.half_width


@dataclass(frozen=True, eq=False)
class Bench:
    """A film, a wedge, a lamp and a reader, each as wrong as the records state.

    Attributes:
        kind: of the film.
        density: of log H in lux-seconds [density].
        wedge: as the records have it.
        lamp: true light over the stated light, and the wedge's error as a whole [log10].
        zero: error of the reader [density].
        rng: random numbers of readings and exposures.
    """

    kind: Kind
    density: Callable[[FloatArray], FloatArray]
    wedge: Wedge
    lamp: float
    zero: float
    rng: np.random.Generator

    def contact(self, most: float) -> Strip:
        """Return a strip in contact whose most exposed step is meant to get log H ``most`` [log10 lux-seconds]."""
        top = most + float(self.wedge.density.min())
        at = top + self.lamp + AGAIN * STOP * self.rng.standard_normal() - self.wedge.density
        return self._read(at, Contact(LUX, 10.0**top / LUX, LIGHT_STOPS, 0.0, 0.0, "daylight 5500 K"))

    def photographed(self, index: float) -> Strip:
        """Return the wedge photographed with the meter, set to an index, on its middle step."""
        exposure = Camera(float(nominal_speed(index)), MIDDLE, light="daylight 5500 K")
        off = METERING * STOP * self.rng.uniform(-1.0, 1.0)
        grey = math.log10(FOCAL_PLANE_FACTOR * USUAL / float(exact_ei(exposure.ei))) + off
        return self._read(grey + self.wedge.density[MIDDLE - 1] - self.wedge.density, exposure)

    def _read(self, at: FloatArray, exposure: Exposure) -> Strip:
        """Return a strip whose steps got the log H ``at``, as its record describes it."""

        def read(log_h: FloatArray) -> FloatArray:
            noise = NOISE * self.rng.standard_normal(log_h.shape)
            return np.asarray(np.round(self.density(log_h) + self.zero + noise, 2))

        def patch(log_h: float) -> dict[Channel, float]:
            return {"visual": float(read(np.array([log_h]))[0])}

        patches = Patches({}, patch(at.min() - FAR), patch(at.max() + FAR))
        return Strip(
            f"strip {self.rng.integers(10**9)}", self.kind, "visual", exposure, np.arange(1.0, self.wedge.steps + 1),
            {"visual": read(at)}, self.wedge, patches=patches, repeatability=NOISE, meter_constant=USUAL,
            film="invented", process="the film's own",
        )  # fmt: skip

    def truth(self) -> float:
        """Return the true index [unitless]."""
        return truth_of(self.density).index if self.kind == "reversal" else truth(self.density, "negative")["iso_6"]


def tested(kind: Kind, number: int, off: float, wanted: float) -> Outcome:
    """Return what a planned test of one film comes to.

    Args:
        kind: of the film.
        number: of the film.
        off: how far the guess of the speed may be wrong, and is, evenly [stops].
        wanted: the chance that the first plan is asked for [unitless].
    """
    rng = np.random.default_rng((number, 23))
    _, known = film(kind, number)
    speed, wedge = 10.0 ** rng.uniform(0.9, 2.9), Wedge.nominal(21, 0.15)
    plan = plan_of(kind, speed * 2.0 ** rng.uniform(-off, off), off, wedge, "contact", wanted)

    def density(log_h: FloatArray) -> FloatArray:
        return known.density(log_h + math.log10(speed))

    lamp = LIGHT_STOPS * STOP * rng.standard_normal() + WHOLE * rng.standard_normal()
    bench = Bench(kind, density, wedge, lamp, ZERO * rng.standard_normal(), rng)
    strips = [bench.contact(planned.ends[1]) for planned in plan.strips]
    choices, true, planned = Choices(draws=500, most_draws=500), bench.truth(), len(strips)
    try:
        first = _analysed(_one(strips, choices), choices)
        if first.working_ei.recommended.value is None:
            strips.append(_finished(bench, plan.strips[0].ends[1], first.strip, choices))
            first = _analysed(_one(strips, choices), choices)
    except StripError:
        return Outcome(planned, len(strips), None, math.inf)
    index = first.working_ei.recommended
    found = _outcome(index, true, planned, len(strips))
    if found.enough or index.value is None:
        return found
    try:
        second = _analysed(bench.photographed(index.value), choices)
        return _outcome(together(first, second).recommended, true, planned, len(strips) + 1)
    except StripError:
        return found


def _one(strips: list[Strip], choices: Choices) -> Strip:
    """Return strips as one."""
    return strips[0] if len(strips) == 1 else join(*strips, choices=choices).strip


def _finished(bench: Bench, most: float, strip: Strip, choices: Choices) -> Strip:
    """Return the strip that is planned after one which shows no index, exposed for real.

    Raises:
        StripError: none is proposed by the same light.
    """
    gains = next_exposure(strip, "ei", 12, choices, FEW).gains
    offset = next(
        (g.proposal.offset_stops for g in gains if g.proposal.way == "again" and g.proposal.offset_stops), None
    )
    if offset is None:
        raise StripError("no exposure by the same light is proposed", where=strip.title)
    return bench.contact(most + offset * STOP)


def _analysed(strip: Strip, choices: Choices) -> Analysis:
    return analyse_alone(strip, sources_of(strip), choices)


def _outcome(index: Quantity, true: float, planned: int, strips: int) -> Outcome:
    """Return what an index comes to."""
    if index.value is None or index.low is None or index.high is None:
        return Outcome(planned, strips, None, math.inf)
    return Outcome(planned, strips, math.log2(index.value / true), 0.5 * math.log2(index.high / index.low))


def report(films: int, first: int, chance: float) -> Iterator[str]:
    """Give a line for each kind and error of the guess."""
    for kind in MAKERS:
        for off in (2.0, 5.0):
            found = [tested(kind, number, off, chance) for number in range(first, first + films)]
            for what, some in (
                ("all", found),
                ("enough by the plan", [o for o in found if o.enough and o.strips == o.planned]),
                ("enough by one more", [o for o in found if o.enough and o.strips > o.planned]),
                ("not enough", [o for o in found if not o.enough]),
            ):
                if not some:
                    continue
                yield (
                    f"{kind}, guess off by up to {off:g} stops, {what}: {len(some)} films, within a third of a stop"
                    f" {sum(o.near for o in some)}, held by the interval {sum(o.held for o in some)}, without an index"
                    f" {sum(o.off is None for o in some)}, strips median {np.median([o.strips for o in some]):g},"
                    f" half width median {np.median([o.half_width for o in some]):.2f}"
                )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--chance", type=float, default=WANTED)
    wanted = parser.parse_args()
    for line in report(wanted.films, wanted.first, wanted.chance):
        print(line, flush=True)
