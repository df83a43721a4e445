"""How near does a planned test come to the index, by how many strips? ``python -m tests.bench.reached --films 100``.

A guess of the speed that is wrong by up to some stops; the strips of `curves plan`, exposed in contact by one lamp and
read with three patches; one curve of them all. Lamp, wedge, reader and metering are as wrong as their records state.
Where the strips end early, the strip that `plan --after` takes to finish them. Counted are the index of the strips so
far, and, where that is not known to a third of a stop, the index with one frame more: the wedge photographed, which
shares no lamp with them. The index is held against the truth, computed from the definitions by other code. The meter
and its constant are set aside: they are the same for every strip. ``--light`` is what the lamp is known to,
``--calibrated`` states a wedge that was measured, ``--chance`` is what the first plan is asked for: less of it is fewer
strips.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator, Sequence
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
from curves.sensitometry.uncertainty.sources import ASSUMED_COMMON, ASSUMED_WEDGE_SCALE, sources_of
from tests.bench.index_truth import USUAL, truth_of
from tests.bench.planning import LIGHT_STOPS, MAKERS, film, plan_of
from tests.bench.true_numbers import truth

LUX = 2000.0
AGAIN, NOISE, ZERO, SCALE, METERING = 0.05, 0.01, 0.01, 0.01, 1.0 / 3.0
"""Standard deviations: of one exposure against another [stops], of a reading, the reader's zero [density] and its scale
[unitless]; and how far a metered exposure may lie off either way [stops]."""

STEPS, APART, CLEAR = 21, 0.15, 0.05
"""Steps of the wedge, and their densities from the clear one on [density]."""

NEAR = 1.0 / 3.0
FAR = 4.0
"""Log H of the patches beyond the steps [log10]."""

FEW = 5
"""Films that a next exposure is tried on here [unitless]."""

METERED: dict[Kind, int] = {"reversal": 11, "negative": 7}
"""Step of the photographed wedge that the meter reads: for a negative four steps lighter, against stray light."""


@dataclass(frozen=True)
class Outcome:
    """One film after some strips.

    Attributes:
        strips: strips in all.
        off: distance of the index from the truth; None without an index [stops].
        half_width: half its interval; infinite without one [stops].
    """

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
class Room:
    """What the records state of lamp and wedge.

    Attributes:
        wedge: the wedge.
        wedge_scale, wedge_whole: standard uncertainty of its scale [unitless], and of all steps together [density].
        light: what the lamp is known to, a standard deviation [stops].
    """

    wedge: Wedge
    wedge_scale: float
    wedge_whole: float
    light: float

    @classmethod
    def of(cls, light: float, *, calibrated: bool) -> Room:
        """Return a room whose wedge is nominal, its errors those assumed, or was measured step by step."""
        if not calibrated:
            wedge = Wedge.nominal(STEPS, APART, CLEAR)
            return cls(wedge, ASSUMED_WEDGE_SCALE[False], ASSUMED_COMMON[False], light)
        density = CLEAR + APART * np.arange(STEPS)
        wedge = Wedge.measured(density, 0.01, common=0.01, scale_uncertainty=0.003)
        return cls(wedge, 0.003, 0.01, light)


@dataclass(frozen=True, eq=False)
class Bench:
    """A film, a wedge, a lamp and a reader, each as wrong as the records state.

    Attributes:
        kind: of the film.
        density: of log H in lux-seconds [density].
        wedge: as the records have it.
        true: its true densities [density].
        light: what the records say that the lamp is known to, a standard deviation [stops].
        lamp: true light over the stated light [log10].
        reader: scale and zero of the reader.
        rng: random numbers of readings and exposures.
    """

    kind: Kind
    density: Callable[[FloatArray], FloatArray]
    wedge: Wedge
    true: FloatArray
    light: float
    lamp: float
    reader: tuple[float, float]
    rng: np.random.Generator

    @classmethod
    def drawn(
        cls, kind: Kind, density: Callable[[FloatArray], FloatArray], room: Room, rng: np.random.Generator
    ) -> Bench:
        """Return a bench with errors of the sizes that the records of a room state."""
        wedge = room.wedge
        scale, whole, lamp, read, zero = rng.standard_normal(5)
        true = wedge.density * (1.0 + room.wedge_scale * scale) + room.wedge_whole * whole
        true = true + wedge.uncertainty * rng.standard_normal(wedge.steps)
        return cls(
            kind, density, wedge, true, room.light, room.light * STOP * lamp, (1.0 + SCALE * read, ZERO * zero), rng
        )

    def contact(self, most: float) -> Strip:
        """Return a strip in contact whose most exposed step is meant to get log H ``most`` [log10 lux-seconds]."""
        top = most + float(self.wedge.density.min())
        at = top + self.lamp + AGAIN * STOP * self.rng.standard_normal() - self.true
        return self._read(at, Contact(LUX, 10.0**top / LUX, self.light, 0.0, 0.0, "daylight 5500 K"))

    def photographed(self, index: float) -> Strip:
        """Return the wedge photographed with the meter, set to an index, on one of its steps."""
        step = METERED[self.kind]
        exposure = Camera(float(nominal_speed(index)), step, light="daylight 5500 K")
        off = METERING * STOP * self.rng.uniform(-1.0, 1.0)
        grey = math.log10(FOCAL_PLANE_FACTOR * USUAL / float(exact_ei(exposure.ei))) + off
        return self._read(grey + self.true[step - 1] - self.true, exposure)

    def _read(self, at: FloatArray, exposure: Exposure) -> Strip:
        """Return a strip whose steps got the log H ``at``, as its record describes it."""

        def read(log_h: FloatArray) -> FloatArray:
            noise = NOISE * self.rng.standard_normal(log_h.shape)
            scale, zero = self.reader
            return np.asarray(np.round(self.density(log_h) * scale + zero + noise, 2))

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


def tested(kind: Kind, number: int, off: float, wanted: float, room: Room) -> list[Outcome]:
    """Return what a planned test of one film comes to: by the plan's strips, and with each that had to follow.

    Args:
        kind: of the film.
        number: of the film.
        off: how far the guess of the speed may be wrong, and is, evenly [stops].
        wanted: the chance that the first plan is asked for [unitless].
        room: lamp and wedge.
    """
    rng = np.random.default_rng((number, 23))
    _, known = film(kind, number)
    speed = 10.0 ** rng.uniform(0.9, 2.9)
    plan = plan_of(kind, speed * 2.0 ** rng.uniform(-off, off), off, room.wedge, "contact", wanted)
    bench = Bench.drawn(kind, lambda log_h: known.density(log_h + math.log10(speed)), room, rng)
    strips = [bench.contact(planned.ends[1]) for planned in plan.strips]
    choices, true = Choices(draws=500, most_draws=500), bench.truth()
    found: list[Outcome] = []
    try:
        results = _analysed(_one(strips, choices), choices)
        found.append(_outcome(results.working_ei.recommended, true, len(strips)))
        if found[-1].off is None:
            strips.append(_finished(bench, plan.strips[0].ends[1], results.strip, choices))
            results = _analysed(_one(strips, choices), choices)
            found.append(_outcome(results.working_ei.recommended, true, len(strips)))
        index = results.working_ei.recommended.value
        if index is not None and not found[-1].enough:
            second = _analysed(bench.photographed(index), choices)
            found.append(_outcome(together(results, second).recommended, true, len(strips) + 1))
    except StripError:
        return found or [Outcome(len(strips), None, math.inf)]
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


def _outcome(index: Quantity, true: float, strips: int) -> Outcome:
    """Return what an index comes to."""
    if index.value is None or index.low is None or index.high is None:
        return Outcome(strips, None, math.inf)
    return Outcome(strips, math.log2(index.value / true), 0.5 * math.log2(index.high / index.low))


def after(found: list[Outcome], strips: int) -> Outcome | None:
    """Return what a film comes to by so many strips at most; None where there were more to begin with."""
    return next((outcome for outcome in reversed(found) if outcome.strips <= strips), None)


def report(films: range, chance: float, room: Room, kinds: Sequence[Kind], offs: Sequence[float]) -> Iterator[str]:
    """Give lines for each kind and error of the guess."""
    for kind in kinds:
        for off in offs:
            found = [tested(kind, number, off, chance, room) for number in films]
            ended = [each[-1] for each in found]
            for what, some in (
                ("by two strips at most", [o for each in found if (o := after(each, 2)) is not None]),
                ("by all", ended),
                ("by all, enough", [o for o in ended if o.enough]),
            ):
                if not some:
                    continue
                yield (
                    f"{kind}, guess off by up to {off:g} stops, {what}: {len(some)} films, within a third of a stop"
                    f" {sum(o.near for o in some)}, held by the interval {sum(o.held for o in some)}, half width at"
                    f" most a third {sum(o.enough for o in some)}, without an index {sum(o.off is None for o in some)},"
                    f" strips median {np.median([o.strips for o in some]):g}, half width median"
                    f" {np.median([o.half_width for o in some]):.2f}"
                )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--chance", type=float, default=WANTED)
    parser.add_argument("--light", type=float, default=LIGHT_STOPS)
    parser.add_argument("--calibrated", action="store_true")
    parser.add_argument("--kind", nargs="*", choices=list(MAKERS), default=list(MAKERS))
    parser.add_argument("--off", nargs="*", type=float, default=[2.0, 5.0])
    wanted = parser.parse_args()
    known = Room.of(wanted.light, calibrated=wanted.calibrated)
    numbers = range(wanted.first, wanted.first + wanted.films)
    for line in report(numbers, wanted.chance, known, wanted.kind, wanted.off):
        print(line, flush=True)
