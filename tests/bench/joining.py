"""Does a joined strip hold the truth, and is a wrong exposure told? ``python -m tests.bench.joining``.

Films of families that no constant was chosen by, each exposed twice: once so short of light that the strip loses an end
of the curve, once with so much that it loses the other. Every error that the records state is drawn; one wedge and one
reader serve both strips, a light of its own each. ``--off 1`` gives one strip a stop that its record does not tell.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter

import numpy as np

from curves import Choices, analyse
from curves.errors import StripError
from curves.sensitometry.combining.joining import JoinedStrip, join
from curves.sensitometry.core.units import STOP, Kind
from curves.sensitometry.strip.exposure import Contact
from curves.sensitometry.strip.strip import Patches, Strip
from tests.bench.shapes import Film
from tests.bench.together import FAMILIES, LIGHT, NOISE, SECONDS, SPAN, STEPS, Room, true_index

APART = (1.0, 1.5)
"""Log H between the two strips [log10]."""

LUX = 2000.0


def two_strips(seed: int, *, off: float = 0.0, kind: Kind = "reversal") -> tuple[list[Strip], Film, float]:
    """Return two strips of a film that each lose an end, the film, and its true index for the meter in use.

    Args:
        seed: of film and errors.
        off: exposure that the second strip got beyond what its record tells [stops].
        kind: of film.
    """
    rng = np.random.default_rng((seed, 77))
    usual = math.log10(LUX * SECONDS) - 0.05 - SPAN / 2
    middle = usual + rng.uniform(-0.15, 0.15)
    rise = FAMILIES[sorted(FAMILIES)[seed % len(FAMILIES)]](rng, usual)
    film = Film(kind, rng.uniform(0.06, 0.40), rng.uniform(2.3, 3.2), rise, middle)
    constant = math.exp(rng.uniform(math.log(12.5), math.log(14.0)))
    meter = 10.0 ** (0.15 * STOP * rng.standard_normal())
    room = Room.drawn(0, rng)
    apart = rng.uniform(*APART)
    strips = []
    for place, shift in enumerate((-0.5 * apart, 0.5 * apart)):
        lux = LUX * 10.0**shift
        unseen = (LIGHT * rng.standard_normal() + (off if place else 0.0)) * STOP
        log_h = math.log10(lux * SECONDS) + unseen - room.true
        exposure = Contact(lux, SECONDS, LIGHT, 0.15, 0.0, "daylight 5500 K")
        strips.append(
            Strip(
                f"strip {place + 1}",
                kind,
                "visual",
                exposure,
                np.arange(1.0, STEPS + 1),
                {"visual": room.read(film.density(log_h), rng)},
                room.wedge,
                patches=Patches(),
                repeatability=NOISE,
                reader="reader",
                reader_zero=0.01,
                reader_scale=0.005,
                film="Heron 80",
            )
        )
    return strips, film, true_index(film, constant) * meter


def joined(seed: int, *, off: float = 0.0, kind: Kind = "reversal") -> tuple[JoinedStrip, Film, float]:
    """Return two strips as one, the film, and its true index."""
    strips, film, index = two_strips(seed, off=off, kind=kind)
    return join(*strips, choices=Choices(seed=seed, draws=500, most_draws=500)), film, index


def count(films: int, *, off: float = 0.0, kind: Kind = "reversal", first: int = 1) -> Counter[str]:
    """Return how many numbers of joined strips held the truth, of how many, and how often a contradiction was told."""
    found = Counter[str]()
    for seed in range(first, first + films):
        try:
            one, film, index = joined(seed, off=off, kind=kind)
            analysis = analyse(one.strip, Choices(seed=seed, draws=500, most_draws=500))
        except StripError:
            found["refused"] += 1
            continue
        found["of"] += 1
        found["told"] += any(each.contradicts for each in one.overlaps)
        found["bent"] += any(each.bends for each in one.overlaps)
        x = np.arange(-9.0, 7.0, 0.001)
        d = film.density(x)
        true = {"dmin": float(d.min()), "dmax": float(d.max()), "index": index}
        numbers = {"index": analysis.working_ei.recommended}
        (channel,) = analysis.channels.values()
        numbers |= {name: channel.measures[name] for name in ("dmin", "dmax")}
        for name, quantity in numbers.items():
            low, high = quantity.known_ends
            found[f"{name} known"] += quantity.value is not None
            found[f"{name} held"] += quantity.value is not None and low <= true[name] <= high
    return found


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=200)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--off", type=float, default=0.0)
    parser.add_argument("--kind", choices=("reversal", "negative"), default="reversal")
    wanted = parser.parse_args()
    found = count(wanted.films, off=wanted.off, kind=wanted.kind, first=wanted.first)
    of = found["of"]
    print(f"{of} films, {found['refused']} refused: a contradiction is told in {100.0 * found['told'] / of:.1f} %,")
    print(f"  a difference of shape in {100.0 * found['bent'] / of:.1f} %")
    for name in ("index", "dmin", "dmax"):
        known = found[f"{name} known"]
        print(f"  {name:6} known {known}, held {100.0 * found[f'{name} held'] / max(known, 1):.1f} %", flush=True)


if __name__ == "__main__":
    main()
