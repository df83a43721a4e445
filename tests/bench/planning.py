"""Do first strips hold the curve, and as often as they say? `python -m tests.bench.planning [FILMS]` counts.

Films come from three groups of families made by other code (`shapes`, `fresh`, `unseen`); their ends and their speeds
are computed here from the definitions alone. The guess of the speed is wrong by up to some stops, evenly; the exposure
misses by its own standard uncertainty. The population that the plan assumes knows none of these families.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.analysis.analyse import analyse
from curves.sensitometry.core.choices import Choices
from curves.sensitometry.core.units import STOP, FloatArray, Kind
from curves.sensitometry.planning.camera import dial
from curves.sensitometry.planning.first_strip import WANTED
from curves.sensitometry.planning.light import Illuminance
from curves.sensitometry.planning.population import FilmGuess, Maker
from curves.sensitometry.planning.ways import FirstPlan, by_camera, by_contact
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Strip
from curves.sensitometry.strip.wedge import Wedge
from tests.bench.fresh import FRESH
from tests.bench.index_truth import shadow_point
from tests.bench.shapes import FAMILIES, Film
from tests.bench.unseen import UNSEEN

MAKERS: dict[Kind, Maker] = {"reversal": "transparency", "negative": "black-and-white negative"}
GROUPS = {"shapes": FAMILIES, "fresh": FRESH, "unseen": UNSEEN}
GRID = np.arange(-4.5, 4.5, 0.001)
LIGHT_STOPS = 0.15
"""Standard uncertainty of the light that the plan is told [stops]."""

ERROR_STOPS = {"contact": math.hypot(LIGHT_STOPS, 0.02 / STOP), "camera": 1.0 / 3.0 / 3.0**0.5}
"""Standard deviation of the exposure that the strip gets: light, time and wedge; or metering [stops]."""


@dataclass(frozen=True)
class KnownFilm:
    """A film whose ends and speed are known.

    Attributes:
        density: of log H, for a film of speed 1 [density].
        least, most: log H of the ends that a strip has to hold, for a film of speed 1 [log10 lux-seconds].
    """

    density: Callable[[FloatArray], FloatArray]
    least: float
    most: float


@dataclass(frozen=True)
class Count:
    """Many first strips, counted.

    Attributes:
        films: how many.
        held: share whose strips hold both ends [unitless].
        stated: mean of the chances stated [unitless].
        strips: mean number of strips [unitless].
        alone: share of which one strip holds both ends by itself [unitless].
        by_group: share held of each group of families [unitless].
    """

    films: int
    held: float
    stated: float
    strips: float
    alone: float
    by_group: dict[str, float]

    @property
    def counting_error(self) -> float:
        """Standard deviation of `held` by counting, if the stated chances are right [unitless]."""
        return math.sqrt(max(self.stated * (1.0 - self.stated), 1e-4) / self.films)


def film(kind: Kind, number: int) -> tuple[str, KnownFilm]:
    """Return a group of families, and one film of the group; films take turns through groups and families.

    Args:
        kind: of the film.
        number: of the film; it is also its seed.
    """
    rng = np.random.default_rng((number, 17))
    group = list(GROUPS)[number % len(GROUPS)]
    families = list(GROUPS[group].values())
    make = families[number // len(GROUPS) % len(families)]
    dmin, height = rng.uniform(0.06, 0.45), rng.uniform(2.3, 3.2) if kind == "reversal" else rng.uniform(1.4, 2.6)
    curve = Film(kind, dmin, height, make(rng, 0.0), 0.0)
    density = curve.density(GRID)
    if kind == "negative":
        point = _at(density, dmin + 0.10)
        # Speed 1 has its speed point at 0.8 lux-seconds (ISO 6).
        shift = math.log10(0.8) - point
        least, most = _at(density, dmin + 0.04), point + 1.50
        return group, KnownFilm(lambda x: curve.density(x - shift), least + shift, most + shift)
    t = _at(density, dmin + 0.20)
    s, _ = shadow_point(GRID, density, dmin, t)
    # Speed 1 has the mean of T and S at 10 lux-seconds (ISO 2240).
    shift = 1.0 - 0.5 * (t + s)
    least, most = _at(density, dmin + 0.95 * height), _at(density, dmin + 0.04)
    return group, KnownFilm(lambda x: curve.density(x - shift), least + shift, most + shift)


def _at(density: FloatArray, level: float) -> float:
    """Return the log H at which a monotone curve reaches a density [log10]."""
    sign = 1.0 if density[-1] > density[0] else -1.0
    return float(np.interp(sign * level, sign * density, GRID))


def plan_of(kind: Kind, box: float, off: float, wedge: Wedge, way: str, wanted: float) -> FirstPlan:
    """Return the plan of a first strip as the command makes it."""
    guess = FilmGuess(kind, MAKERS[kind], box, off, colour=False)
    settings = dial("whole", (2.8, 16.0), (1 / 1000.0, 1.0))
    if way == "camera":
        return by_camera(guess, wedge, wanted, 0, None, 12.5, None, settings)
    return by_contact(guess, wedge, wanted, 0, Illuminance(2000.0, LIGHT_STOPS), settings)


def count(kind: Kind, films: int, off: float, wedge: Wedge, way: str = "contact", wanted: float = WANTED) -> Count:
    """Return how many first strips hold the curve, and how many were to.

    Args:
        kind: of the films.
        films: how many.
        off: how far each guess of a speed may be wrong, and is, evenly [stops].
        wedge: through which every strip is exposed.
        way: "contact" or "camera".
        wanted: the chance that the plans aim at [unitless].
    """
    rng = np.random.default_rng((films, 7))
    held: dict[str, list[bool]] = {group: [] for group in GROUPS}
    alone, stated, strips = [], [], []
    for number in range(films):
        group, known = film(kind, number)
        speed = 10.0 ** rng.uniform(0.9, 2.9)
        plan = plan_of(kind, speed * 2.0 ** rng.uniform(-off, off), off, wedge, way, wanted)
        error = ERROR_STOPS[way] * rng.standard_normal() * STOP
        least, most = (end - math.log10(speed) - error for end in (known.least, known.most))
        ends = [s.ends for s in plan.strips]
        held[group].append(min(e[0] for e in ends) <= least and most <= max(e[1] for e in ends))
        alone.append(any(e[0] <= least and most <= e[1] for e in ends))
        stated.append(plan.chance.value or 0.0)
        strips.append(len(ends))
    share = float(np.mean([each for group in held.values() for each in group]))
    by_group = {group: float(np.mean(each)) for group, each in held.items()}
    return Count(films, share, float(np.mean(stated)), float(np.mean(strips)), float(np.mean(alone)), by_group)


def answers(kind: Kind, films: int, off: float, wedge: Wedge) -> Counter[tuple[bool, bool, bool, bool]]:
    """Return how many single first strips, read without any patch, hold the curve and have an index, Dmin and Dmax.

    Args:
        kind: of the films.
        films: how many.
        off: how far each guess of a speed may be wrong, and is, evenly [stops].
        wedge: through which every strip is exposed.
    """
    rng = np.random.default_rng((films, 11))
    found: Counter[tuple[bool, bool, bool, bool]] = Counter()
    for number in range(films):
        _, known = film(kind, number)
        top = plan_of(kind, 2.0 ** rng.uniform(-off, off), off, wedge, "contact", 0.05).strips[0].ends[1]
        error = ERROR_STOPS["contact"] * rng.standard_normal() * STOP
        log_h = top + float(wedge.density.min()) - wedge.density
        read = known.density(log_h + error) + rng.normal(0.0, 0.01, wedge.steps)
        exposure = Contact(10.0 ** (top + float(wedge.density.min())), 1.0)
        strip = Strip.from_readings(np.round(read, 2), kind=kind, exposure=exposure, wedge=wedge)
        analysis = analyse(strip, Choices(draws=0, most_draws=0))
        measures = analysis.channels["visual"].measures
        held = log_h[-1] <= known.least - error and known.most - error <= log_h[0]
        index = analysis.working_ei.recommended.value is not None
        found[held, index, *(measures[key].value is not None for key in ("dmin", "dmax"))] += 1
    return found


def report(films: int) -> Iterator[str]:
    """Give a line for each wedge, way, kind and error of the guess."""
    yield "single strips without patches, the guess within 1 stop: (held, index, Dmin, Dmax have a value): films"
    yield from (
        f"  {answer}: {many}" for answer, many in answers("reversal", films, 1.0, Wedge.nominal(21, 0.15)).items()
    )
    groups = "".join(f"{group:>8}" for group in GROUPS)
    yield f"{'':<38}{'held':>7}{'stated':>8}{'+-':>7}{'strips':>8}{'alone':>7}   held by group:{groups}"
    for way, wedge in (("contact", Wedge.nominal(21, 0.15)), ("camera", Wedge.nominal(21, 0.15)),
                       ("contact", Wedge.nominal(11, 0.15))):  # fmt: skip
        for kind in MAKERS:
            for off in (1.0, 2.0, 5.0):
                c = count(kind, films, off, wedge, way)
                name = f"{kind}, {off:g} stops, {wedge.steps} steps, {way}"
                by_group = "".join(f"{share:>8.2f}" for share in c.by_group.values())
                yield (
                    f"{name:<38}{c.held:>7.3f}{c.stated:>8.3f}{c.counting_error:>7.3f}{c.strips:>8.2f}{c.alone:>7.2f}"
                    f"{'':>17}{by_group}"
                )


if __name__ == "__main__":
    for line in report(int(sys.argv[1]) if len(sys.argv) > 1 else 300):
        print(line, flush=True)
