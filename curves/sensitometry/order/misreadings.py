"""Readings that stand in the wrong place: two rows exchanged, a row moved, channels exchanged, a step left out.

Each way of entering a strip wrongly has a mend, and the mend makes the readings likelier as a film's curve and scatter.
A mend counts if it makes them likelier by more than the number of mends of its kind: that number is what chance has to
play with. All channels speak together, with one scatter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from curves.sensitometry.curve.spline import NoisePrior
from curves.sensitometry.film_shape.evidence import Tables
from curves.sensitometry.order.candidates import candidates
from curves.sensitometry.order.plausibility import FEWEST
from curves.sensitometry.order.run import Mend, Misreading, Run

_PRICE: Mapping[Mend, float] = {
    "exchange rows": 4.4,
    "move row": 4.4,
    "exchange channels": 3.0,
    "insert step": 5.8,
    "drop step": 4.8,
    "displace rows": 6.0,
    "leave out": 4.5,
}
"""Gain in log likelihood from which a mend is reported, by its kind; the log of the number of mends of its kind is
taken off. Own choice, on strips apart from those of `tests.bench.misreadings` [nats]."""

_MOST_MENDS = 4
"""Most mends of one strip: with more, the strip is to be read again: own choice."""

_STEPS, _SETTLING = 3, 10
"""Steps to the likeliest curve of a table, for all that are tried and for one that may be reported."""

_SILENT = 6.0
"""How much likelier a reading must be wild than in the wrong place to be taken as that: own choice [nats]."""

_NEAR = 4.0
"""How near to what is reported a mend must be for its curves to be settled: own choice [nats]."""


def misreadings(run: Run) -> tuple[list[Misreading], Run]:
    """Return the plain misreadings of a run, clearest first, and the run with all of them mended.

    Readings that belong nowhere are mended and not returned: the fit finds and names them.
    """
    found: list[Misreading] = []
    while len(found) < _MOST_MENDS and run.size >= FEWEST:
        plainest = _plainest(run)
        if plainest is None:
            break
        found.append(replace(plainest, first=int(run.rows[plainest.first]), last=int(run.rows[plainest.last])))
        run = run.mended(plainest)
    return [m for m in found if m.mend != "leave out"], run


def _plainest(run: Run) -> Misreading | None:
    """Return the mend that makes a run likelier by most, if by enough."""
    tried = candidates(run)
    if any(m.mend != "leave out" for m in tried):
        tried = [m for m in _judged(run, tried, _STEPS) if m.score > _PRICE[m.mend] - _NEAR]
        tried = _judged(run, tried, _SETTLING) if tried else []
    plain = [m for m in tried if m.score > _PRICE[m.mend]]
    return max(plain, key=_preference, default=None)


def _preference(misreading: Misreading) -> float:
    """Return by how much a misreading is plainer than it must be, less for one that names no cause [nats]."""
    silent = _SILENT if misreading.mend == "leave out" else 0.0
    return misreading.score - _PRICE[misreading.mend] - silent


def _judged(run: Run, tried: list[Misreading], steps: int) -> list[Misreading]:
    """Return mends with the scores that films' curves give them, after so many steps to the likeliest curve."""
    evidence = _tables(run, tried).evidence(steps)
    return [replace(m, score=float(e - evidence[0]) - m.chance) for m, e in zip(tried, evidence[1:], strict=True)]


def _tables(run: Run, tried: list[Misreading]) -> Tables:
    """Return the table of a run as it was read, and those after each of the mends."""
    plausibility = run.plausibility
    position = np.tile(plausibility.position, (1 + len(tried), 1))
    readings = np.tile(run.rising, (1 + len(tried), 1, 1))
    wild = np.zeros(readings.shape, dtype=np.bool_)
    patch = np.tile(np.arange(run.size), (1 + len(tried), 1))
    for mend, places, table, out, of in zip(tried, position[1:], readings[1:], wild[1:], patch[1:], strict=True):
        if mend.mend == "insert step":
            places[mend.last :] += 1.0
        elif mend.mend == "drop step":
            places[mend.last :] -= places[mend.last] - places[mend.first]
            of[mend.last] = mend.first
        elif mend.mend == "displace rows":
            places[:] = mend.displaced(places)
            of[mend.alike[1]] = mend.alike[0]
        elif mend.mend == "leave out":
            out[list(mend.channels), mend.first] = True
        else:
            table[:] = replace(run, plausibility=replace(plausibility, readings=table)).mended(mend).readings
    log_h = run.increment * (position - position.mean(axis=1, keepdims=True))
    noise = NoisePrior(plausibility.deviation, plausibility.freedom)
    return Tables(log_h, readings, wild, patch, run.exposure * run.increment, noise, run.expected_scatter)
