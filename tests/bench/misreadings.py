"""How often are strips that were entered wrongly told, and clean ones left in peace?

``python -m tests.bench.misreadings --strips 400 --clean 2000``; ``--others`` draws from families of curves by which no
constant was chosen. Strips of `tests.bench.drawn_strips` are entered wrongly in every way a person does. A mistake
counts where it moves the index by a tenth of a stop or more. How clearly it shows is its size in scatters of a reading,
all channels together: what lies in the scatter, or where the strip is level, cannot be seen by anybody. Of those told,
the share is counted whose message names the mend that is the true one.
"""

from __future__ import annotations

import argparse
import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curves import Choices, analyse
from curves.errors import CurvesError
from curves.sensitometry.checks.suspicion import suspicions
from curves.sensitometry.core.units import FloatArray, sign_of, visual_density
from curves.sensitometry.uncertainty.results import Notice
from tests.bench.drawn_strips import CHANNELS, SHAPES, SPAN, Case, Shapes, bracket, draw
from tests.bench.fresh import FRESH
from tests.bench.unseen import UNSEEN

OTHERS: Shapes = {**FRESH, **UNSEEN}
"""Families of whose slips no constant of the search was chosen; clean strips of theirs set what must speak for one."""

MOVES = 0.10
"""Change of the index from which a mistake counts [stops]."""

CLEAR = 8.0
"""Size of a mistake, in scatters of a reading, that a person sees on a drawn curve [unitless]."""

SOLARISED = 0.05
"""How far the most exposed step stands on the wrong side of the least (or greatest) density [density]."""


@dataclass(frozen=True, eq=False)
class Entered:
    """Readings as entered, (c, steps), the size of what is wrong, in scatters of a reading, and words for its mend."""

    readings: FloatArray
    clear: float
    mends: tuple[str, ...]


IntArray = NDArray[np.intp]

Mistake = Callable[[np.random.Generator, Case], Entered | None]


def _rows(case: Case, one: int, other: int, channels: list[int]) -> Entered:
    readings = case.read_with(case.exact)
    readings[np.ix_(channels, [one, other])] = readings[np.ix_(channels, [other, one])]
    where = "" if len(channels) == len(case.exact) else f" in {CHANNELS[len(case.exact)][channels[0]]}"
    mend = f"Exchange the readings of steps {one + 1} and {other + 1}{where}, or"
    return Entered(readings, _size(case, case.exact[channels, one] - case.exact[channels, other]), (mend,))


def _size(case: Case, difference: FloatArray) -> float:
    return float(np.sqrt((difference**2).sum()) / case.noise)


def neighbours(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two neighbouring rows."""
    row = int(rng.integers(case.steps - 1))
    return _rows(case, row, row + 1, list(range(len(case.exact))))


def neighbours_in_one(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two neighbouring readings of one channel."""
    row = int(rng.integers(case.steps - 1))
    return _rows(case, row, row + 1, [int(rng.integers(len(case.exact)))])


def distant(rng: np.random.Generator, case: Case) -> Entered:
    """Exchange two rows with others between them."""
    row = int(rng.integers(case.steps - 2))
    return _rows(case, row, int(rng.integers(row + 2, case.steps)), list(range(len(case.exact))))


def moved(rng: np.random.Generator, case: Case) -> Entered:
    """Move a row past two others or more: a block is shifted by a row."""
    one, other = sorted(rng.choice(case.steps - 2, 2, replace=False) + np.array([0, 2]))
    readings = case.read_with(case.exact)
    by = int(rng.choice([-1, 1]))
    readings[:, one : other + 1] = np.roll(readings[:, one : other + 1], by, axis=1)
    exact = case.exact[:, one : other + 1]
    stands, belongs = (one, other) if by == 1 else (other, one)
    mends = (
        f"what stands at step {stands + 1} belongs at step {belongs + 1}",
        *([f"Exchange the readings of steps {one + 1} and {other + 1}, or"] if other == one + 1 else []),
    )
    return Entered(readings, _size(case, (np.roll(exact, by, axis=1) - exact)[:, 0 if by == 1 else -1]), mends)


def slipped(rng: np.random.Generator, case: Case) -> Entered:
    """Read a patch twice and skip another, or the other way round: what lies between is shifted by a row."""
    one, other = sorted(rng.choice(case.steps - 2, 2, replace=False) + np.array([0, 2]))
    readings = case.read_with(case.exact)
    if rng.random() < 0.5:
        readings[:, one:other] = readings[:, one + 1 : other + 1]
        alike, beside = other, one
    else:
        readings[:, one + 1 : other + 1] = readings[:, one:other]
        alike, beside = one + 1, other + 1
    mends = f"step {alike} and step {alike + 1} read alike", f"between steps {beside} and {beside + 1}:"
    ends = [case.exact[:, row + 1] - case.exact[:, row] for row in (one, other - 1)]
    return Entered(readings, max(_size(case, end) for end in ends), mends)


def channels_from_a_step(rng: np.random.Generator, case: Case) -> Entered | None:
    """Exchange two channels from a step on."""
    if len(case.exact) < 2:
        return None
    one, other = rng.choice(len(case.exact), 2, replace=False)
    row = int(rng.integers(1, case.steps))
    readings = case.read_with(case.exact)
    readings[[one, other], row:] = readings[[other, one], row:]
    border = (case.exact[one] - case.exact[other])[row - 1 : row + 1]
    names = " and ".join(CHANNELS[len(case.exact)][channel] for channel in sorted((one, other)))
    parts = ((1, row), (row + 1, case.steps))
    mends = tuple(f"{names} look swapped from step {first} to step {last}" for first, last in parts)
    return Entered(readings, float(np.sqrt(2.0) * np.abs(border).min() / case.noise), mends)


def skipped(rng: np.random.Generator, case: Case, rows: IntArray | None = None) -> Entered:
    """Leave out one of ``rows``: all after it is one row too early, and film beyond the wedge is read at the end."""
    row = int(rng.choice(np.arange(1, case.steps) if rows is None else rows))
    readings = np.round(np.delete(case.read, row, axis=1), case.decimals)
    mend = f"between steps {row} and {row + 1}:"
    return Entered(readings, _size(case, case.exact[:, row] - case.exact[:, row - 1]), (mend,))


def skipped_where_steep(rng: np.random.Generator, case: Case) -> Entered | None:
    """Leave out a step on the steep part: density moves as fast on both sides of it, nearly, as anywhere."""
    move = np.abs(np.diff(case.exact, axis=1)).sum(axis=0)
    steep = np.minimum(move[:-1], move[1:]) > 0.6 * move.max()
    rows = np.flatnonzero(steep[: case.steps - 1]) + 1
    return skipped(rng, case, rows) if rows.size else None


def solarised(rng: np.random.Generator, case: Case) -> Entered:
    """Let the most exposed end of the film turn back by 0.05; how clearly, as the clearest of two groups' means."""
    width = rng.uniform(0.3, 0.75)
    along = np.clip(1.0 - np.arange(case.steps + 1) * SPAN / (case.steps - 1) / width, 0.0, 1.0)
    rising = sign_of(case.kind) * case.exact
    for layer in rising:
        low, high = 0.0, 2.0
        for _ in range(40):
            size = 0.5 * (low + high)
            turned = layer - size * along
            low, high = (size, high) if turned.max() - turned[0] < SOLARISED else (low, size)
        layer -= high * along
    clear = 0.0
    for middle, end in itertools.combinations(range(1, min(case.steps, 12)), 2):
        back = rising[:, middle:end].mean(axis=1) - rising[:, :middle].mean(axis=1)
        clear = max(clear, back.sum() / math.sqrt(len(back) * (1.0 / middle + 1.0 / (end - middle))) / case.noise)
    return Entered(case.read_with(sign_of(case.kind) * rising), clear, ("solarises",))


MISTAKES: Mapping[str, Mistake] = {
    "neighbouring rows exchanged": neighbours,
    "the same in one channel": neighbours_in_one,
    "distant rows exchanged": distant,
    "a row moved, a block shifted": moved,
    "read twice and skipped": slipped,
    "channels exchanged from a step on": channels_from_a_step,
    "a step skipped": skipped,
    "the same on the steep part": skipped_where_steep,
    "solarised end, 0.05": solarised,
}
CLEARLY = {"solarised end, 0.05": 4.5}
"""What counts as clear, if not `CLEAR`: a difference of means has no row of its own [unitless]."""


def index(case: Case, readings: FloatArray) -> float | None:
    """Return the index to set by the channel that the eye sees, in stops; None where there is only a bound."""
    eye = readings[-1] if len(readings) != 3 else readings[1]
    if len(readings) == 3 and case.kind == "reversal":
        eye = visual_density(*readings)
    try:
        ei = analyse(case.strip(eye[None, :]), Choices(draws=0)).working_ei
    except CurvesError:
        return None
    return None if ei.recommended.value is None else math.log2(ei.recommended.value)


def moves(case: Case, entered: Entered) -> bool:
    """Return whether a mistake moves the index by a tenth of a stop or more."""
    right, wrong = index(case, case.read_with(case.exact)), index(case, entered.readings)
    return right is not None and wrong is not None and abs(wrong - right) >= MOVES


def told(case: Case, readings: FloatArray) -> tuple[Notice, ...]:
    """Return what is told of a strip before anything is fitted."""
    return suspicions(case.strip(readings))


@dataclass(frozen=True)
class Trial:
    """One mistake that moves the index: what was entered on which strip, and what was told of it."""

    entered: Entered
    told: tuple[Notice, ...]
    case: Case

    @property
    def mended(self) -> bool:
        """Whether what was told names the true mend."""
        return any(mend in notice.message for mend in self.entered.mends for notice in self.told)


def trials(name: str, count: int, shapes: Shapes = SHAPES) -> Iterator[Trial]:
    """Yield what is told of mistakes of one kind that move the index, out of ``count`` made."""
    for seed in range(count):
        rng = np.random.default_rng((sorted(MISTAKES).index(name), seed))
        case = draw(rng, shapes=shapes)
        entered = MISTAKES[name](rng, case)
        if entered is not None and moves(case, entered):
            yield Trial(entered, told(case, entered.readings), case)


def clean(count: int, shapes: Shapes = SHAPES) -> dict[str, Counter[str]]:
    """Return how many clean strips are suspected, by what was asked of them: all, by noise, by wedge, brackets."""
    found: dict[str, Counter[str]] = {}

    def note(group: str, notices: tuple[Notice, ...]) -> None:
        codes = [notice.code for notice in notices]
        found.setdefault(group, Counter()).update(["strips", *set(codes), *(["suspected"] if codes else [])])

    for seed in range(count):
        case = draw(np.random.default_rng((99, seed)), shapes=shapes)
        notices = told(case, case.read_with(case.exact))
        for group in (
            "all",
            case.family,
            f"noise {case.noise:g}",
            f"wedge {case.wedge:g}",
            f"{case.steps} steps",
            f"{len(case.exact)} channels",
            "read once" if case.half is None else "read twice",
        ):
            note(group, notices)
    for seed in range(count // 2):
        case = draw(np.random.default_rng((97, seed)), shapes=shapes, steepness=1.4)
        note("long flat ends", told(case, case.read_with(case.exact)))
        case = draw(np.random.default_rng((96, seed)), shapes=shapes, shift=(-1.0, 1.0)[seed % 2])
        note("half a curve", told(case, case.read_with(case.exact)))
    for stops, seed in itertools.product((1.0, 0.5, 1.0 / 3.0), range(count // 10)):
        note(f"bracket of {stops:.2f} stops", suspicions(bracket(seed, stops)))
    return found


def report(strips: int, count: int, shapes: Shapes) -> Iterator[str]:
    """Yield the tables: what is told of each mistake, by clarity and by scatter, and false alarms."""
    yield f"{strips} strips a mistake; told, of those whose index moves by {MOVES:g} stop or more, with standard errors"
    yield f"{'':36}{'all':>15}{'clear':>15}{'true mend':>15}   by scatter 0.005 0.010 0.015 0.020 0.030"
    for name in MISTAKES if strips else ():
        found = list(trials(name, strips, shapes))
        plain = [bool(t.told) for t in found if t.entered.clear >= CLEARLY.get(name, CLEAR)]
        mended = [t.mended for t in found if t.told]
        shares = [_share([bool(t.told) for t in found]), _share(plain), _share(mended)]
        for noise in (0.005, 0.010, 0.015, 0.020, 0.030):
            shares.append(_share([bool(t.told) for t in found if t.case.noise == noise]))
        yield f"{name:36}{''.join(shares)}"
    yield ""
    yield "clean strips suspected, per cent"
    for group, codes in clean(count, shapes).items():
        of = codes["strips"]
        each = ", ".join(f"{c} {n}" for c, n in codes.most_common() if c not in ("strips", "suspected"))
        yield f"  {group:24}{100 * codes['suspected'] / of:6.2f} of {of:5d}   {each}"


def _share(found: list[bool]) -> str:
    if not found:
        return f"{'-':>15}"
    share = float(np.mean(found))
    error = math.sqrt(max(share * (1.0 - share), 0.25 / len(found)) / len(found))
    return f"{100 * share:5.0f} ±{100 * error:2.0f} /{len(found):4d}"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--strips", type=int, default=400)
    parser.add_argument("--clean", type=int, default=2000)
    parser.add_argument("--others", action="store_true", help="families of curves by which no constant was chosen")
    wanted = parser.parse_args()
    for line in report(wanted.strips, wanted.clean, OTHERS if wanted.others else SHAPES):
        print(line, flush=True)


if __name__ == "__main__":
    main()
