"""Does one index of several strips hold the truth, are contradictions told? ``python -m tests.bench.together``.

Films of families that no constant was chosen by, each exposed several times: in contact, by other lights or times, in
one room or in two (a room has a wedge and a reader), or as a bracket of frames in a camera. Every error that the
records state is drawn: once for all strips where they share it (meter in use, its constant, wedge, reader), else apart.
``--off 1`` sets one strip off by a stop that its record does not tell; ``--scatter`` sets all of them off at random.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from curves import Choices
from curves.errors import StripError
from curves.sensitometry.analysis.analyse import analyse_alone
from curves.sensitometry.combining.together import CommonIndex, together
from curves.sensitometry.core.units import STOP, FloatArray, Kind
from curves.sensitometry.strip.exposure import Contact, Exposure, Frames
from curves.sensitometry.strip.strip import Patches, Strip
from curves.sensitometry.strip.wedge import Wedge
from curves.sensitometry.uncertainty.sources import sources_of
from tests.bench.fresh import FRESH
from tests.bench.index_truth import crossing, truth_of
from tests.bench.shapes import Film
from tests.bench.unseen import UNSEEN

SECONDS, STEPS, SPAN, NOISE, OF_STEP = 0.02, 21, 3.0, 0.012, 0.01
LIGHT, METERING, FRAME = 0.10, 0.17, 0.10
"""Standard uncertainty of a light, of the metering of a bracket, and of one frame against the next [stops]."""

ENDS = np.array([-7.0, 4.0])
"""Log H of unexposed and of fully exposed film [log10 lux-seconds]."""

FAMILIES = {**UNSEEN, **FRESH}
KINDS: Mapping[str, Kind] = {"reversal": "reversal", "negative": "negative"}


@dataclass(frozen=True)
class Room:
    """A wedge and a reader, and how far each is off what the records state.

    Attributes:
        number: tells the records of one room from those of another.
        wedge: as the records have it.
        true: its true densities [density].
        zero, scale: errors of the reader [density], [unitless].
    """

    number: int
    wedge: Wedge
    true: FloatArray
    zero: float
    scale: float

    @classmethod
    def drawn(cls, number: int, rng: np.random.Generator) -> Room:
        """Return a room with errors of the stated sizes."""
        nominal = Wedge.nominal(STEPS, SPAN / (STEPS - 1), 0.05 + 0.001 * number, OF_STEP, common=0.01)
        wedge = replace(nominal, scale_uncertainty=0.005)
        whole, zero, scale, stretch = rng.standard_normal(4) * (0.01, 0.01, 0.005, 0.005)
        return cls(
            number, wedge, wedge.density * (1.0 + stretch) + whole + OF_STEP * rng.standard_normal(STEPS), zero, scale
        )

    def read(self, true: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Return readings of true densities [density]."""
        seen = true * (1.0 + self.scale) + self.zero + NOISE * rng.standard_normal(true.shape)
        return np.asarray(np.round(seen, 2))


@dataclass(frozen=True)
class Exposed:
    """One film exposed several times, and what is true of it.

    Attributes:
        strips: as their records describe them.
        index: the true index for the meter in use [unitless].
        off: the strip that is off, by its place; None without one.
    """

    strips: tuple[Strip, ...]
    index: float
    off: int | None


def exposed(seed: int, count: int, *, off: float = 0.0, scatter: float = 0.0, kind: Kind = "reversal") -> Exposed:
    """Return strips of a film.

    Args:
        seed: of film and errors.
        count: number of strips.
        off: exposure that one strip got beyond what its record tells [stops].
        scatter: standard deviation of what every strip got beyond that [stops].
        kind: of film.
    """
    rng = np.random.default_rng((seed, count))
    names = sorted(FAMILIES)
    usual = math.log10(2000.0 * SECONDS) - 0.05 - SPAN / 2
    middle = usual + rng.uniform(-0.1, 0.1)
    film = Film(
        kind, rng.uniform(0.06, 0.40), rng.uniform(2.3, 3.2), FAMILIES[names[seed % len(names)]](rng, usual), middle
    )
    constant = math.exp(rng.uniform(math.log(12.5), math.log(14.0)))
    meter = 10.0 ** (0.15 * STOP * rng.standard_normal())
    index = true_index(film, constant) * meter
    rooms = [Room.drawn(0, rng), Room.drawn(1, rng)]
    wrong = int(rng.integers(count)) if off else None
    strips = []
    for place in range(count):
        room = rooms[int(rng.integers(2))]
        unseen = (scatter * rng.standard_normal() + (off if place == wrong else 0.0)) * STOP
        if rng.random() < 0.3:
            strips.append(bracket(film, room, place, unseen, index, 0.6516 * constant * meter, rng))
        else:
            strips.append(contact(film, room, place, unseen, rng))
    return Exposed(tuple(strips), index, wrong)


def true_index(film: Film, constant: float) -> float:
    """Return the true index of a film with a meter of constant K [unitless]."""
    if film.kind == "reversal":
        return truth_of(film.density, constant).index
    x = np.arange(-9.0, 7.0, 0.0005)
    d = film.density(x)
    return float(0.8 / 10.0 ** crossing(x, -d, -(float(d.min()) + 0.10)))


def contact(film: Film, room: Room, place: int, unseen: float, rng: np.random.Generator) -> Strip:
    """Return a strip exposed in contact, by a light of its own."""
    lux = 2000.0 * 2.0 ** rng.uniform(-0.6, 0.6) + place
    log_h = math.log10(lux * SECONDS) + LIGHT * STOP * rng.standard_normal() + unseen - room.true
    exposure = Contact(lux, SECONDS, LIGHT, 0.15, 0.0, "daylight 5500 K")
    return _strip(film, room, place, exposure, np.arange(1.0, STEPS + 1), log_h, rng)


def bracket(
    film: Film, room: Room, place: int, unseen: float, index: float, k: float, rng: np.random.Generator
) -> Strip:
    """Return a grey card bracketed in half stops with the meter in use, whose H = k / EI [lux-seconds]."""
    ei = float(np.round(index * 2.0 ** rng.uniform(-0.5, 0.5), 1))
    stops = np.arange(-5.0, 5.01, 0.5)
    log_h = math.log10(k / ei) + unseen + STOP * (
        stops + METERING * rng.standard_normal() + FRAME * rng.standard_normal(stops.size)
    )  # fmt: skip
    return _strip(film, room, place, Frames(ei, METERING, None, FRAME, "daylight 5500 K"), stops, log_h, rng)


def _strip(
    film: Film, room: Room, place: int, exposure: Exposure, position: FloatArray, log_h: FloatArray,
    rng: np.random.Generator,
) -> Strip:  # fmt: skip
    """Return a strip with both of its patches read."""
    readings, ends = room.read(film.density(log_h), rng), room.read(film.density(ENDS), rng)
    patches = Patches({}, {"visual": float(ends[0])}, {"visual": float(ends[1])})
    return Strip(
        f"strip {place + 1}", KINDS[film.kind], "visual", exposure, position, {"visual": readings},
        room.wedge if isinstance(exposure, Contact) else None, patches=patches,
        repeatability=NOISE, reader=f"reader {room.number}", reader_zero=0.01, reader_scale=0.005, film="Heron 80",
    )  # fmt: skip


def common_index(one: Exposed, seed: int, draws: int = 500) -> CommonIndex:
    """Return the common index of strips."""
    choices = Choices(seed=seed, draws=draws, most_draws=draws)
    return together(*(analyse_alone(strip, sources_of(strip), choices) for strip in one.strips))


def count(
    films: int, strips: int, *, off: float = 0.0, scatter: float = 0.0, kind: Kind = "reversal", first: int = 1
) -> Counter[str]:
    """Return how many intervals held the truth, contradictions were told, and strips that were off were named."""
    found = Counter[str]()
    for seed in range(first, first + films):
        one = exposed(seed, strips, off=off, scatter=scatter, kind=kind)
        try:
            common = common_index(one, seed)
        except StripError:
            found["refused"] += 1
            continue
        low, high = common.recommended.known_ends
        part = common.taking_part
        found["of"] += 1
        found["held"] += low <= one.index <= high
        found["width"] += round(100 * math.log2(high / low))
        found["alone"] += round(100 * min(math.log2(s.index.known_ends[1] / s.index.known_ends[0]) for s in part))
        found["told"] += common.agreement is not None and common.agreement.contradicts
        found["named"] += common.odd is not None and common.odd is common.strips[one.off or 0]
    return found


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=200)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--strips", type=int, nargs="*", default=[2, 3, 5])
    parser.add_argument("--off", type=float, default=0.0)
    parser.add_argument("--scatter", type=float, default=0.0)
    parser.add_argument("--kind", choices=("reversal", "negative"), default="reversal")
    wanted = parser.parse_args()
    for strips in wanted.strips:
        found = count(
            wanted.films, strips, off=wanted.off, scatter=wanted.scatter, kind=wanted.kind, first=wanted.first
        )
        of = found["of"]
        shares = ", ".join(f"{name} {100.0 * found[name] / of:.1f} %" for name in ("held", "told", "named"))
        widths = ", ".join(f"{name} {found[name] / of / 100:.2f}" for name in ("width", "alone"))
        print(f"{strips} strips, {of} films, {found['refused']} refused: {shares}; {widths} stops", flush=True)


if __name__ == "__main__":
    main()
