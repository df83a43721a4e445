"""How good is a bracket judged by eye? ``python -m tests.bench.judged --films 400``.

Films of every family, their true index from the definitions by other code. A guess of the index is wrong by up to so
many stops; frames are exposed about it in whole stops, each with an error of its shutter, and an eye that is simulated
here, by the rule that the manual states, calls each frame too dark, right or too light. Metering and the meter's
constant are set aside (the same for every frame). Three ways to find the index are compared: the judgements alone, the
densities of the frames alone, and both. An eye that is off by a stop and a half must be told from the densities.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from curves import Choices, Frames, Patches, Strip
from curves.sensitometry.analysis.analyse import analyse_for_index
from curves.sensitometry.core.quantity import Quantity
from curves.sensitometry.core.units import STOP, FloatArray, exact_ei, nominal_speed
from curves.sensitometry.strip.exposure import Judgement
from curves.sensitometry.uncertainty.results import Analysis
from tests.bench.coverage import ENDS, ORDER
from tests.bench.fresh import FRESH
from tests.bench.index_truth import truth_of
from tests.bench.shapes import FAMILIES, Film
from tests.bench.unseen import UNSEEN

RIGHT_WITHIN, TASTE, EACH = 0.5, 0.5 / 2.0**0.5, 0.5 / 2.0**0.5
"""The eye: half a stop in all, half of the variance its taste; a frame within half a stop of right looks right."""

SHUTTER, NOISE = 0.15, 0.012
CONSTANT = math.sqrt(12.5 * 14.0)


@dataclass(frozen=True)
class SimulatedEye:
    """An eye that judges frames.

    Attributes:
        taste: what it takes for right, against what is right [stops].
        each: standard deviation of one judgement against the next [stops].
        right_within: distance from right up to which a frame looks right to it [stops].
        slips: chance that a judgement is written beside the wrong frame [unitless].
    """

    taste: float
    each: float = EACH
    right_within: float = RIGHT_WITHIN
    slips: float = 0.0

    def judge(self, surplus: FloatArray, rng: np.random.Generator) -> tuple[Judgement, ...]:
        """Return the judgement of each frame of a reversal film by its exposure beyond the right one [stops]."""
        seen = surplus - self.taste + self.each * rng.standard_normal(surplus.size)
        words: list[Judgement] = ["too dark", "right", "too light"]
        side = np.where(seen > self.right_within, 2, np.where(seen < -self.right_within, 0, 1))
        slipped = rng.random(surplus.size) < self.slips
        return tuple(words[s] for s in np.where(slipped, rng.integers(0, 3, surplus.size), side))


@dataclass(frozen=True, eq=False)
class JudgedFilm:
    """A film, its true index, and frames of it.

    Attributes:
        index: the true index [unitless].
        alone, read, both: the frames as a strip that was judged, read, or both.
    """

    index: float
    alone: Strip
    read: Strip
    both: Strip


def judged_film(seed: int, off: float, stops: Sequence[float], eye: SimulatedEye | None = None) -> JudgedFilm:
    """Return frames of a random film, about a guess of its index that is wrong by up to ``off`` stops.

    Args:
        seed: of film, guess, shutter and eye.
        off: greatest error of the guess [stops].
        stops: exposure of the frames against the guess [stops].
        eye: who judges; None for an eye of random taste.
    """
    rng = np.random.default_rng((seed, 17))
    family = ORDER[seed % len(ORDER)]
    rise = {**FAMILIES, **UNSEEN, **FRESH}[family]
    film = Film("reversal", rng.uniform(0.06, 0.40), rng.uniform(2.3, 3.2), rise(rng, 0.0), 0.0)
    index = truth_of(film.density, CONSTANT).index
    guess = nominal_speed(index * 2.0 ** rng.uniform(-off, off))
    at = np.array(stops, dtype=np.float64)
    given = at + SHUTTER * rng.standard_normal(at.size)
    surplus = given + math.log2(index / float(exact_ei(guess)))
    judge = SimulatedEye(TASTE * rng.standard_normal()) if eye is None else eye
    log_h = math.log10(0.6516 * CONSTANT / float(exact_ei(guess))) + STOP * given
    density = np.round(film.density(log_h) + NOISE * rng.standard_normal(at.size), 2)
    ends = [float(film.density(ENDS[i : i + 1])[0] + NOISE * rng.standard_normal()) for i in (0, 1)]
    judgements = judge.judge(surplus, rng)

    def strip(*, read: bool, judged: bool) -> Strip:
        return Strip.from_readings(
            {"visual": density} if read else {},
            kind="reversal",
            exposure=Frames(guess, uncertainty_stops=0.0, frame_uncertainty_stops=SHUTTER),
            positions=at,
            title=f"{family} {seed}",
            patches=Patches({}, {"visual": ends[0]}, {"visual": ends[1]}) if read else None,
            repeatability=NOISE,
            meter_constant=CONSTANT,
            judgements=judgements if judged else (),
        )

    return JudgedFilm(index, *(strip(read=r, judged=j) for r, j in ((False, True), (True, False), (True, True))))


@dataclass
class Tally:
    """Counts over many films.

    Attributes:
        held: whether each interval held the truth.
        half: half the width of each interval [stops].
        bounds: whether each bound held the truth.
        told: whether a contradiction was told.
    """

    held: list[bool]
    half: list[float]
    bounds: list[bool]
    told: list[bool]

    def add(self, found: Analysis, true: float) -> None:
        """Count one film."""
        index = found.working_ei.recommended
        self.told.append(any(w.code in ("eye-contradicts", "judgements-contradict") for w in found.warnings))
        if index.value is None:
            self.bounds.append(_bound_holds(index, true))
            return
        assert index.low is not None
        assert index.high is not None
        self.held.append(index.low <= true <= index.high)
        self.half.append(math.log2(index.high / index.low) / 2.0)

    def row(self, name: str) -> str:
        """Return the counts as a line."""
        half = f"{np.median(self.half):.2f} ({np.quantile(self.half, 0.1):.2f} to {np.quantile(self.half, 0.9):.2f})"
        bounds = f", {len(self.bounds)} bounds ({100 * np.mean(self.bounds):.0f} % hold)" if self.bounds else ""
        return (
            f"{name:<12} {len(self.held):>4} intervals, {100 * np.mean(self.held):5.1f} % hold, half width {half} stops"
            f"{bounds}, contradictions told {100 * np.mean(self.told):.1f} %"
        )


def _bound_holds(index: Quantity, true: float) -> bool:
    if index.bound is None:
        return True
    return true < index.bound[1] if index.bound[0] == "<" else true > index.bound[1]


def tallies(films: Sequence[JudgedFilm], ways: Sequence[str] = ("alone", "read", "both")) -> dict[str, Tally]:
    """Return the counts of many films by way: alone, read, both."""
    found: dict[str, Tally] = defaultdict(lambda: Tally([], [], [], []))
    for film in films:
        for way in ways:
            found[way].add(analyse_for_index(getattr(film, way), Choices(draws=500, most_draws=500)), film.index)
    return dict(found)


def report(count: int) -> Iterator[str]:
    """Yield the lines of the report."""
    whole = tuple(range(-4, 5))
    yield "whole stops, nine frames, guess within 2 stops:"
    found = tallies([judged_film(seed, 2.0, whole) for seed in range(count)])
    yield from (tally.row(way) for way, tally in found.items())
    yield "the judgements alone, other brackets and other eyes:"
    for name, off, stops, eye in (
        ("5 stops off", 5.0, whole, None),
        ("thirds", 0.5, tuple(np.arange(-4, 5) / 3.0), None),
        ("slips", 2.0, whole, {"slips": 0.05}),
        ("narrow right", 2.0, whole, {"right_within": 0.25}),
        ("wide right", 2.0, whole, {"right_within": 0.9}),
        ("worse eye", 2.0, whole, {"each": 0.7}),
    ):
        rng = np.random.default_rng(23)
        eyes = [None if eye is None else SimulatedEye(TASTE * rng.standard_normal(), **eye) for _ in range(count)]
        films = [judged_film(seed, off, stops, one) for seed, one in enumerate(eyes, start=count)]
        yield tallies(films, ["alone"])["alone"].row(name)
    yield "an eye that is off by a stop and a half, beside densities:"
    films = [judged_film(seed, 2.0, whole, SimulatedEye(1.5 * (-1) ** seed)) for seed in range(2 * count, 3 * count)]
    yield tallies(films, ["both"])["both"].row("both")


def main() -> None:
    """Print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=400)
    for line in report(parser.parse_args().films):
        print(line, flush=True)


if __name__ == "__main__":
    main()
