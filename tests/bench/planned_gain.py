"""Is the planned gain the gained? ``python -m tests.bench.planned_gain --films 100``.

A film is simulated by other code, with every error that its record states; the next exposure is planned from its first
strip alone; then every proposal is done for real: exposed, read, analysed and combined as the package does it. The
half width that was expected is held against the one achieved, the chance of an interval against how often there was
one, and the interval against the truth. Families of curves are those that no constant was chosen by.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from curves import Choices
from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.comparison.numbers import NumberKey, comparable_numbers
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, Channel, FloatArray, exact_ei
from curves.sensitometry.next_exposure.expected_gain import FILMS, next_exposure
from curves.sensitometry.next_exposure.proposals import Proposal
from curves.sensitometry.next_exposure.trials import combined
from curves.sensitometry.strip.exposure import Camera, Contact, Exposure, Frames
from curves.sensitometry.strip.origin import PredictedInterval
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.results import Analysis
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.coverage import DESIGNS, LUX, SECONDS, SPAN, Design
from tests.bench.fresh import FRESH
from tests.bench.index_truth import truth_of
from tests.bench.shapes import Film
from tests.bench.true_numbers import BASE, truth

AGAIN = 0.05
"""Standard deviation of one exposure against another by the same light: what the package takes it for [stops]."""

FRAME, METERED = 0.15, 1.0 / 3.0
"""Standard deviation from frame to frame, and half the width of what metering errs: common practice [stops]."""


@dataclass(frozen=True, eq=False)
class Workshop:
    """A film, a wedge, a lamp, a reader and a meter, each as wrong as the records state; nothing of it is known.

    Attributes:
        film: the film.
        design: how strips are made and read.
        wedge: true densities of the wedge's steps [density].
        lamp: true light over the stated light [log10].
        fall: unevenness of the light, for each step [log10].
        reader: scale and zero of the reader.
        meter: factor of every index by the error of the meter [unitless].
        constant: K of the meter [cd s / m2].
        rng: random numbers of readings and exposures.
    """

    film: Film
    design: Design
    wedge: FloatArray
    lamp: float
    fall: FloatArray
    reader: tuple[float, float]
    meter: float
    constant: float
    rng: np.random.Generator

    @classmethod
    def of(cls, family: str, design: Design, seed: int) -> Workshop:
        """Return a workshop with a film of a family."""
        rng = np.random.default_rng((sorted(FRESH).index(family), seed, 17))
        middle = math.log10(LUX * SECONDS) - 0.05 - SPAN / 2 + rng.uniform(*design.middle)
        rise = FRESH[family](rng, middle)
        film = Film(design.kind, rng.uniform(0.06, 0.45), rng.uniform(*design.heights), rise, middle)
        wedge = stated(design).density
        true = wedge * (1.0 + 0.005 * rng.standard_normal()) + 0.01 * rng.standard_normal()
        true = true + design.wedge * rng.standard_normal(wedge.size)
        along = math.sqrt(12.0) * (wedge - wedge.mean()) / np.ptp(wedge)
        return cls(
            film, design, true, 0.10 * STOP * rng.standard_normal(), 0.03 * STOP * rng.standard_normal() * along,
            (1.0 + 0.005 * rng.standard_normal(), 0.01 * rng.standard_normal()),
            10.0 ** (0.15 * STOP * rng.standard_normal()),
            math.exp(rng.uniform(math.log(12.5), math.log(14.0))), rng,
        )  # fmt: skip

    @cached_property
    def first(self) -> Strip:
        """The strip that the plan is made from."""
        return self.contact(SECONDS, self.patches())

    def contact(self, seconds: float, patches: Patches) -> Strip:
        """Return a strip in contact with the wedge."""
        exposure = Contact(LUX, seconds, 0.10, 0.15, 0.03, "daylight 5500 K")
        again = AGAIN * STOP * self.rng.standard_normal()
        log_h = math.log10(LUX * seconds) + self.lamp + again - self.wedge - self.fall
        return self.strip(exposure, np.arange(1.0, log_h.size + 1), log_h, patches)

    def camera(self, index: float, step: int) -> Strip:
        """Return the wedge photographed, with the meter on one of its steps."""
        exposure = Camera(index, step, light="daylight 5500 K")
        log_h = self.metered(index) + self.wedge[step - 1] - self.wedge
        return self.strip(exposure, np.arange(1.0, log_h.size + 1), log_h, self.patches())

    def bracket(self, indexes: tuple[float, ...]) -> Strip:
        """Return frames of a grey card, each rated at an index; the one in the middle names the record's."""
        exposure = Frames(indexes[len(indexes) // 2], light="daylight 5500 K")
        position = exposure.stops_of_ei(indexes)
        each = FRAME * STOP * self.rng.standard_normal(position.size)
        return self.strip(exposure, position, self.metered(exposure.ei) + position * STOP + each, self.patches())

    def metered(self, index: float) -> float:
        """Return the log H of a grey that is metered at an index [log10 lux-seconds]."""
        off = METERED * STOP * self.rng.uniform(-1.0, 1.0)
        return math.log10(0.6516 * self.constant * self.meter / float(exact_ei(index))) + off

    def patches(self) -> Patches:
        """Return the patches of a strip, developed and read with it."""
        base: dict[Channel, float] = {"visual": self.read(BASE)}
        if not self.design.patches:
            return Patches(base)
        return Patches(base, {"visual": self.read_film(-7.0)}, {"visual": self.read_film(4.0)})

    def read_film(self, log_h: float) -> float:
        """Return a reading of the film at one log H [density]."""
        return self.read(float(self.film.density(np.array([log_h]))[0]))

    def read(self, true: float) -> float:
        """Return a reading of one density [density]."""
        scale, zero = self.reader
        return round(float(true * scale + zero + self.design.noise * self.rng.standard_normal()), 2)

    def strip(self, exposure: Exposure, position: FloatArray, log_h: FloatArray, patches: Patches) -> Strip:
        """Return a strip as its record would describe it; its true log H stays behind for more readings."""
        true = self.film.density(log_h)
        return Strip(
            f"film {self.rng.integers(10**9)}", self.design.kind, "visual", exposure, position,
            {"visual": np.array([self.read(d) for d in true])},
            None if isinstance(exposure, Frames) else stated(self.design), patches=patches,
            repeatability=self.design.stated or self.design.noise, reader_zero=0.01, reader_scale=0.005,
            film="invented", process="the film's own", sample="one strip",
        )  # fmt: skip

    def done(self, proposal: Proposal) -> Strip:
        """Return the strip of a proposal done for real: a second one, or the first with more readings."""
        first = self.first
        if proposal.way == "again":
            beside = self.patches()
            if proposal.patch == "unexposed":
                beside = replace(beside, unexposed={"visual": self.read_film(-7.0)})
            elif proposal.patch == "fully_exposed":
                beside = replace(beside, fully_exposed={"visual": self.read_film(4.0)})
            return self.contact(SECONDS * 2.0**proposal.offset_stops, beside)
        if proposal.way == "camera":
            return self.camera(proposal.indexes[0], proposal.metered_step or 1)
        if proposal.way == "bracket":
            return self.bracket(proposal.indexes)
        if proposal.way == "patch":
            if proposal.patch == "unexposed":
                return replace(first, patches=replace(first.patches, unexposed={"visual": self.read_film(-7.0)}))
            return replace(first, patches=replace(first.patches, fully_exposed={"visual": self.read_film(4.0)}))
        # The lamp erred by what it erred on the first strip: the readings themselves tell it to this simulation.
        true = self.film.density(self.true_log_h)
        more = [np.array([self.read(d) for d in true]) for _ in range(proposal.readings - 1)]
        return replace(
            first, position=np.tile(first.position, proposal.readings), labels=(),
            readings={"visual": np.concatenate([first.readings["visual"], *more])},
        )  # fmt: skip

    @cached_property
    def true_log_h(self) -> FloatArray:
        """True log H of the first strip's steps, but for the scatter of the one exposure [log10 lux-seconds]."""
        return np.asarray(math.log10(LUX * SECONDS) + self.lamp - self.wedge - self.fall)

    def truth(self) -> float:
        """Return the true index, as log2 [stops]."""
        if self.design.kind == "negative":
            return math.log2(truth(self.film.density, "negative")["iso_6"] * self.meter)
        return math.log2(truth_of(self.film.density, self.constant).index * self.meter)


def stated(design: Design) -> Wedge:
    """Return the wedge as its record describes it."""
    nominal = Wedge.nominal(design.steps, SPAN / (design.steps - 1), 0.05, design.wedge, common=0.01)
    return replace(nominal, scale_uncertainty=0.005)


@dataclass(frozen=True)
class Outcome:
    """One proposal of one film, planned and done.

    Attributes:
        way: what was done.
        chance: planned chance of an interval [unitless].
        planned: half width that was expected; None where none was [stops].
        after: the index and half the width after it, as expected; None with it [stops].
        alone: the same by the further strip alone; None without such a strip [stops].
        found: the index that came [stops].
        own: the index of the further strip alone; None without [stops].
        before: half width before; None where there was none [stops].
        achieved: half width; None where there is no interval [stops].
        held: True if the interval held the truth; None where there is none.
    """

    way: str
    chance: float
    planned: float | None
    after: PredictedInterval | None
    alone: PredictedInterval | None
    found: Quantity
    own: Quantity | None
    before: float | None
    achieved: float | None
    held: bool | None


EI: NumberKey = ("ei", None)


def outcomes(family: str, design: Design, seed: int, draws: int, films: int) -> Iterator[Outcome]:
    """Give every proposal of one film, planned and done for real."""
    shop = Workshop.of(family, design, seed)
    choices = Choices(seed=seed, draws=draws, most_draws=draws)
    try:
        plan = next_exposure(shop.first, "ei", 12, choices, films)
    except StripError:
        return
    first, true = _analysed(shop.first, choices), shop.truth()
    for gain in plan.gains:
        found, own = _found(shop, gain.proposal, first, choices)
        half = found.half_width
        held = None if found.low is None or found.high is None else found.low <= true <= found.high
        yield Outcome(
            gain.proposal.way, gain.chance, gain.half_width, gain.after, gain.alone, found, own, plan.half_width, half,
            held,
        )  # fmt: skip


def _found(shop: Workshop, proposal: Proposal, first: Analysis, choices: Choices) -> tuple[Quantity, Quantity | None]:
    """Return the index of a film after a proposal, on its scale, and by the further strip alone."""
    try:
        done = _analysed(shop.done(proposal), choices)
    except StripError:
        return comparable_numbers(first)[EI].value, None
    alone = comparable_numbers(done)[EI].value
    return (combined(first, done, EI), alone) if proposal.exposes else (alone, None)


def _analysed(strip: Strip, choices: Choices) -> Analysis:
    return analyse_alone(strip, sources_of(strip), choices)


def ratios(found: list[Outcome]) -> FloatArray:
    """Return the half width planned over the half width achieved, for all that have both."""
    return np.array([o.planned / o.achieved for o in found if o.planned is not None and o.achieved is not None])


def inside(expected: PredictedInterval, found: Quantity) -> tuple[bool, bool]:
    """Return whether a value and half the width of its interval lie between the least and the greatest expected."""
    assert found.value is not None
    assert found.half_width is not None
    value, width = expected.value, expected.half_width
    return value[0] <= found.value <= value[2], width[0] <= found.half_width <= width[2]


def shares(found: list[tuple[bool, bool]]) -> str:
    """Return in how many of a hundred the value, the width, and both were as foretold."""
    if not found:
        return "none"
    each = np.array(found)
    return f"{100 * each[:, 0].mean():.0f}, {100 * each[:, 1].mean():.0f}, both {100 * each.all(axis=1).mean():.0f} %"


def summary(found: Mapping[str, list[Outcome]]) -> Iterator[str]:
    """Give a line for each way: planned over achieved, and what was held."""
    for way, some in found.items():
        both = [o for o in some if o.planned is not None and o.achieved is not None]
        held = [o.held for o in some if o.held is not None]
        if not both:
            yield f"  {way:10} {len(some):5d} no intervals"
            continue
        r = ratios(both)
        after = [inside(o.after, o.found) for o in some if o.after is not None and o.found.half_width is not None]
        alone = [inside(o.alone, o.own) for o in some if o.alone and o.own and o.own.half_width is not None]
        gained = [1.0 - o.achieved / o.before for o in both if o.before and o.achieved]
        came = np.mean([o.achieved is not None for o in some])
        yield (
            f"  {way:10} {len(some):5d} planned/achieved median {np.median(r):.3f},"
            f" middle half {np.quantile(r, 0.25):.2f} to {np.quantile(r, 0.75):.2f},"
            f" within 15 % {100 * np.mean(np.abs(np.log(r)) <= math.log(1.15)):.0f} %,"
            f" as foretold {shares(after)}, by itself {shares(alone)};"
            f" gain {100 * np.median(gained) if gained else math.nan:.0f} %;"
            f" chance {np.mean([o.chance for o in some]):.2f}, came {came:.2f};"
            f" held {100 * np.mean(held):.1f} % of {len(held)}"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=60)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--only", default="", help="part of a design's name")
    wanted = parser.parse_args()
    families = sorted(FRESH)
    for name in ("usual", "cut anywhere", "negative", "no patches", "nominal wedge 0.02"):
        if wanted.only not in name:
            continue
        found: dict[str, list[Outcome]] = defaultdict(list)
        for seed in range(wanted.first, wanted.first + wanted.films):
            for outcome in outcomes(families[seed % len(families)], DESIGNS[name], seed, 500, FILMS):
                found[outcome.way].append(outcome)
                found["all"].append(outcome)
        print(f"\n{name}: {wanted.films} films", *summary(found), sep="\n", flush=True)


if __name__ == "__main__":
    main()
